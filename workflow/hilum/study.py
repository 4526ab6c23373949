"""All paths of a study and of its results: nothing else spells a folder or a file name."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from hilum.settings import SettingsFault

# page templates and assets of every study
SITE = Path(__file__).resolve().parents[2] / "site"
# how often the printed intervals held the truth in simulated studies, made by `make calibrate`
CALIBRATION = SITE / "calibration"
# who wrote this, which version it is and when it was released
CITATION = SITE.parent / "CITATION.cff"
# every package of a run, by version and hash
LOCK = SITE.parent / "requirements.lock"
STAGES = ("check", "fit", "report", "publish")
# the crate is asked for by itself
RULES = (*STAGES, "crate")
# in the folder of checked tables: what the check remarked, for the pages
REMARKS = "remarks.json"
# whose manifests a stage is made from
BEFORE = {
    "check": (),
    "fit": ("check",),
    "report": ("check", "fit"),
    "publish": ("report",),
    "crate": STAGES,
}


def seen_from(folder: Path, path: Path) -> str:
    """Return a path as seen from a folder; as it is where none leads there, as between two drives of Windows."""
    try:
        return os.path.relpath(path, folder)
    except ValueError:
        return str(path)


@dataclass(frozen=True)
class Study:
    """Name every path that a run reads below `raw` and writes below `results`."""

    raw: Path
    results: Path

    def __post_init__(self) -> None:
        """Refuse raw tables that lie where results are written: a run would replace them."""
        if self.raw.resolve().is_relative_to(self.results.resolve()):
            raise SettingsFault(
                f"{self.raw}: the study lies in the folder of its results, {self.results}, which a run "
                "replaces; move the study elsewhere."
            )

    @property
    def name(self) -> str:
        """Return the study's name, which is its folder's."""
        return self.raw.name

    def experiments(self) -> tuple[str, ...]:
        """Return the names of the experiment folders: those that hold an experiment.yaml or a CSV."""
        folders = (p for p in sorted(self.raw.iterdir()) if p.is_dir() and p.name[0] not in "._")
        return tuple(
            p.name for p in folders if any(p.glob("experiment.yaml")) or any(p.glob("*.csv"))
        )

    def raw_files(self) -> tuple[Path, ...]:
        """Return every raw file that a run may read, in order."""
        found = [*self.raw.glob("*.csv"), *self.raw.glob("*/*.csv"), *self.raw.glob("*/*.yaml")]
        return tuple(sorted(p for p in found if p.is_file()))

    def manifest(self, stage: str) -> Path:
        """Return the manifest of a stage: the hashes of what it made."""
        return self.results / "manifests" / f"{stage}.json"

    def key(self, stage: str) -> Path:
        """Return the file that holds the hash of all that a stage was made from."""
        return self.manifest(stage).with_suffix(".key")

    def parts(self, stage: str, parts: int) -> tuple[Path, ...]:
        """Return the manifest of each part of a stage, none where it is done in one."""
        return tuple(self.manifest(f"{stage}-{n}") for n in range(1, parts + 1) if parts > 1)

    def log(self, stage: str) -> Path:
        """Return what a stage said."""
        return self.results / "logs" / f"{stage}.txt"

    def benchmark(self, stage: str) -> Path:
        """Return the time and memory that a stage took, which no two runs share."""
        return self.results / "benchmarks" / f"{stage}.tsv"

    @property
    def check_log(self) -> Path:
        """Return the faults of the raw tables, one sentence a line, empty when there are none."""
        return self.results / "check.txt"

    @property
    def check_notes(self) -> Path:
        """Return the remarks of the check that are no faults."""
        return self.results / "check-notes.txt"

    @property
    def owner(self) -> Path:
        """Return the file that says where the raw tables of these results lie."""
        return self.results / ".study"

    @property
    def checked(self) -> Path:
        """Return the folder of checked tables."""
        return self.results / "checked"

    @property
    def estimates(self) -> Path:
        """Return the folder of estimates."""
        return self.results / "estimates"

    @property
    def diagnosis(self) -> Path:
        """Return the diagnosis of all lots, without a suffix: a table (.csv) and what pages draw (.json)."""
        return self.estimates / "diagnosis"

    @property
    def lot_sheet(self) -> Path:
        """Return the sheets of all lots, without a suffix: a table (.csv) and what pages say of it (.json)."""
        return self.estimates / "lot_sheet"

    @property
    def charts(self) -> Path:
        """Return the folder of chart specifications and pictures."""
        return self.results / "charts"

    @property
    def lot_charts(self) -> Path:
        """Return the folder of each lot's charts; no experiment can be called so."""
        return self.charts / "_lots"

    @property
    def seed_charts(self) -> Path:
        """Return the folder of what the page of single seeds draws; no experiment can be called so."""
        return self.charts / "_seeds"

    @property
    def pages(self) -> Path:
        """Return the folder of generated Markdown pages."""
        return self.results / "pages"

    @property
    def site(self) -> Path:
        """Return the folder of the built site, which opens from a disk."""
        return self.results / "site"

    @property
    def crate(self) -> Path:
        """Return the folder that can be cited: everything of a run, and what repeats it."""
        return self.results / "crate"

    @property
    def crate_zip(self) -> Path:
        """Return the same as one file."""
        return self.results / "crate.zip"
