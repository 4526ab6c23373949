"""A study of very many experiments, as a seed bank has them: half time courses, a quarter each temperatures and uptake."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from hilum.analyses.imbibition import truth as imbibition
from hilum.analyses.temperature import truth as temperature
from hilum.analyses.time_course import truth as time_course
from tests.demo import raw, truth, words

PER_LOT = 4
KINDS = ("time_course", "time_course", "temperature", "imbibition")
SOWN = ("dishes", "counts", "outcomes")


def study(folder: Path, experiments: int, *, seed: int) -> None:
    """Write the raw tables of so many experiments, four to a lot."""
    lots = [f"lot-{i:04d}" for i in range(-(-experiments // PER_LOT))]
    header, rows = words.LOTS
    raw.write(folder / "lots.csv", header, [(lot, *rows[0][1:]) for lot in lots])
    raw.write(folder / "treatments.csv", *words.TREATMENTS)
    for number in range(experiments):
        kind, lot = KINDS[number % len(KINDS)], lots[number // PER_LOT]
        rng = np.random.default_rng([seed, number])
        _experiment(folder / f"exp-{number:04d}", kind, _drawn(kind, lot, rng))


def _drawn(kind: str, lot: str, rng: np.random.Generator) -> Mapping[str, Mapping[str, np.ndarray]]:
    """Return the tables of one experiment of a lot."""
    if kind == "imbibition":
        coats = tuple(replace(coat, lot=lot) for coat in truth.UPTAKE.coats[:2])
        weighed = replace(truth.UPTAKE, coats=coats, mass_mg={lot: 180.0})
        return {"weighings": imbibition.simulate(weighed, rng=rng)["weighings"]}
    if kind == "temperature":
        warmed = replace(truth.TEMPERATURES, series=(replace(truth.SERIES, lot=lot),))
        drawn = temperature.simulate(warmed, rng=rng)
    else:
        courses = tuple(replace(c, lot=lot) for c in truth.GERMINATION.courses[:4])
        drawn = time_course.simulate(replace(truth.GERMINATION, courses=courses), rng=rng)
    return {name: drawn[name] for name in SOWN}


def _experiment(folder: Path, kind: str, tables: Mapping[str, Mapping[str, np.ndarray]]) -> None:
    for name, table in tables.items():
        raw.write(folder / f"{name}.csv", *raw.table(dict(table)))
    lines = [f"title: {folder.name}", f"analyses: [{kind}]", "source: invented"]
    lines += ["balance_readability_mg: 1"] if kind == "imbibition" else []
    (folder / "experiment.yaml").write_text("\n".join(lines) + "\n", encoding="utf-8")
