"""Hold what plans expect against simulated studies, fitted as real ones are: half-widths, and what better designs gain.

`python -m tests.calibration.planned --studies 40` prints a line for each design over temperatures.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator

import numpy as np

from hilum.plan import allocation, warm_design, warm_limits
from hilum.plan.warm import Warm
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


def main() -> None:
    """Print what came of each design."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--studies", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    for line in lines(chosen.studies, chosen.seed):
        print(line, flush=True)


if __name__ == "__main__":
    main()
