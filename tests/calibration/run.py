"""Simulate studies, fit them as `make site` would, and tally what came of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Executor
from pathlib import Path
from typing import Any

import numpy as np

from hilum import analyses
from hilum.settings import Settings
from tests.calibration import tally
from tests.calibration.designs import DESIGNS
from tests.calibration.tally import Printed

SETTINGS = Settings(study=Path("calibration"))
_TOGETHER = 10  # studies of one job


def study(name: str, number: int, seed: int) -> list[Printed]:
    """Return the figures of one study of a design."""
    design = DESIGNS[name]
    rng = np.random.default_rng([seed, number, *name.encode()])
    tables = design.draw(rng)
    fitted = analyses.model(design.analysis).fit(tables, settings=SETTINGS, rng=rng)
    found = tally.printed(number, fitted.estimates)
    return [*found, *design.further(number, fitted, rng)] if design.further else found


def _some(job: tuple[str, range, int]) -> list[Printed]:
    name, numbers, seed = job
    return [figure for number in numbers for figure in study(name, number, seed)]


def table(
    names: Iterable[str], *, studies: int, seed: int, pool: Executor | None = None
) -> Iterator[tuple[str, list[dict[str, Any]]]]:
    """Yield the rows of each design: the same whether or not processes of a pool share the studies."""
    if pool is None:
        for name in names:
            yield name, tally.rows(DESIGNS[name], studies, _some((name, range(studies), seed)))
        return
    yield from _shared(pool, list(names), studies, seed)


def _shared(
    pool: Executor, names: Sequence[str], studies: int, seed: int
) -> Iterator[tuple[str, list[dict[str, Any]]]]:
    parts = [range(i, min(i + _TOGETHER, studies)) for i in range(0, studies, _TOGETHER)]
    jobs = {name: [pool.submit(_some, (name, part, seed)) for part in parts] for name in names}
    for name, submitted in jobs.items():
        figures = [figure for job in submitted for figure in job.result()]
        yield name, tally.rows(DESIGNS[name], studies, figures)
