"""Which causes of failure planned dishes could tell apart: the diagnosis itself, asked about expected tables.

For each cause in turn one supposes that it alone holds back `supposed.HELD` of the seeds of a treatment, writes the tables that the
planned dishes would leave, and lets the diagnosis name causes. Where it names others beside the true one, the cheapest of some
additions is sought with which it names that one alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from hilum.analyses.simulated import as_table
from hilum.diagnosis.causes import CAUSES
from hilum.diagnosis.model import Findings, diagnose
from hilum.plan.asked.design import Plan
from hilum.plan.asked.experiments import Place
from hilum.plan.failure.bench import Bench, Target, bench_of, targets
from hilum.plan.failure.remedies import Addition, additions
from hilum.plan.failure.supposed import shares as shares_of
from hilum.plan.failure.supposed import tested
from hilum.plan.simulated.sown import Kind, expected

_SIGMA = 0.15


@dataclass(frozen=True)
class Told:
    """What would be said if a cause alone held seeds back: `named` causes, and the `cheapest` addition that settles it.

    `possible` is false for harm by a treatment that cannot harm.
    """

    target: Target
    cause: str
    possible: bool
    named: tuple[str, ...]
    cheapest: Addition | None

    @property
    def told_apart(self) -> bool:
        """Return whether this cause alone is named."""
        return self.named == (self.cause,)


def table(plan: Plan) -> list[Told]:
    """Return for each target and cause what the diagnosis would say, and the cheapest way to have it told."""
    bench = bench_of(plan)
    return [_told(bench, target, cause) for target in targets(plan) for cause in CAUSES]


def _told(bench: Bench, target: Target, cause: str) -> Told:
    possible = cause != "harmed" or bench.treatments.may_harm(target.place.treatment)
    if not possible:
        return Told(target, cause, False, (), None)
    named = _named(bench, target, cause)
    if named == (cause,):
        return Told(target, cause, True, named, None)
    cheapest = next(
        (a for a in additions(bench, target) if _named(a.bench, target, cause) == (cause,)), None
    )
    return Told(target, cause, True, named, cheapest)


# what the diagnosis says


def _named(bench: Bench, target: Target, cause: str) -> tuple[str, ...]:
    """Return the causes that the diagnosis names for the target's seeds."""
    experiments: dict[str, list[Kind]] = {}
    for place, seeds, ends_with in bench.places:
        shares = shares_of(bench, place, target, cause)
        kind = Kind(
            place=place,
            seeds=seeds,
            hours=(240.0, 480.0),
            shares=shares,
            t50_h=100.0,
            sigma=_SIGMA,
            ends_with=ends_with,  # type: ignore[arg-type]
        )
        experiments.setdefault(place.experiment, []).append(kind)
    findings = {
        name: Findings(tables=expected(kinds), weighed={}, coats={})
        for name, kinds in experiments.items()
    }
    if bench.tests:
        tests = {"viability": as_table("viability", tested(bench, target, cause))}
        findings["viability tests"] = Findings(tables=tests, weighed={}, coats={})
    lots = dict.fromkeys(place.lot for place, _, _ in bench.places)
    found = diagnose(
        findings,
        lot_table={
            "lot": np.array(list(lots)),
            "expected_germination_pct": np.full(len(lots), np.nan),
        },
        treatment_table=bench.treatment_table,
        confidence=bench.confidence,
        correlation_when_unknown=bench.correlation,
    )
    group = next(g for g in found.drawing["groups"] if _is_of(g, target.place))
    return tuple(group["named"])


def _is_of(group: Mapping[str, Any], place: Place) -> bool:
    key = (place.lot, place.treatment, place.temperature_c)
    return (group["lot"], group["treatment"], group["temperature_c"]) == key
