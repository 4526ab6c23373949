"""What is known of a lot as a whole: whether its coats hold water out, alone or not, and what it falls short of."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Literal

from hilum.diagnosis.counted import FRESH, HARD, Group
from hilum.diagnosis.done import Done
from hilum.diagnosis.references import Study
from hilum.stats.shares import Share

Dormancy = Literal["shown", "not_found", "hard", "open", "untested", "disputed"]
Second = Literal["alone", "combined", "open", "untested"]
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
    """Physical dormancy of a lot, whether another dormancy goes with it, its shortfall, and what was done with its seeds.

    This is the one verdict on the lot's coats: every page makes its sentences from it. `hard` where untreated seeds stayed hard and
    no opened ones were scored beside them, `open` where both were scored and do not settle it, `disputed` where weighed seeds and
    dishes, or two experiments, say different things of the untreated seeds. `waiting_at_most` of the opened seeds may wait for
    something else, where that was looked at.
    """

    lot: str
    physical_dormancy: Dormancy
    second: Second
    shortfall: Shortfall | None
    waiting_at_most: float | None
    done: Done


def sum_up(
    lot: str,
    study: Study,
    coats: Collection[str],
    dormant: Collection[tuple[str, str]],
    expected: float | None,
    done: Done,
) -> Lot:
    """Return what is known of a lot.

    `coats` are the verdicts on its weighed seeds, `dormant` the (treatment, °C) of groups in which another dormancy
    surely held seeds back, `expected` the germination that it is said to reach, `done` what was done with its seeds.
    """
    groups = study.of_lot(lot)
    physical = _physical(groups, study, coats)
    opened = [g for g in groups if study.treatments.by_hand(g.treatment)]
    best = study.at_its_best(opened or groups)
    short = _shortfall(best, study, expected) if best and expected is not None else None
    second = _second(best if opened else None, study, dormant)
    # the limit that the page prints for these seeds beside their other shares
    waiting = _waiting(best, study).high if best and second == "alone" else None
    return Lot(lot, physical, second, short, waiting, done)


def _physical(groups: Sequence[Group], study: Study, coats: Collection[str]) -> Dormancy:
    closed, opened = "physical_dormancy" in coats, "coat_lets_water_in" in coats
    by_dishes = _by_dishes(groups, study)
    if (closed or by_dishes in ("shown", "hard")) and (opened or by_dishes == "not_found"):
        return "disputed"
    if closed:
        return "shown"
    return "not_found" if opened else by_dishes


def _by_dishes(groups: Sequence[Group], study: Study) -> Dormancy:
    """Return what the hard seeds that were left in dishes tell: many intact ones, and surely fewer opened ones, or hardly any."""
    alone = study.shares.at(study.confidence)
    hard = {
        name: [
            (alone.of(g, *HARD).low, alone.of(g, *HARD, "unscored").high)
            for g in groups
            if g.assessed and is_kind(g.treatment)
        ]
        for name, is_kind in (
            ("intact", study.treatments.intact),
            ("opened", study.treatments.by_hand),
        )
    }
    least = max((low for low, _ in hard["intact"]), default=0.0)
    if least > _FEW_HARD and any(high < least for _, high in hard["opened"]):
        return "shown"
    # in one place coats may open that stay closed in another
    if any(high < _FEW_HARD for _, high in hard["intact"]) and least <= _FEW_HARD:
        return "not_found"
    if hard["intact"] and hard["opened"]:
        return "open"
    return "hard" if least > _FEW_HARD else "untested"


def _second(best: Group | None, study: Study, dormant: Collection[tuple[str, str]]) -> Second:
    if best is None:
        return "untested"
    if (best.treatment, best.place[0]) in dormant:
        return "combined"
    alone = study.shares.at(study.confidence)
    fresh, germinated = _waiting(best, study), alone.of(best, "germinated")
    if best.assessed and fresh.high < _FEW_FRESH and germinated.low > fresh.high:
        return "alone"
    return "open" if best.assessed else "untested"


def _waiting(group: Group, study: Study) -> Share:
    """Return the share of a group's seeds that may wait for something else: fresh ones, and those that nobody scored."""
    if group.total("unscored"):
        return study.one_by_one.shares.of(group, *FRESH, "fresh_dead", "unscored")
    return study.figure(group, "fresh", *FRESH, "fresh_dead")


def _shortfall(group: Group, study: Study, expected: float) -> Shortfall:
    """Return the shortfall of a group; its p value is 1 − the confidence at which Wilson's interval reaches it.

    Figure and limits are those that every page gives for these seeds.
    """

    def limits(at: float) -> tuple[float, float]:
        share = study.shares.at(at).of(group, "germinated")
        return share.low, share.high

    down, up = 0.0, 1.0
    for _ in range(30):
        at = (down + up) / 2
        low, high = limits(at)
        down, up = (at, up) if not low <= expected <= high else (down, at)
    share = study.germinated(group)
    p = 1 - (down + up) / 2
    return Shortfall(group.treatment, group.place, expected, share.value, share.low, share.high, p)
