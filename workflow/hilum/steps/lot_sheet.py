"""The part of step fit that writes the sheet of each lot → `lot_sheet.csv` and `lot_sheet.json`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from hilum.analyses import estimate as contract
from hilum.analyses.estimate import Tables
from hilum.diagnosis import lot_sheet
from hilum.diagnosis.references import Treatments
from hilum.settings import Settings
from hilum.steps import written
from hilum.study import Study
from hilum.tables import checked


def run(
    study: Study,
    settings: Settings,
    lots: Mapping[str, Any],
    experiments: Mapping[str, Tables],
    treatments: Treatments,
) -> None:
    """Write the sheets of the lots from the weighings of all experiments and from moisture.csv."""
    dried = study.checked / "moisture.csv"
    found = lot_sheet.sheets(
        lots,
        [tables["weighings"] for tables in experiments.values() if "weighings" in tables],
        treatments,
        checked.read_checked(dried, "moisture") if dried.exists() else None,
        confidence=settings.confidence,
    )
    estimates = [e for sheet in found.values() for e in sheet.estimates]
    rows = ([written.cell(getattr(e, c)) for c in contract.COLUMNS] for e in estimates)
    written.table(study.lot_sheet.with_suffix(".csv"), contract.COLUMNS, rows)
    facts = {lot: sheet.facts for lot, sheet in found.items()}
    written.drawing(study.lot_sheet.with_suffix(".json"), {"lots": facts})
