"""Figures of the same seeds, quantity and time agree, and each one with the raw tables counted anew."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import combinations

from tests.consistency.figures import Reader
from tests.consistency.recount import TOLERANCE_H, Counted, Kept, Seeds
from tests.consistency.told import Printed, Told
from tests.consistency.violation import Violation

_FATES = {
    "hard": ("hard",),
    "fresh": ("fresh",),
    "insect-damaged": ("insect_damaged",),
    "abnormal": ("abnormal",),
}
Key = tuple[Seeds, str, tuple[str, ...]]


def violations(reader: Reader) -> list[Violation]:
    """Return every disagreement of a report, each once."""
    told = reader.all()
    found = [
        *(_unread(reader)),
        *_missing(reader, told),
        *(v for one in told for v in _counted(reader.counted, one)),
        *_together(reader.counted, told),
        *_pooled(reader.counted, told),
    ]
    return list(dict.fromkeys(found))


def _unread(reader: Reader) -> Iterator[Violation]:
    """Yield names that do not tell which seeds they mean."""
    for says in dict.fromkeys(reader.unread):
        yield Violation("name of seeds not clear", says)


def _missing(reader: Reader, told: Sequence[Told]) -> Iterator[Violation]:
    """Yield seeds that were sown and looked at, and that the diagnosis has no figure of."""
    known = {t.seeds for t in told if t.where == "diagnosis.csv"}
    for seeds in reader.counted.seeds:
        where = reader.counted.experiments(seeds)
        if where and seeds not in known:
            yield Violation(
                "seeds left out",
                f"{seeds} (sown in {', '.join(where)}) have no figure in the diagnosis",
            )
    for sentence in reader.built.refused:
        yield Violation("study refused", sentence)


def _counted(counted: Counted, told: Told) -> Iterator[Violation]:
    """Yield a share germinated that the raw tables do not give."""
    if told.quantity != "germinated" or told.seeds not in counted.seeds:
        return
    own = [d for d in counted.of(told.seeds, told.experiments) if d.inspected]
    if not own:
        # of seeds that were all lost a page may tell what they did until then
        if not any(d.looks for d in counted.of(told.seeds, told.experiments)):
            yield Violation("figure of seeds that nobody looked at", str(told))
        return
    shares = counted.germinated(told.seeds, told.experiments, told.by_h)
    if told.by_h is not None and _within_losses(own, told):
        return
    if told.said == "fates":
        # shares beside fates may be those of the dishes that were scored, as long as all were
        shares += _share([d for d in own if d.scored], None) if all(d.scored for d in own) else []
    if not any(told.value.holds(share) for share in shares):
        counts = " or ".join(f"{100 * share:.4g} %" for share in dict.fromkeys(shares))
        yield Violation(
            f"germinated not as counted: {_why(own, counted, told)}", f"{told}; counted: {counts}"
        )


def _within_losses(own: Sequence[Kept], told: Told) -> bool:
    """Return whether a figure by an hour counts lost seeds until they were last seen: it lies between all and none of them.

    Dishes that ended before half of the test may be left out, as the page says where it does.
    """
    last = max((d.end_h or 0.0 for d in own), default=0.0)
    for some in (own, [d for d in own if d.over or (d.end_h or last) >= last / 2]):
        hits = sum(d.up(told.by_h) for d in some)
        if any(d.lost for d in some) and sum(d.of for d in some):
            least, most = hits / sum(d.sown for d in some), hits / sum(d.of for d in some)
            step = told.value.step / 100 + 1e-6
            if least - step <= told.value.value / 100 <= most + step:
                return True
    return False


def _share(dishes: Sequence[Kept], by_h: float | None) -> list[float]:
    of = sum(d.of for d in dishes)
    return [sum(d.up(by_h) for d in dishes) / of] if of else []


def _why(own: Sequence[Kept], counted: Counted, told: Told) -> str:
    """Return which seeds the figure would be right of, to tell one cause of a wrong figure from another."""
    if any(d.changed for d in own) and told.said == "fates":
        return "beside the fates of a dish that was changed"
    for why, dishes in _parts(own).items():
        if 0 < len(dishes) < len(own) and any(
            told.value.holds(s) for s in _share(dishes, told.by_h)
        ):
            return why
    for why, shares in _others(counted, told):
        if any(told.value.holds(s) for s in shares):
            return why
    if len({d.end_h for d in own}) > 1:
        return "dishes ended at different times"
    return "seeds were lost" if any(d.lost for d in own) else "not explained"


def _parts(own: Sequence[Kept]) -> dict[str, list[Kept]]:
    """Return parts of the dishes of a figure that it may be of in their place."""
    last = max((d.end_h or 0.0 for d in own), default=0.0)
    return {
        "dishes finished early left out": [
            d for d in own if not d.over or (d.end_h or last) >= last / 2
        ],
        "of the dishes that were scored only": [d for d in own if d.scored],
        "of the dishes with seeds left to score only": [d for d in own if d.outcomes],
        "dishes that ended sooner left out": [
            d for d in own if (d.end_h or last) >= last - TOLERANCE_H
        ],
    }


def _others(counted: Counted, told: Told) -> Iterator[tuple[str, list[float]]]:
    """Yield shares of other seeds that a figure may be of."""
    for name in counted.experiments(told.seeds):
        yield "of one experiment alone", counted.germinated(told.seeds, [name], told.by_h)
    if told.experiments:
        yield (
            "that of all experiments, where one is named",
            counted.germinated(told.seeds, (), told.by_h),
        )
    for seeds in counted.seeds:
        if (seeds.lot, seeds.treatment) == (
            told.seeds.lot,
            told.seeds.treatment,
        ) and seeds != told.seeds:
            yield "that of another place", counted.germinated(seeds, told.experiments, told.by_h)


# figures beside each other


def _together(counted: Counted, told: Sequence[Told]) -> Iterator[Violation]:
    groups: dict[Key, list[Told]] = {}
    for one in told:
        scope = one.experiments or tuple(counted.experiments(one.seeds))
        groups.setdefault((one.seeds, one.quantity, tuple(sorted(scope))), []).append(one)
    for own in groups.values():
        yield from _of_one(counted, own)


def _of_one(counted: Counted, own: Sequence[Told]) -> Iterator[Violation]:
    """Yield what disagrees among figures of the same seeds, experiments and quantity."""
    apart: dict[float | None, list[Told]] = {}
    for one in own:
        apart.setdefault(_hour(counted, one), []).append(one)
    for alike in apart.values():
        for pair in _values(alike):
            yield _two(f"two figures of {alike[0].quantity}{_where(counted, alike[0])}", *pair)
        # a file says in its columns what its limits are
        for pair in _limits([one for one in alike if not one.where.endswith(".csv")]):
            yield _two(f"two intervals of {alike[0].quantity}", *pair)
    if len(apart) > 1 and any(_silent(one) for one in apart.get(None, ())):
        timed = [one for hour, ones in apart.items() if hour is not None for one in ones]
        for pair in _values([apart[None][0], *timed]):
            yield _two(f"two figures of {own[0].quantity}, one without its time", *pair)


def _silent(one: Told) -> bool:
    """Return whether nothing beside a figure says that it is of the seeds not lost, or of the end of each dish."""
    pages = one.where.startswith("index") or ", fates" in one.where
    return pages and not re.search("left out|its own last look", one.said)


def _hour(counted: Counted, told: Told) -> float | None:
    """Return the hour of a figure, None where it is that of the end of each of its dishes."""
    own = counted.of(told.seeds, told.experiments)
    if told.by_h is None:
        return None
    # seeds of a dish after it was changed are not counted anew here
    if not own:
        return told.by_h
    # until when a lost seed counts is another thing by an hour than at the end, and pages say both
    if any(d.lost for d in own):
        return told.by_h
    # a dish in which nothing is left holds at any hour after its last look what it held then
    by = told.by_h + TOLERANCE_H
    ended = [d for d in own if d.end_h is not None]
    same = all(d.end_h <= by and (d.over or d.end_h >= by - 2 * TOLERANCE_H) for d in ended)
    return None if same else told.by_h


def _where(counted: Counted, told: Told) -> str:
    """Return what is odd about the dishes of a figure, to tell one cause of two figures from another."""
    own = [d for d in counted.of(told.seeds, told.experiments) if d.inspected]
    odd = {
        "insects had been at seeds": told.quantity == "dead or empty"
        and any(d.left("insect_damaged") for d in own),
        "some dishes were not scored": any(d.scored for d in own)
        and any(not d.scored for d in own),
        "a dish was changed": any(d.changed for d in own),
        "seeds were lost": any(d.lost for d in own),
        "dishes were finished early": len({d.end_h for d in own}) > 1 and any(d.over for d in own),
        "dishes ended at different times": len({d.end_h for d in own}) > 1,
    }
    return next((f" where {what}" for what, there in odd.items() if there), "")


def _values(alike: Sequence[Told]) -> Iterator[tuple[Told, Told]]:
    """Yield the pair that lies farthest apart, if no number is rounded to both."""
    pairs = [p for p in combinations(_distinct(alike), 2) if not p[0].value.agrees(p[1].value)]
    if pairs:
        yield max(pairs, key=lambda p: abs(p[0].value.value - p[1].value.value))


def _distinct(alike: Sequence[Told]) -> list[Told]:
    seen: dict[Printed, Told] = {}
    for one in alike:
        seen.setdefault(one.value, one)
    return list(seen.values())


def _limits(alike: Sequence[Told]) -> Iterator[tuple[Told, Told]]:
    have = {(t.low, t.high): t for t in reversed(alike) if t.low and t.high}.values()
    for one, other in combinations(have, 2):
        if (
            one.low
            and other.low
            and one.high
            and other.high
            and not (one.low.agrees(other.low) and one.high.agrees(other.high))
        ):
            yield one, other
            return


def _two(kind: str, one: Told, other: Told) -> Violation:
    return Violation(kind, f"{one}; but {other}")


def _pooled(counted: Counted, told: Sequence[Told]) -> Iterator[Violation]:
    """Yield figures of home that are those of several experiments, which no word says."""
    for one in told:
        several = counted.experiments(one.seeds)
        named = re.search("|".join([r"\bexperiments?\b", *map(re.escape, several)]), one.said)
        if one.where.startswith("index") and not one.experiments and len(several) > 1 and not named:
            yield Violation(
                "several experiments pooled without a word", f"{one}, of {', '.join(several)}"
            )
