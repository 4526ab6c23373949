"""What a crate holds and where: nothing else spells a name in it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from hilum.visible import hidden

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
    "config/README.md",
    "config/config.yaml",
    "config/plan.yaml",
    "environment.yml",
    "pyproject.toml",
    "requirements.lock",
)
CODE_FOLDERS = ("profiles", "site", "workflow")


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

    def made_alike(self, other: Run) -> bool:
        """Return whether the two name the same code, Python and packages: then they make the same files."""
        makers = ("hilum", "commit", "changed", "python", "packages")
        return all(getattr(self, one) == getattr(other, one) for one in makers)

    def record(self) -> dict[str, Any]:
        """Return what run.json holds."""
        return {"format": FORMAT, **asdict(self)}


def _text(value: object) -> bool:
    return isinstance(value, str) and not hidden(value)


def _texts(value: object) -> bool:
    return isinstance(value, list) and all(map(_text, value))


def _by_name(value: object) -> bool:
    return isinstance(value, dict) and all(name and _text(name) for name in value)


def _packages(value: object) -> bool:
    return isinstance(value, dict) and _by_name(value) and all(map(_text, value.values()))


def _folder(value: object) -> bool:
    """Return whether this can be the name of a study's folder: `..` leads out of a crate."""
    return (
        isinstance(value, str)
        and _text(value)
        and 0 < len(value.encode()) < 256
        and value not in (".", "..")
    )


# every other key of run.json holds a text
_KINDS = {"study": _folder, "changed": _texts, "packages": _packages, "settings": _by_name}


def run_of(record: Mapping[str, Any]) -> Run:
    """Return what a crate says of its run.

    Raises ValueError with a sentence where it cannot be read by this version.
    """
    made = record.get("format")
    if type(made) is not int or not isinstance(record.get("study"), str):
        raise ValueError(f"{RUN} does not say which format and which study this is")
    if made > FORMAT:
        newer = record.get("hilum") or "a newer version"
        raise ValueError(f"its format is {made}, made by Hilum {newer}; this one reads {FORMAT}")
    known = {name: record[name] for name in Run.__dataclass_fields__ if name in record}
    odd = [name for name, value in known.items() if not _KINDS.get(name, _text)(value)]
    if odd:
        raise ValueError(f"{RUN} does not hold under {', '.join(odd)} what a crate has there")
    return Run(**(known | {"changed": tuple(known.get("changed", ()))}))
