"""Which causes may be the main one, which comparison is missing, and what to do next."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from hilum.analyses.rounding import percent
from hilum.diagnosis.causes import CAUSES, Inferred
from hilum.diagnosis.counted import DEAD, FRESH, HARD, Group, Shares
from hilum.diagnosis.references import References, Study
from hilum.diagnosis.words import place_of
from hilum.stats.shares import Share

# where no more than this share is left, nothing failed that a treatment could mend
NEARLY_ALL = 0.1
_LEFT = 1e-9


@dataclass(frozen=True)
class Missing:
    """A comparison that was not made: the causes that it would tell apart, and the seeds at stake."""

    causes: frozenset[str]
    stake: float
    needs: str


def named(inferred: Inferred) -> tuple[str, ...]:
    """Return the causes that may explain more seeds than any other, the likeliest first; () where few seeds are left.

    A cause is left out only where another surely explains more: seeds that one of k causes explains give at least
    one of these a k-th of them.
    """
    if inferred.rest.value <= NEARLY_ALL:
        return ()
    causes = {name: inferred.causes[name] for name in CAUSES}
    surest = max(
        *(bounds.low for bounds in causes.values()),
        *(share.low / len(able) for able, share in inferred.within.items() if able),
    )
    able = [n for n, b in causes.items() if b.high > max(surest, _LEFT) or b.low == surest > 0]
    return tuple(
        sorted(
            able,
            key=lambda n: (
                -causes[n].least.value,
                -round(causes[n].most.value, 1),
                CAUSES.index(n),
            ),
        )
    )


def missing(group: Group | None, known: References, shares: Shares) -> list[Missing]:
    """Return the comparisons that would tell more, most seeds at stake first."""
    if group is None or not group.assessed:
        rest = shares.of(group, "germinated").rest().value if group else 1.0
        return [Missing(frozenset(CAUSES), rest, _SCORE if group else _SOW)]
    found = [
        Missing(
            frozenset({"impermeable_coat", "nonviable"}),
            shares.of(group, "hard_unknown").value
            * (known.hard_alive is None and known.dead is None),
            _ENTER if group.not_entered else _open(group.total("hard_unknown")),
        ),
        Missing(
            frozenset({"nonviable", "harmed"}),
            shares.of(group, *DEAD).value * (known.may_harm and known.dead is None),
            _reference(group, known),
        ),
        Missing(
            frozenset({"nonviable", "harmed"}),
            shares.of(group, *DEAD).value * known.disputed,
            _DISPUTED,
        ),
        Missing(
            frozenset({"nonviable", "other_dormancy", "conditions"}),
            shares.of(group, "fresh_unknown").value,
            _ENTER if group.not_entered else _CUT,
        ),
        Missing(frozenset(CAUSES), shares.of(group, "unscored").value, _SCORE),
        Missing(
            frozenset({"other_dormancy", "conditions"}),
            shares.of(group, *FRESH).value,
            _fresh(known),
        ),
    ]
    told = [one for one in found if one.stake > _LEFT and one.needs]
    return sorted(told, key=lambda one: -one.stake)


_ALIVE_GERMINATED = "Nearly all living seeds germinated, and no treatment mends the dead ones: other seed is all that could do better."
_FEW_DEAD = "Nothing to mend: nearly all living seeds germinated, and no treatment brings the few dead ones to life."
# of the seeds: where more are dead, other seed is worth looking for
_MANY_DEAD = 0.2
_FEW = (
    0.05  # of the seeds: what more than these wait for is worth a try, though nearly all germinated
)
_SOW = "Sow seeds of this treatment and count: weighings tell whether water gets in, not what would germinate."
_SCORE = "Score the seeds that are left at the end as hard, fresh, dead or empty."
_ENTER = "Fill in `alive` in outcomes.csv for the seeds that were cut or stained, 0 where none was alive: it is not known how many were."
_ENOUGH = 20  # seeds to open (common practice, no source)
_REFERENCE = (
    "Sow hand-opened seeds of the same lot beside the treated ones, or test the viability of the lot: without "
    "that, harm cannot be told from seeds that were dead before."
)
_STORED_REFERENCE = (
    "Sow or test untreated seed of the same lot that was stored as long: without that, harm cannot be told from seeds that "
    "died in store or were dead before."
)
_DISPUTED = (
    "Opened seeds show more dead ones than untreated seeds of the lot: stain untreated seeds (tetrazolium), and let some opened "
    "seeds take up water slowly, between damp papers, beside others sown wet. Dead ones may look alive when they are cut, and "
    "seeds may be hurt when they are opened or swell at once."
)
_CUT = "Cut or stain the fresh seeds: it is not known how many of them were alive."
_SCORE_OPENED = (
    "Score what is left of the hand-opened seeds of this lot as hard, fresh or dead: without that, harm cannot be told from "
    "seeds that were dead before."
)


def _open(hard: float) -> str:
    """Return the advice to look into hard seeds, of which there are so many."""
    which = "twenty of the hard seeds" if hard > _ENOUGH else f"the {hard:g} hard seeds"
    if hard == 1:
        which = "the hard seed"
    return (
        f"Open {which} by hand, or cut {'them' if hard > 1 else 'it'}, and count the living: it is not known how many of the "
        "hard seeds were alive."
    )


def _reference(group: Group, known: References) -> str:
    if any(group.store):
        return _STORED_REFERENCE
    return _SCORE_OPENED if known.opened_unscored else _REFERENCE


def _fresh(known: References) -> str:
    ways = _wake(known)
    return f"Seeds stayed fresh: {ways}." if ways else ""


def _wake(known: References) -> str:
    """Return what has not been tried yet on fresh seeds."""
    ways = []
    if known.elsewhere is None:
        ways.append("sow the same treatment at another temperature")
    if known.released is None and not known.broken:
        ways.append("give some of the seeds a dormancy break (cold or warm moist storage, say)")
    if known.broken:
        ways.append("try a longer dormancy break than theirs, or one of another kind")
    return " and ".join(ways)


def next_action(
    group: Group,
    known: References,
    causes: Sequence[str],
    lacking: Sequence[Missing],
    study: Study,
    *,
    living_left: float,
) -> str:
    """Return the next thing to do for a group that was sown; `living_left` are seeds left, less those dead before."""
    if not causes:
        return "Nothing to mend: nearly all seeds germinated."
    if living_left <= NEARLY_ALL and not known.disputed:
        return _nearly_all(group, known, study)
    if len(causes) == 1:
        return _ACTIONS[causes[0]](group, known, study)
    worth = [m for m in lacking if m.stake > _FEW or not group.assessed]
    apart = [m for m in worth if len(m.causes & set(causes)) > 1] or worth
    return apart[0].needs if apart else _too_close(group, study)


def _too_close(group: Group, study: Study) -> str:
    better = _better(group, study)
    first = (
        f"Treat them as {better.treatment}: {_germinated(better, study)} there. " if better else ""
    )
    return f"{first}Sow more seeds: the causes are too close to be told apart."


def _nearly_all(group: Group, known: References, study: Study) -> str:
    """Return what could still be had where nearly all living seeds germinated: from the hard or the fresh ones, if any."""
    hard, fresh = (study.shares.of(group, *fates).value for fates in (HARD, FRESH))
    if max(hard, fresh) <= _FEW:
        failed = study.shares.of(group, "germinated").rest().value
        return _ALIVE_GERMINATED if failed > _MANY_DEAD else _FEW_DEAD
    if hard >= fresh:
        left, mend = (
            f"{percent(hard)} stayed hard",
            "open the coats by hand, or a little further if that does no harm",
        )
    else:
        unknown = bool(group.total("fresh_unknown"))
        mend = _wake(known) or ("cut or stain those" if unknown else "wait for them for longer")
        left = f"{percent(fresh)} stayed fresh"
    return f"Nearly all living seeds germinated, but {left}: {mend}."


def _germinated(group: Group, study: Study) -> str:
    return f"{percent(study.germinated(group).value)} germinated"


def _beside(group: Group, study: Study) -> list[Group]:
    """Return the other treatments of the lot in the same place, the best first."""
    others = [
        other
        for other in study.of_lot(group.lot)
        if other.place == group.place and other.treatment != group.treatment
    ]
    return sorted(others, key=lambda g: -study.shares.of(g, "germinated").value)


def _surely_better(other: Group, group: Group, study: Study) -> bool:
    gain: Share = study.shares.of(other, "germinated") - study.shares.of(group, "germinated")
    return gain.low > 0


def _better(group: Group, study: Study) -> Group | None:
    """Return the best other treatment of the lot in the same place after which surely more seeds germinate."""
    return next((g for g in _beside(group, study) if _surely_better(g, group, study)), None)


def _coat(group: Group, known: References, study: Study) -> str:
    better = _better(group, study)
    if better is not None and study.treatments.intact(better.treatment):
        return f"Sow them without this treatment: {_germinated(better, study)} of {better.treatment} seeds there."
    if better is not None:
        opens = study.treatments.coat(better.treatment)
        how = "Open the coats as {} did" if opens else "Treat them as {}"
        return f"{how.format(better.treatment)}: {_germinated(better, study)} there."
    if known.by_hand:
        return "Open the coats further: many stayed closed though they were opened by hand."
    tried = next((g for g in _beside(group, study) if study.treatments.by_hand(g.treatment)), None)
    if tried is not None:
        return (
            f"Sow more seeds, opened by hand and not, side by side: {tried.treatment} did not surely do better so far "
            f"({_germinated(tried, study)})."
        )
    return "Open the coats: chip twenty seeds by hand, and sow them beside untreated ones."


def _nonviable(group: Group, known: References, study: Study) -> str:  # noqa: ARG001
    better = _better(group, study)
    if better is not None:
        return (
            f"Treat them as {better.treatment}: {_germinated(better, study)} there. Most of the others are dead, "
            "and no treatment brings those to life: for more, use other seed of this kind."
        )
    return "Use other seed of this kind: no treatment brings dead seeds to life. Cut some before you sow more."


def _harmed(group: Group, known: References, study: Study) -> str:  # noqa: ARG001
    better = _better(group, study)
    milder = f", or as {better.treatment} ({_germinated(better, study)} there)" if better else ""
    return f"Treat the seeds more gently: shorter, weaker or cooler{milder}."


def _dormancy(group: Group, known: References, study: Study) -> str:
    if known.released is not None:
        how = f"as {known.released.treatment} did: {_germinated(known.released, study)} there"
    else:
        how = "as those dishes were treated whose seeds then germinated"
    assert group  # noqa: S101
    return f"Break the dormancy first, {how}."


def _conditions(group: Group, known: References, study: Study) -> str:  # noqa: ARG001
    if known.elsewhere is None:
        return "Sow where the moved seeds germinated."
    return (
        f"Sow at {place_of(*known.elsewhere.place)}, where {_germinated(known.elsewhere, study)}."
    )


_ACTIONS: dict[str, Callable[[Group, References, Study], str]] = {
    "impermeable_coat": _coat,
    "nonviable": _nonviable,
    "harmed": _harmed,
    "other_dormancy": _dormancy,
    "conditions": _conditions,
}
