"""What is known of a lot as a whole: whether its coats hold water out, alone or not, and what it falls short of."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Literal

from hilum.diagnosis.counted import FRESH, HARD, Group
from hilum.diagnosis.references import Study

Dormancy = Literal["shown", "not_found", "untested"]
Second = Literal["alone", "combined", "untested"]
# coats of so few seeds hold that they explain no failure
_FEW_HARD = 0.1
# opened seeds germinate as far as they are viable where surely no more than this stayed fresh
_FEW_FRESH = 0.15


@dataclass(frozen=True)
class Shortfall:
    """How far germination is below what the lot is said to reach, as fractions; `p` that it is not at all."""

    treatment: str
    place: tuple[str, str]
    expected: float
    germinated: float
    low: float
    high: float
    p: float


@dataclass(frozen=True)
class Lot:
    """Physical dormancy of a lot, whether another dormancy goes with it, and its shortfall.

    `waiting_at_most` of the opened seeds may wait for something else, where that was looked at.
    """

    lot: str
    physical_dormancy: Dormancy
    second: Second
    shortfall: Shortfall | None
    waiting_at_most: float | None


def sum_up(
    lot: str,
    study: Study,
    coats: Collection[str],
    dormant: Collection[tuple[str, str]],
    expected: float | None,
) -> Lot:
    """Return what is known of a lot.

    `coats` are the verdicts on its weighed seeds, `dormant` the (treatment, °C) of groups in which another dormancy
    surely held seeds back, `expected` the germination that it is said to reach.
    """
    groups = study.of_lot(lot)
    physical = _physical(groups, study, coats)
    opened = [g for g in groups if study.treatments.by_hand(g.treatment)]
    best = study.at_its_best(opened or groups)
    short = _shortfall(best, study, expected) if best and expected is not None else None
    second = _second(best if opened else None, study, dormant)
    # the limit that the page prints for these seeds beside their other shares
    waiting = study.shares.of(best, *FRESH).high if best and second == "alone" else None
    return Lot(lot, physical, second, short, waiting)


def _physical(groups: Sequence[Group], study: Study, coats: Collection[str]) -> Dormancy:
    if "physical_dormancy" in coats:
        return "shown"
    alone = study.shares.at(study.confidence)
    hard = {
        name: [alone.of(g, *HARD) for g in groups if g.assessed and is_kind(g.treatment)]
        for name, is_kind in (
            ("intact", study.treatments.intact),
            ("opened", study.treatments.by_hand),
        )
    }
    if hard["intact"] and hard["opened"]:
        least = max(share.low for share in hard["intact"])
        if least > _FEW_HARD and min(share.high for share in hard["opened"]) < least:
            return "shown"
    none_hard = any(share.high < _FEW_HARD for share in hard["intact"])
    return "not_found" if none_hard or "coat_lets_water_in" in coats else "untested"


def _second(best: Group | None, study: Study, dormant: Collection[tuple[str, str]]) -> Second:
    if best is None:
        return "untested"
    if (best.treatment, best.place[0]) in dormant:
        return "combined"
    alone = study.shares.at(study.confidence)
    fresh, germinated = alone.of(best, *FRESH), alone.of(best, "germinated")
    if best.assessed and fresh.high < _FEW_FRESH and germinated.low > fresh.high:
        return "alone"
    return "untested"


def _shortfall(group: Group, study: Study, expected: float) -> Shortfall:
    """Return the shortfall of a group; its p value is 1 − the confidence at which Wilson's interval reaches it.

    Its limits are those that the group has beside all its other shares, so that a page gives one interval, not two.
    """

    def limits(at: float) -> tuple[float, float]:
        share = study.shares.at(at).of(group, "germinated")
        return share.low, share.high

    down, up = 0.0, 1.0
    for _ in range(30):
        at = (down + up) / 2
        low, high = limits(at)
        down, up = (at, up) if not low <= expected <= high else (down, at)
    share = study.shares.of(group, "germinated")
    p = 1 - (down + up) / 2
    return Shortfall(group.treatment, group.place, expected, share.value, share.low, share.high, p)
