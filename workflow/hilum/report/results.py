"""What the report is written from: experiments with their results, as read back from disk."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from hilum.analyses import Analysis
from hilum.analyses.estimate import Estimate

Row = Mapping[str, str]


@dataclass(frozen=True, kw_only=True)
class Result:
    """One analysis of one experiment; `rows` are its further tables by name."""

    name: str
    about: Analysis
    estimates: tuple[Estimate, ...]
    drawing: Mapping[str, Any]
    rows: Mapping[str, Sequence[Row]]


@dataclass(frozen=True, kw_only=True)
class Experiment:
    """One experiment: what experiment.yaml says, its results, and the names of its files.

    `treatments` are the rows of treatments.csv that the experiment used.
    """

    name: str
    about: Mapping[str, Any]
    results: tuple[Result, ...]
    treatments: Sequence[Row]
    raw_files: tuple[str, ...]
    checked_files: tuple[str, ...]
    estimate_files: tuple[str, ...]
    study_files: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        """Return the title that its person gave it."""
        return str(self.about["title"])

    @property
    def sows_outdoors(self) -> bool:
        """Return whether it predicts sowings along courses of temperature: what grows there may spread."""
        return any("course_sowing" in result.rows for result in self.results)

    @property
    def invented(self) -> bool:
        """Return whether the experiment says of itself that its data are invented."""
        return "invented" in str(self.about.get("source") or "").lower()
