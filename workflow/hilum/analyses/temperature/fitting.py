"""What the analysis found of one series, from which estimates and view are made."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from hilum.analyses.temperature.advice import Advice
from hilum.analyses.temperature.along import Along
from hilum.analyses.temperature.answers import Answer, Answers, Path
from hilum.analyses.temperature.choice import Choice
from hilum.analyses.temperature.logged import Course, Log
from hilum.analyses.temperature.series import Sown


@dataclass(frozen=True, kw_only=True)
class Fitting:
    """The fit of a series `measured` as its chambers were logged, and the base that their set points alone would give.

    `why_not` says why nothing is predicted; `courses` are those along which something is.
    """

    measured: Sown
    log: Log | None
    at_set_points: Answer | None
    choice: Choice
    answers: Answers
    path: Path
    advice: Advice | None
    bend: float | None
    why_not: str
    courses: Mapping[str, tuple[Course, Along]]
