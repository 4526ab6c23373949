"""The part of `make plan` that reads a study that is finished, or still runs: its estimates and its checked tables."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from hilum.analyses.estimate import COLUMNS, Estimate, Tables
from hilum.settings import SettingsFault
from hilum.steps import report
from hilum.tables import checked

_NEEDED = ("dishes", "counts")
_USED = (*_NEEDED, "events", "outcomes")
_OF_STUDY = ("treatments",)


@contextmanager
def _readable(results: Path) -> Iterator[None]:
    """Refuse results that are not as a run leaves them: they may be another person's."""
    try:
        yield
    except (OSError, ValueError, KeyError, TypeError, csv.Error) as error:
        raise SettingsFault(
            f"{results}: its estimates or checked tables are not as a run leaves them ({error!s:.200}); "
            "run `make site` with its config file again."
        ) from error


def estimates(results: Path) -> list[Estimate]:
    """Return all estimates of a study. Raises SettingsFault where there are none."""
    folder = results / "estimates"
    # what a lot sheet knows, such as the mass of a seed, lies beside the experiments
    files = [*sorted(folder.glob("*/*.csv")), *folder.glob("lot_sheet.csv")]
    with _readable(results):
        rows = [row for path in files for row in report.rows_of(path)]
        found = [report.estimate(row) for row in rows if tuple(row) == COLUMNS]
    if not found:
        raise SettingsFault(
            f"{results}: no estimates of a study lie here; run `make site` with its config file first."
        )
    return found


def tables(results: Path) -> dict[str, Tables]:
    """Return the checked tables of each experiment with dishes that were inspected, with the treatments of the study."""
    found: dict[str, Tables] = {}
    study = {name: results / "checked" / f"{name}.csv" for name in _OF_STUDY}
    for folder in sorted(p for p in (results / "checked").glob("*/") if p.is_dir()):
        if all((folder / f"{name}.csv").exists() for name in _NEEDED):
            there = {name: folder / f"{name}.csv" for name in _USED} | study
            with _readable(results):
                found[folder.name] = {
                    name: checked.read_checked(path, name)
                    for name, path in there.items()
                    if path.exists()
                }
    return found
