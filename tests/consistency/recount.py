"""The raw tables counted anew: a few lines that share no code with the report.

Of every dish: how many seeds of it germinated by an hour, of those sown less those lost, and what was left at its end.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from tests.consistency.bench import SEEDLINGS, Row
from tests.consistency.studies import Raw

_STARTS = ("opened", "moved", "agent_added", "light_given")
_NO_LIFE = ("dead", "empty", "insect_damaged", "mouldy")
TOLERANCE_H = 0.5


@dataclass(frozen=True)
class Seeds:
    """The seeds of a figure: lot, treatment, and the words of their place ("20 °C", "dark"), in no order."""

    lot: str
    treatment: str
    words: frozenset[str]

    def __str__(self) -> str:
        """Return how a reader would call them."""
        return ", ".join((self.lot, self.treatment, *sorted(self.words)))

    @property
    def names(self) -> frozenset[str]:
        """Return every word that may stand in their name."""
        return self.words | {self.lot, self.treatment}


def place_words(cells: Row) -> frozenset[str]:
    """Return the words by which a page tells where a dish stood, from its cells as typed."""
    words = [f"{float(cells['temperature_c']):g} °C"]
    if cells.get("night_temperature_c"):
        words.append(
            f"nights at {float(cells['night_temperature_c']):g} °C ({float(cells['warm_h']):g} h warm)"
        )
    if cells.get("light"):
        words.append(cells["light"])
    if cells.get("stored_d"):
        words.append(f"stored {float(cells['stored_d']):g} d at {float(cells['stored_at_c']):g} °C")
    return frozenset(words)


@dataclass(frozen=True)
class Kept:
    """One dish as it was sown, up to the first thing done to it: looks (hours, newly germinated) and what was left.

    `later` seeds germinated after that.
    """

    experiment: str
    name: str
    seeds: Seeds
    sown: int
    looks: tuple[tuple[float, int], ...]
    lost: int
    taken_dead: int
    outcomes: dict[str, tuple[int, int | None]] = field(default_factory=dict)
    changed: bool = False
    later: int = 0

    @property
    def inspected(self) -> bool:
        """Return whether anybody wrote down how many seeds germinated."""
        return bool(self.looks or self.outcomes) and self.of > 0

    @property
    def end_h(self) -> float | None:
        """Return the hour of the last look, None where there was none."""
        return self.looks[-1][0] if self.looks else None

    @property
    def scored(self) -> bool:
        """Return whether somebody told what was left, or nothing was."""
        return (
            bool(self.outcomes)
            or self.up(None) + self.later + self.taken_dead + self.lost >= self.sown
        )

    @property
    def over(self) -> bool:
        """Return whether no seed is left that might still germinate."""
        living = sum(n for fate, (n, _) in self.outcomes.items() if fate in ("hard", "fresh"))
        return self.scored and not living

    @property
    def of(self) -> int:
        """Return the seeds sown less those lost."""
        return self.sown - self.lost

    def up(self, by_h: float | None) -> int:
        """Return the seeds germinated by an hour, by the end where it is None."""
        if not self.looks:
            return sum(n for fate, (n, _) in self.outcomes.items() if fate in SEEDLINGS)
        return sum(n for at, n in self.looks if by_h is None or at <= by_h + TOLERANCE_H)

    def left(self, *fates: str) -> int:
        """Return the seeds left with any of these fates."""
        return sum(n for fate, (n, _) in self.outcomes.items() if fate in fates)


@dataclass(frozen=True)
class Counted:
    """All dishes of a study."""

    dishes: Sequence[Kept]

    @cached_property
    def seeds(self) -> list[Seeds]:
        """Return the seeds that were sown, each once."""
        return list(dict.fromkeys(dish.seeds for dish in self.dishes))

    def of(self, seeds: Seeds, experiments: Iterable[str] = ()) -> list[Kept]:
        """Return the dishes of some seeds in these experiments, in all where none is named."""
        chosen = set(experiments)
        return [
            d for d in self.dishes if d.seeds == seeds and (not chosen or d.experiment in chosen)
        ]

    def experiments(self, seeds: Seeds) -> list[str]:
        """Return in which experiments the seeds were sown and looked at."""
        return sorted({d.experiment for d in self.of(seeds) if d.inspected})

    def germinated(
        self, seeds: Seeds, experiments: Iterable[str], by_h: float | None
    ) -> list[float]:
        """Return the share of seeds germinated by an hour, every value that a page may print.

        Dishes of which no seed is left that could germinate count at any later hour. Others that were given up sooner
        tell nothing of it: whether these are counted as they stood or left out is for the page to say.
        """
        own = [d for d in self.of(seeds, experiments) if d.inspected]
        sure = [
            d
            for d in own
            if by_h is None or d.end_h is None or d.over or d.end_h >= by_h - TOLERANCE_H
        ]
        return [
            sum(d.up(by_h) for d in some) / of
            for some in ([own, sure] if len(own) > len(sure) else [own])
            if (of := sum(d.of for d in some)) > 0
        ]


def count(raw: Raw) -> Counted:
    """Return the dishes of a study, counted from its tables as typed."""
    found = []
    for experiment in raw.experiments:
        tables = raw.tables[experiment]
        for cells in tables.get("dishes", []):
            mine = {
                t: [r for r in tables.get(t, []) if r.get("dish") == cells["dish"]]
                for t in ("counts", "outcomes", "events")
            }
            found.append(_kept(experiment, cells, mine))
    return Counted(found)


def _kept(experiment: str, cells: Row, mine: dict[str, list[Row]]) -> Kept:
    changes = sorted(float(e["elapsed_h"]) for e in mine["events"] if e["event"] in _STARTS)
    first = changes[0] if changes else float("inf")
    looks = sorted((float(r["elapsed_h"]), r) for r in mine["counts"])
    outcomes: dict[str, tuple[int, int | None]] = {}
    for row in mine["outcomes"]:
        had, alive = outcomes.get(row["outcome"], (0, 0))
        told = int(row["alive"]) if row.get("alive") else None
        outcomes[row["outcome"]] = (
            had + int(row["seeds"]),
            None if told is None or alive is None else alive + told,
        )
    removed = [(int(r.get("removed") or 0), r.get("removed_as", "")) for _, r in looks]
    return Kept(
        experiment=experiment,
        name=cells["dish"],
        seeds=Seeds(cells["lot"], cells["treatment"], place_words(cells)),
        sown=int(cells["seeds"]),
        looks=tuple((at, int(r["germinated"])) for at, r in looks if at <= first),
        lost=sum(n for n, why in removed if why in ("lost", "sampled"))
        + outcomes.get("lost", (0, 0))[0],
        taken_dead=sum(n for n, why in removed if why not in ("lost", "sampled")),
        outcomes=outcomes,
        changed=bool(changes),
        later=sum(int(r["germinated"]) for at, r in looks if at > first),
    )
