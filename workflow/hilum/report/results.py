"""What the report is written from: experiments with their results, as read back from disk."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from hilum.analyses import Analysis
from hilum.analyses.estimate import Estimate

Row = Mapping[str, str]
# tables that say how many seeds to sow
_SOWINGS = frozenset({"sowing", "course_sowing"})


@dataclass(frozen=True, kw_only=True)
class Result:
    """One analysis of one experiment; `rows` are its further tables by name.

    What its charts draw is read when it is asked for, and not kept: that of a thousand experiments fills no memory.
    """

    name: str
    about: Analysis
    estimates: tuple[Estimate, ...]
    read_drawing: Callable[[], Any]
    rows: Mapping[str, Sequence[Row]]

    @property
    def drawing(self) -> Any:
        """Return what its charts and pages draw and say: its view."""
        return self.read_drawing()


@dataclass(frozen=True, kw_only=True)
class Experiment:
    """One experiment: what experiment.yaml says, its results, and the names of its files.

    `treatments` are the rows of treatments.csv that the experiment used; `lots` what the whole study says of each lot's coats, and
    holds of work on it. `remarks` are the check's sentences on its tables.
    """

    name: str
    about: Mapping[str, Any]
    results: tuple[Result, ...]
    treatments: Sequence[Row]
    raw_files: tuple[str, ...]
    checked_files: tuple[str, ...]
    estimate_files: tuple[str, ...]
    study_files: tuple[str, ...] = ()
    lots: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    remarks: Sequence[str] = ()

    @property
    def title(self) -> str:
        """Return the title that its person gave it."""
        return str(self.about["title"])

    @property
    def sows_outdoors(self) -> bool:
        """Return whether it tells of plants or sowings that may come to stand outdoors: what grows there may spread."""
        return any(r.about.outdoors or _SOWINGS & r.rows.keys() for r in self.results)

    @property
    def invented(self) -> bool:
        """Return whether the experiment says of itself that its data are invented."""
        return "invented" in str(self.about.get("source") or "").lower()
