"""The diagnosis of lots whose seeds fail for a known cause: limits, and the causes that it names."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from hilum.diagnosis import model
from hilum.diagnosis.causes import CAUSES
from tests import sown_lots
from tests.calibration.run import SETTINGS
from tests.sown_lots import Lot, Sowing, Trial

CHIPPED = Sowing(treatment="chipped", opens=1.0)
INTACT = Sowing(treatment="intact")
ACID = Sowing(treatment="acid-long", opens=1.0)
KILLING = replace(ACID, kills=0.6)
COLD = replace(CHIPPED, temperature_c=10.0, ready=0.1)
WITH_BREAK = replace(CHIPPED, treatment="chipped-cold", breaks=True)
WEAK = replace(INTACT, treatment="acid-short", opens=0.15)
UNCUT = replace(INTACT, look=False)
# on the logit: none, an intra-dish correlation of about 0.03 at one half, and one of about 0.1
SPREADS = {"no spread": 0.0, "ordinary": 0.35, "strong": 0.7}


@dataclass(frozen=True)
class Case:
    """A trial whose first sowing is asked about; `separated` where the comparison was made that tells its main cause."""

    main: str
    separated: bool
    trial: Trial


def _case(
    main: str, *sowings: Sowing, lot: Lot | None = None, tested: int = 0, apart: bool = True
) -> Case:
    return Case(main, apart, Trial(lot=lot or Lot(), sowings=sowings, tested=tested))


CASES = {
    "closed coats, hard seeds cut": _case("impermeable_coat", INTACT, CHIPPED),
    "closed coats, viability tested": _case("impermeable_coat", UNCUT, tested=100),
    "acid too weak": _case("impermeable_coat", WEAK, CHIPPED),
    "dead seed": _case("nonviable", CHIPPED, lot=Lot(dead=0.6)),
    "dead seed after a harmless acid": _case("nonviable", ACID, CHIPPED, lot=Lot(dead=0.6)),
    "acid too strong": _case("harmed", KILLING, CHIPPED),
    "acid too strong, viability tested": _case("harmed", KILLING, tested=100),
    "another dormancy": _case("other_dormancy", CHIPPED, WITH_BREAK, lot=Lot(dormant=0.7)),
    "too cold": _case("conditions", COLD, CHIPPED),
    "nobody looked at the hard seeds": _case("impermeable_coat", UNCUT, apart=False),
    "acid too strong, no reference": _case("harmed", KILLING, apart=False),
    "dead seed after acid, no reference": _case("nonviable", ACID, lot=Lot(dead=0.6), apart=False),
    "another dormancy, no break tried": _case(
        "other_dormancy", CHIPPED, lot=Lot(dormant=0.7), apart=False
    ),
    "too cold, nowhere else tried": _case("conditions", COLD, apart=False),
    "counts only": _case("impermeable_coat", replace(INTACT, score=False), apart=False),
    "fresh seeds not cut": _case(
        "other_dormancy", replace(CHIPPED, look=False), lot=Lot(dormant=0.7), apart=False
    ),
}


def row(job: tuple[str, str, int, int]) -> dict[str, Any]:
    """Return what came of one case under one spread."""
    name, spread, studies, seed = job
    case = CASES[name]
    trial = replace(case.trial, dish_sd_logit=SPREADS[spread])
    rng = np.random.default_rng([seed, *f"{name} {spread}".encode()])
    truth = sown_lots.shares(trial, trial.sowings[0], rng=rng)
    groups = [diagnosed(sown_lots.tables(trial, rng=rng)) for _ in range(studies)]
    named = [group["named"] for group in groups]
    widths = [_width(group, case.main) for group in groups]
    return {
        "case": name,
        "spread": spread,
        "separated": "yes" if case.separated else "no",
        "main_cause": case.main,
        "main_share": round(truth[case.main], 3),
        "studies": studies,
        "all_within_limits": sum(_held(group, truth) for group in groups),
        "names_the_main_cause": sum(case.main in causes for causes in named),
        "names_it_alone": sum(causes == [case.main] for causes in named),
        "names_one_wrongly": sum(len(causes) == 1 and causes != [case.main] for causes in named),
        "mean_causes_named": round(float(np.mean([len(causes) for causes in named])), 2),
        "median_width": round(float(np.median(widths)), 3),
    }


def diagnosed(tables: dict[str, dict[str, np.ndarray]]) -> dict[str, Any]:
    """Return the diagnosis of the first group of seeds."""
    found = model.diagnose(
        {"trial": model.Findings(tables=tables, weighed={}, coats={})},
        lot_table=sown_lots.lot_table(),
        treatment_table=sown_lots.treatment_table(),
        confidence=SETTINGS.confidence,
        correlation_when_unknown=SETTINGS.dish_correlation_when_unknown,
    )
    group: dict[str, Any] = found.drawing["groups"][0]
    return group


def _held(group: dict[str, Any], truth: dict[str, float]) -> bool:
    limits = (group["causes"][cause] for cause in CAUSES)
    return all(
        one["low"] - 1e-9 <= truth[cause] <= one["high"] + 1e-9
        for cause, one in zip(CAUSES, limits, strict=True)
    )


def _width(group: dict[str, Any], cause: str) -> float:
    return float(group["causes"][cause]["high"] - group["causes"][cause]["low"])


def table(*, studies: int, seed: int, pool: Executor | None = None) -> Iterator[dict[str, Any]]:
    """Yield a row for each case and spread: the same whether or not processes of a pool share the cases."""
    jobs = [(name, spread, studies, seed) for name in CASES for spread in SPREADS]
    yield from map(row, jobs) if pool is None else pool.map(row, jobs)
