"""What a crate holds and where: nothing else spells a name in it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

# raised where an older reader would misread a crate; readers take every format up to their own
FORMAT = 1
METADATA = "ro-crate-metadata.json"
PACKAGE = "datapackage.json"
RUN = "run.json"
SUMS = "SHA256SUMS"
README = "README.md"
CONFIG = "config.yaml"
CITATION = "citation.txt"
SOURCES = "sources.bib"
METHODS = "methods.md"
DATA, CHECKED, ESTIMATES, REPORT, CODE = "data", "checked", "estimates", "report", "code"
WORKFLOW = f"{CODE}/workflow/Snakefile"
LOCK = f"{CODE}/requirements.lock"
# what `make site` needs of a checkout, and what a reader asks for
CODE_FILES = (
    "CHANGELOG.md",
    "CITATION.cff",
    "Containerfile",
    "DEVELOPERS.md",
    "LICENSE",
    "Makefile",
    "README.md",
    "Snakefile",
    "environment.yml",
    "pyproject.toml",
    "requirements.lock",
)
CODE_FOLDERS = ("config", "profiles", "site", "workflow")


@dataclass(frozen=True, kw_only=True)
class Run:
    """What a crate says of its run; what an older one does not say is empty.

    `packages` are those installed, of the names in the lock; `settings` those of the run but the study's place;
    `ends` is the last day of the raw tables.
    """

    study: str
    hilum: str = ""
    commit: str = ""
    changed: tuple[str, ...] = ()
    python: str = ""
    packages: Mapping[str, str] = field(default_factory=dict)
    settings: Mapping[str, Any] = field(default_factory=dict)
    ends: str = ""

    def record(self) -> dict[str, Any]:
        """Return what run.json holds."""
        return {"format": FORMAT, **asdict(self)}


def run_of(record: Mapping[str, Any]) -> Run:
    """Return what a crate says of its run.

    Raises ValueError with a sentence where it cannot be read by this version.
    """
    made = record.get("format")
    if not isinstance(made, int) or not isinstance(record.get("study"), str):
        raise ValueError(f"{RUN} does not say which format and which study this is")
    if made > FORMAT:
        newer = record.get("hilum") or "a newer version"
        raise ValueError(f"its format is {made}, made by Hilum {newer}; this one reads {FORMAT}")
    known = {name: record[name] for name in Run.__dataclass_fields__ if name in record}
    return Run(**(known | {"changed": tuple(known.get("changed", ()))}))
