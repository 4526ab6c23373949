"""Write the table of coverage, and what was run for it."""

from __future__ import annotations

import csv
import json
import platform
from collections.abc import Mapping, Sequence
from importlib.metadata import version
from pathlib import Path
from typing import Any

from hilum import manifest
from hilum.steps import fit
from tests.calibration.designs import DESIGNS
from tests.calibration.run import SETTINGS

Row = Mapping[str, Any]


def line(row: Mapping[str, Any]) -> str:
    """Return one row as a line to read while the others are computed."""
    told = f"{row['quantity']}: {row['estimated']} of {row['figures']} with an interval"
    if row["estimated"]:
        told += f", {100 * row['coverage']:.1f} % hold the truth (± {200 * row['monte_carlo_error']:.1f})"
        told += f", it lies below {row['truth_below']} and above {row['truth_above']}"
    if row["bracketed"]:
        told += f"; {row['brackets_holding_the_truth']} of {row['bracketed']} brackets hold it"
    return told


def told(row: Mapping[str, Any]) -> str:
    """Return a row of the diagnosis as a line to read."""
    return (
        f"diagnosis, {row['case']}, {row['spread']}: of {row['studies']} all causes within limits in "
        f"{row['all_within_limits']}, the main one named in {row['names_the_main_cause']}, alone in "
        f"{row['names_it_alone']}, another alone in {row['names_one_wrongly']}"
    )


def part(path: Path, rows: Sequence[Row], diagnoses: Sequence[Row]) -> None:
    """Write what came of one design, to be gathered with the others."""
    path.parent.mkdir(parents=True, exist_ok=True)
    text = json.dumps({"rows": rows, "diagnoses": diagnoses}, ensure_ascii=False)
    path.write_text(text, encoding="utf-8")


def gathered(paths: Sequence[Path]) -> tuple[list[Row], list[Row]]:
    """Return the rows and the diagnoses of parts, in the order of the designs."""
    parts = [json.loads(path.read_text(encoding="utf-8")) for path in paths]
    place = {name: number for number, name in enumerate(DESIGNS)}
    rows = [row for made in parts for row in made["rows"]]
    rows.sort(key=lambda row: place[row["design"]])
    return rows, [row for made in parts for row in made["diagnoses"]]


def write(
    folder: Path,
    rows: Sequence[Mapping[str, Any]],
    diagnoses: Sequence[Mapping[str, Any]],
    *,
    studies: int,
    seed: int,
) -> None:
    """Write coverage.csv, diagnosis.csv and run.json."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, made in (("coverage", rows), ("diagnosis", diagnoses)):
        if not made:
            continue
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, list(made[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(made)
    text = json.dumps(about(studies, seed), indent=1, ensure_ascii=False)
    (folder / "run.json").write_text(text + "\n", encoding="utf-8")


def about(studies: int, seed: int) -> dict[str, Any]:
    """Return what was run: everything that the table depends on."""
    packages = {name: version(name) for name in ("hilum", "numpy", "scipy")}
    return {
        "studies": studies,
        "seed": seed,
        "confidence": SETTINGS.confidence,
        "python": ".".join(platform.python_version_tuple()[:2]),
        "packages": packages,
        "code": manifest.digest(fit.code()),
        "designs": [
            {
                "name": design.name,
                "analysis": design.analysis,
                "about": design.about,
                "within": design.within,
                "identified": design.identified,
            }
            for design in DESIGNS.values()
        ],
    }
