"""A study taken from raw tables to pages in one process: without pictures, search and site, which no figure needs."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any
from unittest.mock import patch

from hilum.figure import Figure
from hilum.report import render
from hilum.settings import Settings
from hilum.steps import check, fit, parallel, report
from hilum.study import Study
from hilum.tables.sentences import Faults
from tests.consistency.studies import Raw, write


@dataclass(frozen=True)
class Drawn:
    """A figure of the report: its page (an experiment, or a lot's page) and its analysis, `lot` for those of lots."""

    page: str
    analysis: str
    figure: Figure


@dataclass(frozen=True)
class Built:
    """A report: the study as typed, the folders, every figure, and what the check refused before it went through."""

    raw: Raw
    study: Study
    figures: Sequence[Drawn]
    refused: Sequence[str] = ()

    @cached_property
    def pages(self) -> Mapping[str, str]:
        """Return the Markdown of home, of lots and of experiments by address: `index`, `lots/brook`."""
        found = [
            self.study.pages / "index.md",
            *self.study.pages.glob("lots/*.md"),
            *self.study.pages.glob("experiments/*.md"),
        ]
        return {
            str(p.relative_to(self.study.pages).with_suffix("")): p.read_text(encoding="utf-8")
            for p in sorted(found)
        }

    @cached_property
    def diagnosis(self) -> Mapping[str, Any]:
        """Return the diagnosis as pages draw it."""
        found: Mapping[str, Any] = json.loads(
            self.study.diagnosis.with_suffix(".json").read_text(encoding="utf-8")
        )
        return found


def build(raw: Raw, folder: Path) -> Built:
    """Return the report of a study below a folder of its own.

    A study of sound tables that the check refuses is built once more without the analyses of experiments without counts,
    and the sentences are kept.
    """
    refused: list[str] = []
    try:
        return _built(raw, folder, refused)
    except Faults as faults:
        refused += faults.sentences
    asked = {
        name: wanted if "counts" in raw.tables[name] else ()
        for name, wanted in raw.analyses.items()
    }
    return _built(replace(raw, analyses=asked), folder / "again", refused)


def _built(raw: Raw, folder: Path, refused: list[str]) -> Built:
    home = write(raw, folder)
    study = Study(raw=home, results=folder / f"results-{raw.seed}")
    settings = Settings(study=home)
    figures: list[Drawn] = []
    with _without_pictures(figures):
        check.run(study, settings)
        fit.run(study, settings)
        report.run(study, settings)
    return Built(raw, study, figures, refused)


@contextmanager
def _without_pictures(figures: list[Drawn]) -> Iterator[None]:
    """Note each figure with its rows instead of drawing it, and work in this process alone."""
    files = render.files

    def noted(folder: Path, seen: Sequence[str], figure: Figure, analysis: str) -> Any:
        # jobs write beside their place, so that the name of the page is that of the folder as its page sees it
        figures.append(Drawn(seen[-1], analysis, figure))
        return files(folder, seen, figure, analysis)

    with ExitStack() as stack:
        stack.enter_context(patch.object(render, "picture", lambda spec: "<svg/>"))  # noqa: ARG005
        stack.enter_context(patch.object(render, "library", lambda: ""))
        stack.enter_context(patch.object(render, "files", noted))
        stack.enter_context(patch.object(parallel, "each", _in_turn))
        yield


def _in_turn(jobs: Sequence[parallel.Job], *, apart: bool = False) -> None:  # noqa: ARG001
    """Do jobs as the step would in processes of its own."""
    parallel.in_turn(jobs)
