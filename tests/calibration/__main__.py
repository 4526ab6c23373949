"""`make calibrate`: simulate, fit, and write the table that the site shows.

`python -m tests.calibration --studies 40 --only plateau` shows some designs and writes nothing. The Snakefile beside this
file does the same as `make calibrate`, a job for each design, for many machines.
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import AbstractContextManager, nullcontext
from functools import partial
from pathlib import Path

# before numpy is imported: processes share the cores, not threads of linear algebra
os.environ["OMP_NUM_THREADS"] = "1"
os.environ["OPENBLAS_NUM_THREADS"] = "1"

from hilum import progress
from hilum.steps import parallel
from hilum.study import CALIBRATION
from tests.calibration import causes, planned, run, written
from tests.calibration.designs import DESIGNS
from tests.calibration.written import Row

STUDIES, SEED = 100, 1
DIAGNOSIS = "diagnosis"  # of all causes together: no design of one analysis
PLANNED = "plan"  # designs that a plan proposes


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.calibration", description=__doc__)
    parser.add_argument("--studies", type=int, default=STUDIES, help="studies of each design")
    parser.add_argument("--seed", type=int, default=SEED, help="seed of every random draw")
    parser.add_argument("--processes", type=int, default=parallel.cores())
    parser.add_argument("--only", default="", help="designs or analyses with this in their name")
    parser.add_argument("--folder", type=Path, default=CALIBRATION, help="where the table goes")
    parser.add_argument("--design", default="", help="this design alone")
    parser.add_argument("--into", type=Path, help="write what came of it there, for --gather")
    parser.add_argument("--gather", type=Path, nargs="+", help="write the table from such files")
    return parser.parse_args()


def _names(chosen: argparse.Namespace) -> list[str]:
    if chosen.design:
        return [chosen.design] if chosen.design in DESIGNS else []
    return [n for n, d in DESIGNS.items() if chosen.only in n or chosen.only == d.analysis]


def _plans(studies: int, seed: int) -> list[str]:
    return list(planned.lines(studies, seed))


def _pool(processes: int) -> AbstractContextManager[Executor | None]:
    return ProcessPoolExecutor(processes) if processes > 1 else nullcontext()


def _made(
    chosen: argparse.Namespace, names: Sequence[str], pool: Executor | None
) -> tuple[list[Row], list[Row]]:
    """Return the rows of all designs and of the diagnosis, and print what comes of each."""
    asked, start = chosen.design or chosen.only, time.monotonic()
    studies = {"studies": chosen.studies, "seed": chosen.seed}
    # plans are simulated one after the other, so that they begin first
    plans = partial(_plans, **studies) if PLANNED in (asked or PLANNED) else list
    told = plans if pool is None else pool.submit(plans).result
    rows: list[Row] = []
    for name, made in progress.through(run.table(names, **studies, pool=pool), len(names)):
        print(f"{name} ({time.monotonic() - start:.0f} s)", *map(written.line, made), sep="\n    ")
        rows += made
    diagnoses: list[Row] = []
    for one in causes.table(**studies, pool=pool) if DIAGNOSIS in (asked or DIAGNOSIS) else ():
        print(written.told(one))
        diagnoses.append(one)
    for line in told():
        print(line)
    return rows, diagnoses


def main() -> None:
    """Print what came of each design, and write the table of all of them."""
    chosen = _arguments()
    if chosen.gather:
        rows, diagnoses = written.gathered(chosen.gather)
        written.write(chosen.folder, rows, diagnoses, studies=chosen.studies, seed=chosen.seed)
        return
    names = _names(chosen)
    with _pool(chosen.processes) as pool:
        rows, diagnoses = _made(chosen, names, pool)
    if chosen.into:
        written.part(chosen.into, rows, diagnoses)
    elif names == list(DESIGNS):
        written.write(chosen.folder, rows, diagnoses, studies=chosen.studies, seed=chosen.seed)


if __name__ == "__main__":
    main()
