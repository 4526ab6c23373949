"""Infer causes: for each, the share of seeds that it alone explains, and the share that it could explain.

Names: n seeds sown, G germinated; hard seeds H = H_alive + H_dead + H_unknown; fresh seeds F likewise; D dead or
empty on the dish. Let d be the share of the lot that was dead before any treatment (a viability test, or
hand-opened seeds). Dead seeds never germinate, so a dish holds n·d of them, seen (in D) or hidden in its hard seeds:

    hidden = d − D where nothing was done that kills; between d − D and min(H_unknown, d) where harm is possible.
    impermeable coat = H_alive + H_unknown − hidden.
    harmed = D − (d − hidden), what is dead beyond the dead that the treatment could have brought to light.
    conditions = G elsewhere − G here; other dormancy = G after a dormancy break − G here; both out of the fresh seeds.

Where d is not known, hidden lies between 0 and H_unknown, and D may be harm or not.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from hilum.diagnosis.counted import (
    DEAD,
    FRESH,
    FRESH_ALIVE,
    HARD,
    HARD_ALIVE,
    NEVER_ALIVE,
    Group,
    Shares,
)
from hilum.diagnosis.references import References
from hilum.stats.shares import ALL, NONE, UNKNOWN, Share

CAUSES = ("impermeable_coat", "nonviable", "harmed", "other_dormancy", "conditions")
_HARM = {True: ("harmed",), False: ()}
MIXED = ("other_dormancy_or_conditions", "unresolved")


@dataclass(frozen=True)
class Bounds:
    """A cause explains at least and at most this share of the seeds sown."""

    least: Share
    most: Share

    @property
    def low(self) -> float:
        """Return the lower limit."""
        return min(self.least.low, self.most.low)

    @property
    def high(self) -> float:
        """Return the upper limit."""
        return max(self.least.high, self.most.high)


@dataclass(frozen=True)
class Inferred:
    """The bounds of each cause, and of what could not be told apart; `rest` did not germinate.

    `within` holds shares of seeds of which it is only known that one of several causes explains them.
    """

    causes: dict[str, Bounds]
    rest: Share
    within: Mapping[frozenset[str], Share]


@dataclass(frozen=True)
class _Waiting:
    """Fresh seeds: surely held back by the conditions, by another dormancy, or by one of the two."""

    conditions: Share
    dormancy: Share
    either: Bounds
    fresh: Share


def infer(group: Group, known: References, shares: Shares) -> Inferred:
    """Return what explains the seeds of a group that did not germinate."""
    if group.assessed:
        return _assessed(group, known, shares)
    return _counted_only(
        shares.of(group, "germinated").rest(),
        known,
        waiting=_waiting(group, known, shares, ALL),
        opened=_after(group, shares, "by_opening"),
    )


def infer_from_weighings(known: References) -> Inferred:
    """Return what explains seeds that were weighed and never sown."""
    waiting = _Waiting(NONE, NONE, Bounds(NONE, ALL), UNKNOWN)
    return _counted_only(UNKNOWN, known, waiting=waiting, opened=NONE)


def _assessed(group: Group, known: References, shares: Shares) -> Inferred:
    def of(*fates: str) -> Share:
        return shares.of(group, *fates)

    # what nobody scored may have been anything
    unscored = of("unscored") if group.total("unscored") else NONE
    waiting = _waiting(group, known, shares, of(*FRESH, "unscored"))
    moved = _opened_by_place(group, known, shares)
    hidden, alive = _closed(group, known, shares)
    coat = Bounds(
        of(*HARD_ALIVE) + alive.least - moved,
        of(*HARD_ALIVE, "by_several", "unscored") + alive.most - moved,
    )
    doubtful = of("fresh_unknown", "unscored") - waiting.conditions.at_least(waiting.dormancy)
    dead, harmed = _dead(group, known, shares, hidden, doubtful)
    causes = {
        "impermeable_coat": coat,
        "nonviable": dead,
        "harmed": harmed,
        "other_dormancy": Bounds(waiting.dormancy, waiting.fresh - waiting.conditions),
        "conditions": Bounds(
            waiting.conditions + moved, (waiting.fresh - waiting.dormancy) + moved
        ),
    }
    within = {
        frozenset({"impermeable_coat", "nonviable"}): of(*HARD) - moved,
        frozenset({"nonviable", *_HARM[known.may_harm]}): of(*DEAD, "hard_dead"),
        frozenset({"other_dormancy", "conditions"}): of(*FRESH_ALIVE),
        frozenset({"nonviable", "other_dormancy", "conditions", *_HARM[known.may_harm]}): of(
            *FRESH
        ),
        frozenset({n for n in CAUSES if n != "harmed" or known.may_harm}): unscored,
    }
    return _with_rest(causes, waiting.either, of("germinated").rest(), within)


def _closed(group: Group, known: References, shares: Shares) -> tuple[Bounds, Bounds]:
    """Return the dead and the living inside coats that stayed closed and that nobody opened."""
    closed = shares.of(group, "hard_unknown")
    if not group.total("hard_unknown"):
        return Bounds(NONE, NONE), Bounds(NONE, NONE)
    if known.hard_alive is not None:
        dead, alive = closed * known.hard_alive.rest(), closed * known.hard_alive
        return Bounds(dead, dead), Bounds(alive, alive)
    if known.dead is None:
        return Bounds(NONE, closed), Bounds(NONE, closed)
    both = shares.of(group, *DEAD, "hard_dead", "hard_unknown")
    seen = shares.of(group, *DEAD, "hard_dead")
    seen_at_most = shares.of(group, *DEAD, "hard_dead", "fresh_unknown", "unscored")
    least = (known.dead.least - seen_at_most).at_most(closed)
    most = (known.dead.most if known.may_harm else known.dead.most - seen).at_most(closed)
    sure = closed if known.may_harm else both
    return Bounds(least, most), Bounds(
        (sure - known.dead.most).at_most(closed),
        (
            shares.of(group, *DEAD, "hard_dead", "hard_unknown", "fresh_unknown", "unscored")
            - known.dead.least
        ).at_most(closed),
    )


def _dead(
    group: Group, known: References, shares: Shares, hidden: Bounds, doubtful: Share
) -> tuple[Bounds, Bounds]:
    """Return the seeds that were dead before the treatment, and those that it killed."""
    seen, inside = shares.of(group, *DEAD), shares.of(group, "hard_dead")
    if not known.may_harm:
        both = shares.of(group, *DEAD, "hard_dead")
        return Bounds(both + hidden.least, both + doubtful + hidden.most), Bounds(NONE, NONE)
    could = shares.of(group, *(end for end in DEAD if end not in NEVER_ALIVE)) + doubtful
    if known.dead is None:
        never = shares.of(group, *NEVER_ALIVE, "hard_dead")
        nonviable = Bounds(never + hidden.least, seen + inside + doubtful + hidden.most)
        return nonviable, Bounds(NONE, could)
    # the dead of the lot are here too, whatever was done: some in closed coats, the others among those seen
    among = shares.of(group, *DEAD, "hard_dead", "hard_unknown", "fresh_unknown", "unscored")
    nonviable = Bounds(
        known.dead.least.at_most(among).at_least(inside + hidden.least),
        known.dead.most.at_most(among).at_least(inside + hidden.most),
    )
    return nonviable, Bounds(
        (seen - (known.dead.most - inside - hidden.least)).at_most(could),
        (seen + doubtful - (known.dead.least - inside - hidden.most)).at_most(could),
    )


def _waiting(group: Group, known: References, shares: Shares, fresh: Share) -> _Waiting:
    here = shares.of(group, "germinated")
    by_place, by_break = (_after(group, shares, how) for how in ("by_moving", "by_agent"))
    if known.elsewhere is not None:
        by_place = by_place.at_least(shares.of(known.elsewhere, "germinated") - here)
    if known.released is not None:
        by_break = by_break.at_least(shares.of(known.released, "germinated") - here)
    by_place, by_break = by_place.at_most(fresh), by_break.at_most(fresh)
    # a seed that a warmer place or a dormancy break would make germinate may be held back by either
    conditions, dormancy = by_place, by_break
    if by_place.low > 0 and by_break.low > 0:
        conditions, dormancy = by_place - by_break, by_break - by_place
    alive = shares.of(group, *FRESH_ALIVE) if group.assessed else NONE
    told = conditions + dormancy
    return _Waiting(conditions, dormancy, Bounds(alive - told, fresh - told), fresh)


def _after(group: Group, shares: Shares, how: str) -> Share:
    """Return the seeds that germinated after something was done; where it was not done nothing is known of it."""
    return shares.of(group, how) if group.total(how) else NONE


def _opened_by_place(group: Group, known: References, shares: Shares) -> Share:
    """Return the hard seeds that germinate elsewhere: more than all fresh seeds could explain."""
    if known.elsewhere is None:
        return NONE
    gain = shares.of(known.elsewhere, "germinated") - shares.of(group, "germinated")
    beyond = gain - shares.of(group, *FRESH, "unscored")
    return beyond if beyond.low > 0 else NONE


def _counted_only(rest: Share, known: References, *, waiting: _Waiting, opened: Share) -> Inferred:
    """Return what is known where nobody looked at the seeds that were left."""
    closed = known.weighed if known.weighed is not None else rest
    alive = NONE
    if known.weighed is not None and known.hard_alive is not None:
        alive = known.weighed * known.hard_alive
    coat = Bounds(alive.at_most(rest).at_least(opened), closed.at_most(rest).at_least(opened))
    dead = Bounds(NONE, rest)
    if known.dead is not None:
        dead = Bounds(known.dead.least.at_most(rest), known.dead.most.at_most(rest))
    left = rest - dead.least
    causes = {
        "impermeable_coat": Bounds(coat.least, coat.most.at_most(left)),
        "nonviable": dead,
        "harmed": Bounds(NONE, left if known.may_harm else NONE),
        "other_dormancy": Bounds(waiting.dormancy.at_most(rest), left - waiting.conditions),
        "conditions": Bounds(waiting.conditions.at_most(rest), left - waiting.dormancy),
    }
    either = Bounds(NONE, left - waiting.conditions - waiting.dormancy)
    able = {name for name, bounds in causes.items() if bounds.high > 0}
    return _with_rest(causes, either, rest, {frozenset(able): rest})


def _with_rest(
    causes: dict[str, Bounds], either: Bounds, rest: Share, within: Mapping[frozenset[str], Share]
) -> Inferred:
    """Return the causes with what no comparison told apart."""
    left = rest - either.least
    for bounds in causes.values():
        left = left - bounds.least
    # no cause explains more seeds than did not germinate
    causes = {
        name: Bounds(bounds.least.at_most(rest), bounds.most.at_most(rest))
        for name, bounds in causes.items()
    }
    return Inferred({**causes, MIXED[0]: either, MIXED[1]: Bounds(left, left)}, rest, within)
