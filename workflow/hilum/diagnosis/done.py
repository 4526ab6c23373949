"""What the tables of a study already hold of a lot: no page asks for that work again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from hilum.analyses.estimate import Tables
from hilum.diagnosis.references import Treatments

_INSIDE = ("tetrazolium", "cutting")


@dataclass(frozen=True)
class Done:
    """Work on one lot: seeds sown intact, opened by hand, after a dormancy break, or in several places; seeds opened and weighed.

    `tested` where a sample of untreated seeds was cut or stained.
    """

    intact_sown: bool
    opened_sown: bool
    opened_weighed: bool
    broken: bool
    several_places: bool
    tested: bool


def of_lot(lot: str, experiments: Mapping[str, Tables], treatments: Treatments) -> Done:
    """Return what was done with the seeds of a lot in any experiment."""
    sown = _rows(experiments, "dishes", lot, "treatment")
    weighed = _rows(experiments, "weighings", lot, "treatment")
    tests = set(zip(*(_rows(experiments, "viability", lot, n) for n in _OF_A_TEST), strict=True))
    places: dict[str, set[str]] = {}
    for treatment, degrees in zip(
        sown, _rows(experiments, "dishes", lot, "temperature_c"), strict=True
    ):
        places.setdefault(treatment, set()).add(degrees)
    opened = {t for t, how in tests if how == "hand_opened"}
    return Done(
        intact_sown=any(map(treatments.intact, sown)),
        opened_sown=bool(opened) or any(map(treatments.by_hand, sown)),
        opened_weighed=any(map(treatments.by_hand, weighed)),
        broken=any(map(treatments.breaks, sown)),
        several_places=any(len(own) > 1 for own in places.values()),
        tested=any(how in _INSIDE and not treatments.may_harm(t) for t, how in tests),
    )


_OF_A_TEST = ("treatment", "method")


def _rows(experiments: Mapping[str, Tables], table: str, lot: str, column: str) -> list[str]:
    """Return a column of the rows of a lot as text, over all experiments."""
    found: list[str] = []
    for tables in experiments.values():
        if table in tables:
            own = tables[table]
            found += np.asarray(own[column])[own["lot"] == lot].astype(str).tolist()
    return found
