"""The last part of step fit: what all experiments together say of each lot → its diagnosis, and its sheet."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

from hilum.diagnosis.model import COLUMNS, Findings, diagnose
from hilum.diagnosis.references import treatments
from hilum.settings import Settings
from hilum.steps import lot_sheet, written
from hilum.study import Study
from hilum.tables import checked

_OF_THE_SEEDS = ("germinated", "hard", "fresh", "dead")


def run(study: Study, settings: Settings) -> None:
    """Write diagnosis and lot sheets of the study from its checked tables and the estimates of its experiments."""
    experiments = sorted(p.name for p in study.checked.iterdir() if p.is_dir())
    path = study.checked / "treatments.csv"
    done = checked.read_checked(path, "treatments") if path.exists() else None
    lots = checked.read_checked(study.checked / "lots.csv", "lots")
    findings = {name: _findings(study, name) for name in experiments}
    found = diagnose(
        findings,
        lot_table=lots,
        treatment_table=done,
        confidence=settings.confidence,
        correlation_when_unknown=settings.dish_correlation_when_unknown,
    )
    rows = ([written.cell(getattr(row, column)) for column in COLUMNS] for row in found.rows)
    written.table(study.diagnosis.with_suffix(".csv"), COLUMNS, rows)
    written.drawing(study.diagnosis.with_suffix(".json"), found.drawing)
    tables = {name: own.tables for name, own in findings.items()}
    lot_sheet.run(study, settings, lots, tables, treatments(done))


def _findings(study: Study, name: str) -> Findings:
    files = sorted((study.checked / name).glob("*.csv"))
    tables = {p.stem: checked.read_checked(p, p.stem) for p in files}
    folder = study.estimates / name
    weighed = {}
    for row in _rows(folder / "imbibition.csv"):
        if row["quantity"] == "impermeable_fraction" and row["status"] == "estimated":
            limits = (float(row["value"]), float(row["low"]), float(row["high"]))
            weighed[row["lot"], row["treatment"]] = limits
    coats, told = _coats(folder / "imbibition.json"), _told(folder / "time_course.csv")
    return Findings(tables=tables, weighed=weighed, coats=coats, told=told)


def _told(path: Path) -> dict[tuple[str, str, str, str], dict[str, tuple[float, float, float]]]:
    """Return what a time course says of the seeds sown, by whose seeds they are."""
    found: dict[tuple[str, str, str, str], dict[str, tuple[float, float, float]]] = {}
    for row in _rows(path):
        if row["quantity"] in _OF_THE_SEEDS and row["status"] == "estimated":
            degrees = f"{float(row['temperature_c'] or 'nan'):g}"
            key = (row["lot"], row["treatment"], degrees, row["condition"])
            limits = (float(row["value"]), float(row["low"]), float(row["high"]))
            found.setdefault(key, {})[row["quantity"]] = limits
    return found


def _rows(path: Path) -> list[dict[str, str]]:
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _coats(path: Path) -> dict[str, str]:
    if not path.exists():
        return {}
    drawing: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return {str(coat["lot"]): str(coat["verdict"]) for coat in drawing["coats"]}
