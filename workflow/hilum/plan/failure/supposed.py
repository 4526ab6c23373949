"""What seeds would do if one cause alone held them back."""

from __future__ import annotations

from typing import Any

from hilum.analyses.temperature.truth import TrueSeries, rate
from hilum.plan.asked.experiments import Place
from hilum.plan.failure.bench import Bench, Target

# of the seeds sown: a failure that one plans to explain
HELD = 0.4
# of untreated seeds, where coats are not what is asked about
_CLOSED = 0.6


def shares(bench: Bench, place: Place, target: Target, cause: str) -> tuple[float, ...]:
    """Return the fates of the seeds of a place if that cause alone holds the target's seeds back."""
    known = bench.treatments
    closed = _closed(known.intact(place.treatment), place, target, cause)
    dead = 1 - bench.viable
    if cause == "nonviable":
        dead = dead + HELD
    if cause == "harmed" and target.same_seeds(place):
        dead = dead + HELD
    waits = cause == "other_dormancy" and not known.breaks(place.treatment)
    waits |= cause == "conditions" and target.same_place(place)
    waiting = HELD if waits else 0.0
    alive = 1 - dead - waiting
    hard = min(closed, alive)
    grown = alive - hard
    if _too_cold(bench, place):
        grown, waiting = 0.0, waiting + grown
    return (grown, hard, 0.0, waiting, 0.0, dead)


def _closed(intact: bool, place: Place, target: Target, cause: str) -> float:
    """Return the share of living seeds behind closed coats."""
    if target.same_seeds(place):
        return HELD if cause == "impermeable_coat" else 0.0
    return _CLOSED if intact and place.lot == target.place.lot else 0.0


def _too_cold(bench: Bench, place: Place) -> bool:
    if bench.base is None:
        return False
    return rate(TrueSeries(base=bench.base), place.temperature_c) <= 0


def tested(bench: Bench, target: Target, cause: str) -> list[dict[str, Any]]:
    """Return the rows of the viability tests: untreated seeds, dead as far as the lot is."""
    dead = 1 - bench.viable + (HELD if cause == "nonviable" else 0.0)
    intact = bench.untreated
    return [
        {
            "lot": test.lot,
            "treatment": intact,
            "method": test.method,
            "seeds": float(test.seeds),
            "alive": float(round(test.seeds * (1 - dead))),
        }
        for test in bench.tests
        if test.lot == target.place.lot
    ]
