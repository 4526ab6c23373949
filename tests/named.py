"""Lots whose specimens are held against published ranges, drawn without any code of the analysis."""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri, stdtr, stdtrit

from hilum.analyses.simulated import as_table

LABEL, LIKE = "Fabula prima", "Fabula altera"


@dataclass(frozen=True)
class Design:
    """A lot of the taxon on its label, whose every trait has a share outside the range; traits go together by `alike`.

    `tails` 0 is a normal distribution, else Student's with so many degrees of freedom; `states` of the traits are no
    numbers. `away` moves the first trait of the look-alike, in sd.
    """

    specimens: int = 30
    traits: int = 3
    states: int = 0
    covers: float = 0.9
    alike: float = 0.0
    tails: int = 0
    away: float = 0.0


def tables(design: Design, rng: np.random.Generator) -> dict:
    """Return traits, reference_traits and lots of one study."""
    n = design.specimens
    shared = rng.normal(size=(n, 1))
    own = rng.normal(size=(n, design.traits))
    z = np.sqrt(design.alike) * shared + np.sqrt(1 - design.alike) * own
    if design.tails:
        z = z / np.sqrt(rng.chisquare(design.tails, size=(n, 1)) / design.tails)
    reach = _reach(design)
    rows = []
    for i in range(n):
        for j in range(design.traits):
            row = {"specimen": f"s{i}", "lot": "lot", "trait": f"trait {j}"}
            if j < design.states:
                rows.append(row | {"state": "usual" if abs(z[i, j]) <= reach else "rare"})
            else:
                rows.append(row | {"value": float(z[i, j]), "unit": "mm"})
    told = [
        {"taxon": taxon, "trait": f"trait {j}", "source": "invented"}
        | _published(design, j, reach, taxon)
        for taxon in (LABEL, LIKE)
        for j in range(design.traits)
    ]
    return {
        "traits": as_table("traits", rows),
        "reference_traits": as_table("reference_traits", told),
        "lots": as_table("lots", [{"lot": "lot", "taxon": LABEL}]),
    }


def _reach(design: Design) -> float:
    """Return how far a range that covers just the share assumed reaches from its middle."""
    half = (1 + design.covers) / 2
    return float(stdtrit(design.tails, half) if design.tails else ndtri(half))


def _published(design: Design, trait: int, reach: float, taxon: str) -> dict:
    if trait < design.states:
        return {"states": "usual"}
    middle = design.away if taxon == LIKE and trait == 0 else 0.0
    return {"low": middle - reach, "high": middle + reach, "unit": "mm"}


def outside_the_look_alike(design: Design) -> float:
    """Return the share of the lot whose first trait lies outside the range of the look-alike."""
    ends = design.away + _reach(design) * np.array([-1, 1])
    below, above = stdtr(design.tails, ends) if design.tails else ndtr(ends)
    return float(1 - (above - below))
