"""`make calibrate`: simulate, fit, and write the table that the site shows.

`python -m tests.calibration --studies 40 --only plateau` shows some designs and writes nothing. The Snakefile beside this
file does the same as `make calibrate`, a job for each design, for many machines.
"""

from __future__ import annotations

import argparse
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from hilum.study import CALIBRATION
from tests.calibration import causes, planned, run, written
from tests.calibration.designs import DESIGNS

STUDIES, SEED = 100, 1
DIAGNOSIS = "diagnosis"  # of all causes together: no design of one analysis
PLANNED = "plan"  # designs that a plan proposes


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.calibration", description=__doc__)
    parser.add_argument("--studies", type=int, default=STUDIES, help="studies of each design")
    parser.add_argument("--seed", type=int, default=SEED, help="seed of every random draw")
    parser.add_argument("--processes", type=int, default=run.cores())
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


def main() -> None:
    """Print what came of each design, and write the table of all of them."""
    chosen, rows = _arguments(), []
    if chosen.gather:
        rows, diagnoses = written.gathered(chosen.gather)
        written.write(chosen.folder, rows, diagnoses, studies=chosen.studies, seed=chosen.seed)
        return
    names = _names(chosen)
    start = time.monotonic()
    # plans are simulated beside the designs, one after the other
    aside = ProcessPoolExecutor(1)
    plans = PLANNED in (chosen.design or chosen.only or PLANNED)
    told = aside.submit(_plans, chosen.studies, chosen.seed) if plans else None
    for name, made in run.table(
        names, studies=chosen.studies, seed=chosen.seed, processes=chosen.processes
    ):
        print(f"{name} ({time.monotonic() - start:.0f} s)", *map(written.line, made), sep="\n    ")
        rows += made
    diagnoses = []
    if DIAGNOSIS in (chosen.design or chosen.only or DIAGNOSIS):
        for made in causes.table(
            studies=chosen.studies, seed=chosen.seed, processes=chosen.processes
        ):
            print(written.told(made))
            diagnoses.append(made)
    if told is not None:
        print(*told.result(), sep="\n")
    aside.shutdown()
    if chosen.into:
        written.part(chosen.into, rows, diagnoses)
    elif names == list(DESIGNS):
        written.write(chosen.folder, rows, diagnoses, studies=chosen.studies, seed=chosen.seed)


if __name__ == "__main__":
    main()
