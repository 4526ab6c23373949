"""What can become of a seed: each fate once, with all that depends on it.

A seed that was sown has exactly one fate. To add one, add it here: checks, dictionary, glossary, counts, pages and
charts are made from this list.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

# how a fate counts: closed and fresh seeds are alive only as far as a test showed it, gone ones were not followed to their end
Kind = Literal["germinated", "closed", "fresh", "dead", "gone"]


@dataclass(frozen=True)
class Fate:
    """One fate: its name in the tables, its words on pages, what it means, and how it counts.

    `with_` names the fate that pages add it to, where it has no line of its own; `look` is its entry in `figure.LOOKS`.
    """

    name: str
    title: str
    meaning: str
    kind: Kind
    look: str
    with_: str = ""

    @property
    def shown_as(self) -> str:
        """Return the name of the fate that pages tell it under."""
        return self.with_ or self.name


FATES = (
    Fate("germinated", "germinated", "the radicle is out", "germinated", "germinated"),
    Fate(
        "normal", "normal", "a seedling without a defect", "germinated", "germinated", "germinated"
    ),
    Fate(
        "abnormal",
        "abnormal",
        "a seedling with a defect that it will not grow out of",
        "germinated",
        "germinated",
        "germinated",
    ),
    Fate("hard", "hard", "had not taken up water at the end", "closed", "no water got in"),
    Fate("fresh", "fresh", "imbibed, firm, not germinated", "fresh", "fresh"),
    Fate("dead", "dead or empty", "soft or decayed", "dead", "dead"),
    Fate("empty", "dead or empty", "without an embryo", "dead", "dead", "dead"),
    Fate("insect_damaged", "insect-damaged", "eaten by an insect", "dead", "dead"),
    Fate("mouldy", "mouldy", "overgrown by mould, and dead", "dead", "dead"),
    Fate("lost", "lost", "missing, nobody knows since when", "gone", "not told"),
)
NAMES = tuple(fate.name for fate in FATES)
BY_NAME = {fate.name: fate for fate in FATES}


def of_kind(*kinds: Kind) -> tuple[str, ...]:
    """Return the names of the fates of some kinds."""
    return tuple(fate.name for fate in FATES if fate.kind in kinds)


GERMINATED = of_kind("germinated")
DEAD = of_kind("dead")
# what a seed may be taken out of a dish as, before it germinated; a sample is taken to be looked at elsewhere
REMOVALS = ("dead", "mouldy", "lost", "sampled")
UNFOLLOWED = ("lost", "sampled")


def told() -> dict[str, tuple[str, ...]]:
    """Return the fates that pages tell, in order, each with the names that it adds up; lost seeds are left out."""
    found: dict[str, tuple[str, ...]] = {}
    for fate in FATES:
        if fate.kind != "gone":
            found[fate.shown_as] = (*found.get(fate.shown_as, ()), fate.name)
    return found
