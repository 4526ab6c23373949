"""Which treatments of a lot and place surely germinated more, and which of them seeds surely died of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from hilum.analyses.time_course.comparisons import Compared
from hilum.stats.arrays import Array


def told(
    data: Compared,
    versus: Sequence[tuple[int, int, float | None]],
    controls: frozenset[str],
    openers: frozenset[str] | None,
) -> list[dict[str, Any]]:
    """Return what can be said of each group beside the others of its lot, temperature and condition.

    `versus` holds each pair of groups with its Holm-adjusted p. Of each group: `untreated`; `fewer_than`, the treatments of
    which surely more seeds germinated; `open_as`, those of them that open coats (`openers`) and that none surely exceeds;
    `died_of`, the treatments that opened more coats than this one, and of which surely more seeds died and fewer germinated
    than of another: no dose like theirs is to be tried.
    """
    shares = data.finals.germinated.fraction
    more: Mapping[int, list[int]] = {i: [] for i in range(len(data.keys))}
    for one, other, p in versus:
        if p is not None and p < 1 - data.confidence:
            low, high = sorted((one, other), key=lambda i: float(shares[i]))
            more[low].append(high)
    harmed = {i for i, best in more.items() if any(_more_dead(data, i, j) for j in best)}
    places = [(lot, f"{degrees:g}", words) for lot, _, degrees, words in data.keys]
    hard: Array = data.fates.hard.fraction
    return [
        {
            "untreated": key[1] in controls,
            "fewer_than": _names(data, more[i]),
            "open_as": [
                n
                for n in _names(data, [j for j in more[i] if not more[j]])
                if openers is None or n in openers
            ],
            "died_of": _names(
                data, [j for j in sorted(harmed) if places[j] == places[i] and hard[j] < hard[i]]
            ),
        }
        for i, key in enumerate(data.keys)
    ]


def _more_dead(data: Compared, one: int, other: int) -> bool:
    """Return whether surely more seeds were dead in the end, where somebody looked at both."""
    assessed, dead = data.fates.assessed, data.fates.dead
    return bool(assessed[one] and assessed[other] and dead.low[one] > dead.high[other])


def _names(data: Compared, groups: Sequence[int]) -> list[str]:
    return [data.keys[i][1] for i in groups]
