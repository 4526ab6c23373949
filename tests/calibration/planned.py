"""Hold what plans expect against simulated studies, fitted as real ones are: half-widths, and what better designs gain.

`python -m tests.calibration.planned --studies 40` prints a line for each design over temperatures;
`python -m tests.calibration.planned --plan config/plan.yaml --studies 200` one for each quantity of a plan, as a table.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from hilum.analyses.quantities import QUANTITIES
from hilum.plan.advised import allocation, weighing
from hilum.plan.asked import design
from hilum.plan.asked.design import Plan
from hilum.plan.asked.experiments import Courses, Doses, Soaking, Storage, Temperatures
from hilum.plan.expected import (
    dosed,
    guessed,
    soaked,
    soaked_studies,
    stored,
    timed,
    warm_design,
    warm_limits,
)
from hilum.plan.expected.prospect import Prospect, Question, error_of_middle
from hilum.plan.expected.warm import Warm
from hilum.plan.shown import words
from hilum.plan.simulated import pool
from tests.demo.truth import TEMPERATURES

# the demo's own seeds and temperatures, within limits that a researcher could name
CORRELATION, HIGHEST_C, STEP_C, FEWEST, UNSURE_C = 0.05, 30.0, 0.5, 4, 0.5


def seeds() -> Warm:
    """Return the demo's seeds over temperatures, their dishes with an ordinary spread."""
    guessed = Warm(truth=TEMPERATURES, correlation=CORRELATION, confidence=0.95)
    log_time, logit = np.sqrt(guessed.components.variance)
    return guessed.with_dish_sd(float(log_time), float(logit))


def designs(lowest: float, dishes: int, temperatures: int) -> dict[str, dict[float, int]]:
    """Return evenly spaced dishes and those shared out best, as many, from the same lowest temperature on."""
    grid = np.arange(lowest, HIGHEST_C + STEP_C / 2, STEP_C)
    limits = allocation.Limits(grid=grid, fewest=FEWEST, most=temperatures)
    best = allocation.best(seeds(), dishes, limits, unsure=UNSURE_C)
    assert best is not None
    return {"evenly spaced": allocation.equal(limits, temperatures, dishes), "best": best}


def lines(studies: int, seed: int) -> Iterator[str]:
    """Yield a line for each design: half-width expected and simulated, and the gain over even spacing."""
    for lowest in (12.0, 12.5):
        for dishes, temperatures in ((28, 7), (20, 5)):
            even = np.nan
            for name, own in designs(lowest, dishes, temperatures).items():
                low, high, _ = warm_limits.limits(seeds(), own, seed=seed)
                rng = np.random.default_rng([seed, dishes, int(10 * lowest)])
                # the family of times is not known, as in a real study
                found = warm_design.simulated(seeds(), own, studies=studies, rng=rng, only=False)
                middle = float(np.quantile(found, 0.5, method="higher"))
                even = middle if name == "evenly spaced" else even
                yield (
                    f"{dishes} dishes from {lowest:g} °C, {name}: ± {(high - low) / 2:.3f} °C expected, "
                    f"± {middle:.3f} simulated ({100 * (1 - middle / even):.0f} % narrower than even), "
                    f"{100 * np.isfinite(found).mean():.0f} % of studies tell"
                )


# every quantity of a plan


def prospects(plan: Plan, studies: int, seed: int) -> Iterator[Prospect]:
    """Yield what a plan expects of each quantity, with the half-widths of so many studies."""
    for one in plan.experiments:
        for lot in one.lots:
            rng = np.random.default_rng([seed, len(one.experiment)])
            if isinstance(one, Courses):
                own = guessed.timed(plan, one, lot)
                widths = timed.simulated(own, studies=studies, rng=rng)
                for p in timed.prospects(own, seed=seed):
                    yield p.checked(widths[p.quantity, p.lot, p.treatment, p.versus])
            elif isinstance(one, Soaking):
                yield from _weighed(guessed.soaked(plan, one, lot), studies, rng)
            else:
                for treatment, quantity, unit, value, question in _questions(plan, one, lot):
                    low, high, why = question.limits(seed=seed)
                    yield Prospect(
                        quantity=quantity,
                        unit=unit,
                        lot=lot,
                        treatment=treatment,
                        experiment=one.experiment,
                        value=value,
                        low=low,
                        high=high,
                        why=why,
                    ).checked(question.simulated(studies=studies, rng=rng))


def _questions(
    plan: Plan, one: Temperatures | Doses | Storage, lot: str
) -> Iterator[tuple[str, str, str, float, Question]]:
    if isinstance(one, Doses):
        series = guessed.dosed(plan, one, lot)
        for name, quantity in (("best", "best_duration"), *((n, n) for n in dosed.WINDOW)):
            own = series.asking(name).calibrated(seed=1)
            yield one.method, quantity, "min", dosed.value(own), own
        return
    for treatment in one.treatments:
        if isinstance(one, Temperatures):
            own = guessed.warm(plan, one, treatment)
            question = warm_design.WarmDesign(own, one.allocation, one.dishes)
            yield treatment, "base_temperature", "°C", own.series.base, question
        else:
            kept = guessed.kept(plan, one, lot, treatment)
            yield treatment, "half_viability_period", "d", stored.half(kept), kept


def _weighed(own: soaked.Soaked, studies: int, rng: np.random.Generator) -> Iterator[Prospect]:
    told = soaked.foreseen(own, pool.drawn(own.truth, own.hours, rng), seed=1)
    seen = soaked_studies.simulated(own, studies=studies, rng=rng)
    for p, s in zip(weighing.prospects_of(own, told), seen, strict=True):
        yield p.checked(s.half_width)


def table(rows: Sequence[Prospect]) -> Iterator[str]:
    """Yield a table of expected and simulated half-widths."""
    yield "| quantity | seeds | expected | simulated | known to | apart | studies that tell |"
    yield "| --- | --- | --- | --- | --- | --- | --- |"
    for p in rows:
        scale, unit = words.shown(p.unit)
        apart = "" if p.why else f"{100 * (p.half_width / p.in_simulations - 1):+.0f} %"
        yield (
            f"| {QUANTITIES[p.quantity].title} | {p.experiment}: {words.told(p)} | {scale * p.half_width:.3g} {unit} "
            f"| {scale * p.in_simulations:.3g} | {100 * error_of_middle(p.simulated):.1f} % | {apart} | {100 * p.told:.0f} % |"
        )


def main() -> None:
    """Print what came of each design, or of each quantity of a plan."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--studies", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--plan", type=Path)
    chosen = parser.parse_args()
    if chosen.plan:
        found = list(prospects(design.load(chosen.plan), chosen.studies, chosen.seed))
        print("\n".join(table(found)))
        return
    for line in lines(chosen.studies, chosen.seed):
        print(line, flush=True)


if __name__ == "__main__":
    main()
