"""What lies in a study folder: the files to read, and everything that is in the wrong place."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from hilum.study import Study
from hilum.tables import TABLES, experiment, limits, of, sentences
from hilum.tables.column import Level
from hilum.tables.ledger import Source
from hilum.tables.sentences import Fault

_FOLDER_NAME = re.compile(r"\w[\w-]{0,79}")
# newer numbers may stand in one of these, and a table saved in one of these or as text was meant to be read
_SPREADSHEETS = {".xlsx", ".xlsm", ".xls", ".ods", ".numbers"}
_MEANT = _SPREADSHEETS | {".tsv", ".txt"}


@dataclass(frozen=True)
class Survey:
    """The files of a study: tables, experiment.yaml files by experiment, faults and remarks.

    `folder` is the study's folder as the user would type it. Each file is read once, so that all that is said of it is said
    of the same bytes, whoever saves it meanwhile: `read` is the SHA-256 of each, by its name in the study.
    """

    folder: str
    sources: tuple[Source, ...] = ()
    experiments: dict[str, bytes] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()
    notes: tuple[Fault, ...] = ()
    read: dict[str, str] = field(default_factory=dict)


class _Folder:
    """One folder of a study, looked at once."""

    def __init__(self, study: Study, shown: Path, experiment_name: str) -> None:
        self.path = study.raw / experiment_name
        self.shown = (shown / experiment_name).as_posix()
        self.name = experiment_name
        self.level: Level = "experiment" if experiment_name else "study"
        self.root = study.raw.resolve()
        self.faults: list[Fault] = []
        self.notes: list[Fault] = []
        self.read: dict[str, str] = {}

    def told(self, name: str) -> str:
        return f"{self.shown}/{name}"

    def contents(self, path: Path) -> bytes | None:
        """Return what is in a file if it is an ordinary one inside the study; tell it if not."""
        data = None
        try:
            inside = path.resolve().is_relative_to(self.root)
            ordinary = path.is_file()
            if inside and ordinary:
                data = path.read_bytes()
        except (OSError, RuntimeError) as error:
            reason = getattr(error, "strerror", None) or "a link that leads to itself"
            self._fault(path.name, f"cannot be read: {reason}")
            return None
        if not inside:
            self._fault(
                path.name, "is a link that leads out of the study folder; copy the file here"
            )
        elif not ordinary:
            self._fault(path.name, "is not a file")
        if data is not None:
            name = f"{self.name}/{path.name}" if self.name else path.name
            self.read[name] = hashlib.sha256(data).hexdigest()
        return data

    def _fault(self, name: str, says: str) -> None:
        self.faults.append(Fault(file=self.told(name), says=says))

    def sources(self) -> Iterator[Source]:
        """Yield the tables of the folder, and tell what else lies there."""
        tables = {t.file: t for t in of(self.level)}
        elsewhere = {t.file for t in TABLES.values()} - set(tables)
        names = sorted(p.name for p in self.path.iterdir() if p.name[0] not in ".~_")
        for name in names:
            path = self.path / name
            if name in tables:
                data = self.contents(path)
                if data is not None:
                    yield Source(tables[name], self.name, data, self.told(name))
            elif name in elsewhere:
                home = "an experiment's folder" if self.level == "study" else "the study folder"
                self._fault(name, f"belongs into {home}")
            else:
                self._stranger(path, list(tables), names)

    def _stranger(self, path: Path, tables: Sequence[str], names: Sequence[str]) -> None:
        suffix = path.suffix.lower()
        table = f"{path.stem.lower()}.csv"
        if suffix in _MEANT and table in tables and table not in names:
            self._fault(path.name, f"is not read; save it as {table}")
        elif suffix in _SPREADSHEETS:
            says = (
                "is a spreadsheet, and not read: where it holds newer numbers than the CSV files beside it, save its sheets as these; "
                "else keep it outside the study"
            )
            self.notes.append(Fault(file=self.told(path.name), says=says))
        elif suffix == ".csv":
            guess = sentences.meant(path.name, tables)
            if guess:
                self._fault(path.name, f"is not a table that is read; perhaps you meant {guess}")
            else:
                says = "is not a table that is read, so nothing was done with it"
                self.notes.append(Fault(file=self.told(path.name), says=says))


def survey(study: Study, shown: Path) -> Survey:
    """Return what lies in the study; `shown` is its folder as the user would type it."""
    faults = _no_folder(study, shown) or _too_large(study, shown)
    if faults:
        return Survey(shown.as_posix(), faults=tuple(faults))
    home = _Folder(study, shown, "")
    sources = list(home.sources())
    if not any(s.table.name == "lots" for s in sources) and not home.faults:
        says = "is missing; it lists the seed lots, one row a lot"
        home.faults.append(Fault(file=home.told("lots.csv"), says=says))
    faults, notes, read = home.faults, home.notes, home.read
    experiments: dict[str, bytes] = {}
    for name in study.experiments():
        folder = _Folder(study, shown, name)
        folder.faults += _folder_faults(folder)
        if not folder.faults:
            sources += folder.sources()
            experiments |= _experiment_file(folder)
        faults, notes, read = faults + folder.faults, notes + folder.notes, read | folder.read
    notes += _idle_folders(study, shown)
    if not study.experiments():
        says = f"holds no experiment, which is a folder with {experiment.FILE} and tables"
        faults.append(Fault(file=home.shown, says=says))
    return Survey(shown.as_posix(), tuple(sources), experiments, tuple(faults), tuple(notes), read)


def _no_folder(study: Study, shown: Path) -> list[Fault]:
    if study.raw.is_dir():
        return []
    what = "is not a folder" if study.raw.exists() else "does not exist"
    return [Fault(file=shown.as_posix(), says=f"the study folder {what}; config.yaml names it")]


def _too_large(study: Study, shown: Path) -> list[Fault]:
    """Return that the tables are more than a memory should be asked to hold, before one of them is read."""
    size = {p: p.stat().st_size for p in study.raw_files() if p.is_file()}
    total = sum(size.values())
    if total <= limits.MOST_BYTES:
        return []
    largest = max(size, key=lambda p: size[p])
    says = (
        f"is the largest of tables that hold {total / 1e6:,.0f} MB together; a study may have {limits.MOST_BYTES / 1e6:,.0f} MB, "
        "so deal its experiments out to several studies"
    )
    return [Fault(file=(shown / largest.relative_to(study.raw)).as_posix(), says=says)]


def _idle_folders(study: Study, shown: Path) -> list[Fault]:
    """Return a remark on each folder that is no experiment, or is passed over though it looks like one."""
    folders = (p.name for p in sorted(study.raw.iterdir()) if p.is_dir() and p.name[0] not in "._")
    says = f"holds neither {experiment.FILE} nor a CSV file, so it was passed over"
    experiments = set(study.experiments())
    idle = (name for name in folders if name not in experiments)
    return [Fault(file=(shown / name).as_posix(), says=says) for name in idle] + _hidden(
        study, shown
    )


def _hidden(study: Study, shown: Path) -> list[Fault]:
    tables = {experiment.FILE, *(t.file for t in of("experiment"))}
    says = "holds tables, but its name begins with {}, so it was passed over; rename it if it is to be read"
    folders = (p for p in sorted(study.raw.iterdir()) if p.name[0] in "._" and p.is_dir())
    return [
        Fault(file=(shown / p.name).as_posix(), says=says.format(p.name[0]))
        for p in folders
        if any((p / name).is_file() for name in tables)
    ]


def _folder_faults(folder: _Folder) -> list[Fault]:
    if not _FOLDER_NAME.fullmatch(folder.name):
        says = "is the name of an experiment, so it may have letters, digits, - and _ only"
        return [Fault(file=folder.shown, says=says)]
    if not folder.path.resolve().is_relative_to(folder.root):
        says = "is a link that leads out of the study folder; copy the folder here"
        return [Fault(file=folder.shown, says=says)]
    return []


def _experiment_file(folder: _Folder) -> dict[str, bytes]:
    path = folder.path / experiment.FILE
    if not path.is_symlink() and not path.exists():
        says = "is missing; it gives the experiment its title and lists its analyses"
        folder.faults.append(Fault(file=folder.told(experiment.FILE), says=says))
        return {}
    data = folder.contents(path)
    return {} if data is None else {folder.name: data}
