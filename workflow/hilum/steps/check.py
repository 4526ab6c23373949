"""Step check: raw tables → checked tables, or every fault of the study as a sentence in check.txt.

The faults are the step's log. Checked tables appear all together or not at all, so that nothing is ever
computed from a study that has a fault; what earlier runs estimated and published stays as it was.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

from hilum import analyses, manifest
from hilum.settings import Settings
from hilum.study import REMARKS, Study, seen_from
from hilum.tables import checked
from hilum.tables.examine import Examined, examine
from hilum.tables.sentences import Faults


def run(study: Study, settings: Settings) -> None:  # noqa: ARG001 - every step takes the settings
    """Check the study and write its checked tables and manifest.

    Raises Faults with every fault of the study, after writing them to check.txt; no checked table is then
    left.
    """
    _claim(study)
    study.manifest("check").unlink(missing_ok=True)
    # first of all, so that what is saved or added while the check reads is another one at the next start
    before = manifest.hashes(study.raw, study.raw_files())
    found = examined(study)
    _write_lines(study.check_log, found.faults)
    _write_lines(study.check_notes, found.notes)
    if found.faults:
        manifest.remove(study.checked)
        raise Faults(found.faults, study.check_log)
    with manifest.replaced(study.checked) as folder:
        write_tables(folder, found)
    manifest.keep(study.manifest("raw"), {**before, **found.read})
    manifest.write(study.manifest("check"), [study.checked])


def examined(study: Study) -> Examined:
    """Return the raw tables as read, with their faults."""
    needs = {name: analyses.describe(name).needs for name in analyses.names()}
    return examine(study, shown(study.raw), needs)


def _claim(study: Study) -> None:
    """Write down whose results these are, and refuse to put another study of the same name in their place."""
    mine = seen_from(study.results, study.raw)
    owner = study.owner.read_text(encoding="utf-8") if study.owner.exists() else mine
    if owner != mine:
        other = seen_from(Path.cwd(), study.results / owner)
        says = (
            f"{study.results} holds the results of {other}, another study whose folder has the same name; "
            f"rename one of the two folders, or delete {study.results}."
        )
        _write_lines(study.check_log, [says])
        raise Faults([says], study.check_log)
    manifest.put(study.owner, mine)


def shown(raw: Path) -> Path:
    """Return the study folder as the person at the keyboard would type it.

    Outside the folder where they stand it is the study's own name: what is written must not depend on
    where a checkout lies.
    """
    here = Path.cwd()
    return raw.relative_to(here) if raw.is_relative_to(here) else Path(raw.name)


def _write_lines(path: Path, lines: Sequence[str]) -> None:
    manifest.put(path, "".join(f"{line}\n" for line in lines))


def write_tables(folder: Path, found: Examined) -> None:
    """Write the checked tables into a folder."""
    # one with a fault in its experiment.yaml is not among them, but its tables are worth comparing
    for name in found.ledger.experiments:
        (folder / name).mkdir()
    tables: dict[str, list[str]] = {name: [] for name in found.ledger.experiments}
    spelled = checked.spell(found.ledger.names)
    for rows in found.ledger.rows.values():
        for number, sheet in enumerate(rows.sheets):
            experiment = sheet.source.experiment
            own = rows.of_sheet(number)
            # a table without rows is as if it were not there
            if own.start < own.stop:
                (folder / experiment).mkdir(exist_ok=True)
                checked.write(folder / experiment / rows.table.file, rows, own, spelled)
                tables.setdefault(experiment, []).append(rows.table.name)
    _write_json(folder / REMARKS, [asdict(remark) for remark in found.remarks])
    for name in found.ledger.experiments:
        about = _about(found, name, sorted(tables[name]))
        _write_json(folder / name / "experiment.json", about)


def _write_json(path: Path, data: object) -> None:
    text = json.dumps(data, indent=1, sort_keys=True, ensure_ascii=False, allow_nan=False)
    path.write_text(text + "\n", encoding="utf-8", newline="\n")


def _about(found: Examined, name: str, tables: Sequence[str]) -> dict[str, object]:
    """Return what experiment.yaml says, with the accepted faults at their lines."""
    about = found.ledger.experiments[name].model_dump(exclude={"known_faults"})
    accepted = [fault.record() for fault in found.accepted.get(name, ())]
    accepted.sort(key=lambda record: (record["table"], record["line"]))
    unfilled = {table: n for (table, home), n in sorted(found.unfilled.items()) if home == name}
    idle = {"waiting": dict(found.waiting[name]), "unfilled": unfilled} if unfilled else {}
    return about | {"accepted": accepted, "tables": list(tables)} | idle
