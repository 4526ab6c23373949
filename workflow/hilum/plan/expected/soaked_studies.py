"""Simulated studies of weighed seeds, analysed as real ones are."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from hilum.analyses.estimate import Fit
from hilum.analyses.imbibition import model
from hilum.analyses.imbibition.truth import TrueCoats, simulate
from hilum.plan.expected.soaked import Soaked, fates
from hilum.plan.simulated.pool import KINDS
from hilum.settings import Settings
from hilum.stats.arrays import Array


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What simulated studies made of one treatment, one number for each study.

    `half_width` is infinite where the study told no impermeable fraction; `wrong` and `uncertain` are parts of its seeds.
    """

    half_width: Array
    wrong: Array
    uncertain: Array

    def and_more(self, other: Seen) -> Seen:
        """Return both, study after study."""
        return Seen(
            half_width=np.append(self.half_width, other.half_width),
            wrong=np.append(self.wrong, other.wrong),
            uncertain=np.append(self.uncertain, other.uncertain),
        )


def simulated(soaked: Soaked, *, studies: int, rng: np.random.Generator) -> list[Seen]:
    """Return what studies would make of each treatment: each is fitted once, with all its treatments."""
    settings = Settings(
        study=Path(),
        confidence=soaked.confidence,
        dish_correlation_when_unknown=soaked.correlation,
    )
    seen = np.full((studies, len(soaked.coats), 3), np.inf)
    for study in range(studies):
        coats = list(_coats(soaked, fates(soaked, 1, rng)[0]))
        tables = simulate(replace(soaked.truth, coats=tuple(coats)), rng=rng)
        seen[study] = list(_seen(soaked, coats, model.fit(tables, settings=settings, rng=rng)))
    return [
        Seen(half_width=own[:, 0], wrong=own[:, 1], uncertain=own[:, 2])
        for own in np.moveaxis(seen, 1, 0)
    ]


def _coats(soaked: Soaked, kinds: np.ndarray) -> Iterator[TrueCoats]:
    """Yield the seeds of each treatment, dish and kind, from the kind of each seed (treatments, dishes, seeds)."""
    for coat, dishes in zip(soaked.coats, kinds, strict=True):
        for number, own in enumerate(dishes, start=1):
            for kind, name in enumerate(KINDS):
                seeds = int((own == kind).sum())
                if seeds:
                    yield replace(
                        coat,
                        impermeable=float(name == "never"),
                        late=float(name == "late"),
                        seeds=seeds,
                        batches=(f"dish {number}" if len(dishes) > 1 else "",),
                    )


def _seen(
    soaked: Soaked, coats: list[TrueCoats], found: Fit
) -> Iterator[tuple[float, float, float]]:
    """Yield half-width, wrong and uncertain part of each treatment."""
    # simulated seeds are named after the place of their coats
    truly = {f"{place:02d}": coat.impermeable > 0 for place, coat in enumerate(coats, start=1)}
    for coat in soaked.coats:
        rows = [row for row in found.rows["seeds"] if row["treatment"] == coat.treatment]
        wrong = [_closed(row) != truly[str(row["seed"]).split("-")[0]] for row in rows]
        unsure = [row["call"] == "uncertain" for row in rows]
        yield _half_width(found, coat.treatment), float(np.mean(wrong)), float(np.mean(unsure))


def _closed(row: Mapping[str, object]) -> bool:
    return float(str(row["p_impermeable"])) > 0.5


def _half_width(found: Fit, treatment: str) -> float:
    own = next(
        e
        for e in found.estimates
        if (e.treatment, e.quantity) == (treatment, "impermeable_fraction")
    )
    if own.low is None or own.high is None or own.status != "estimated":
        return np.inf
    return (own.high - own.low) / 2
