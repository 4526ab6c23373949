"""Where a report came from: code, packages, settings and raw files, for its page and for the crate."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from hilum.markup import address, escape
from hilum.report import grid
from hilum.report.pages import page
from hilum.settings import Settings, shown

# of the files that were changed, a page names so many
_NAMED = 12


@dataclass(frozen=True, kw_only=True)
class Made:
    """What made a report; nothing here tells when or on which machine.

    `raw` and `estimates` are files with their SHA-256, `ends` is the last day in the raw tables (empty where they
    tell none), `changed` are the files of the code that are not as the commit has them. `packages` are those that
    are installed, of the names that the lock asks for; `differing` those that are not as locked, with both versions.
    """

    version: str
    commit: str
    changed: Sequence[str]
    python: str
    lock: str
    packages: Mapping[str, str]
    differing: Mapping[str, tuple[str, str]]
    raw: Mapping[str, str]
    estimates: Mapping[str, str]
    ends: str


def provenance(made: Made, settings: Settings, study: str, cite: str) -> str:
    """Return the page that tells where a report came from."""
    return page(
        "provenance",
        made=made,
        cite=cite,
        state=_state(made),
        code=_code(made),
        packages=_grid(("package", "version"), made.packages.items(), "Packages of this run"),
        differing=_differing(made),
        settings=_settings(settings),
        raw=_files(
            [(_raw_link(file), sha) for file, sha in made.raw.items()], "Raw files and their hashes"
        ),
        estimates=_files(list(made.estimates.items()), "Tables of estimates and their hashes"),
        files=len(made.raw) + len(made.estimates),
        study=study,
    )


def hashes(made: Made) -> list[dict[str, str]]:
    """Return every file with its hash, as the rows of the table to take along."""
    kinds = {"raw": made.raw, "estimates": made.estimates}
    return [
        {"kind": kind, "file": file, "sha256": sha}
        for kind, files in kinds.items()
        for file, sha in files.items()
    ]


def _files(lines: Sequence[tuple[object, str]], label: str) -> Markup:
    """Return the first files with their hashes, and how many more the table to take along has."""
    left = len(lines) - grid.ROWS_SHOWN
    note = f"{left:,} more files are in hashes.csv." if left > 0 else ""
    return grid.grid(("file", "SHA-256"), lines[: grid.ROWS_SHOWN], label, note)


def _grid(heads: Sequence[str], lines: Any, label: str) -> Markup:
    return grid.grid(heads, list(lines), label)


def _state(made: Made) -> str:
    """Return in words whether the code is as its commit has it."""
    if not made.commit[:7].isalnum():
        return "The code is not under version control, so nobody can tell which it was."
    if not made.changed:
        return "The code is as this commit has it."
    named = ", ".join(made.changed[:_NAMED])
    more = len(made.changed) - _NAMED
    rest = f" and {more} more" if more > 0 else ""
    return f"Changed since this commit, and not committed: {named}{rest}. Commit before you cite."


def _code(made: Made) -> Markup:
    rows = {
        "Hilum": made.version,
        "commit": made.commit,
        "Python": made.python,
        "requirements.lock, SHA-256": made.lock,
    }
    return _grid(("what", "which"), rows.items(), "Code")


def _differing(made: Made) -> Markup | None:
    if not made.differing:
        return None
    lines = (
        (name, then or "not asked for", now or "not installed")
        for name, (then, now) in made.differing.items()
    )
    return _grid(("package", "lock", "this run"), lines, "Packages that are not as locked")


def _settings(settings: Settings) -> Markup | None:
    """Return the settings that are not as they come, none where all are."""
    changed = settings.changed()
    lines = ((name, shown(now), shown(usual)) for name, (usual, now) in changed.items())
    return (
        _grid(("key", "this run", "default"), lines, "Settings that differ from the defaults")
        if changed
        else None
    )


def _raw_link(file: str) -> Markup:
    """Return the name of a raw file, linked to its copy among the downloads."""
    *folder, name = file.split("/")
    place = address("data", *folder, *(["raw"] if folder else []), name)
    return Markup('<a href="{}" download>{}</a>').format(place, escape(file))
