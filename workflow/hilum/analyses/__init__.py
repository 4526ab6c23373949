"""The registry: each folder here is one analysis, found by existing.

A folder holds `__init__.py` (its `ANALYSIS`), `model.py` (`fit`, `simulate`, `TRUTH`), `chart.py`
(`figures`) and `page.md.jinja`. Nothing here imports a model or a chart before it is asked for, so
that `fit` never pays for altair, nor `check` for the mathematics.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import ModuleType

from hilum.analyses.further import Further


@dataclass(frozen=True, kw_only=True)
class Source:
    """A published source: `key` is what pages cite, e.g. "Peleg 1988".

    `from_memory` tells developers what of it nobody looked up again; a report does not print it.
    """

    key: str
    text: str
    doi: str = ""
    from_memory: str = "volume and pages"


@dataclass(frozen=True, kw_only=True)
class Analysis:
    """What an analysis says of itself: the question it answers, the tables it needs and those it writes.

    `needs` names tables, or several of which one will do. `headlines` are the quantities that the calibration page shows
    first. `tables` are those beside its estimates: `<analysis>_<name>.csv`. `outdoors` where its plants may come to stand
    outdoors, so that its page brings that caution.
    """

    title: str
    question: str
    needs: tuple[str | tuple[str, ...], ...]
    uses: tuple[str, ...] = ()
    headlines: tuple[str, ...] = ()
    method: str  # sentences for the methods page, in the past tense, Markdown with $…$ formulas
    sources: tuple[Source, ...] = ()
    tables: Mapping[str, Further] = field(default_factory=dict)
    outdoors: bool = False


def names() -> tuple[str, ...]:
    """Return the names of all analyses, in alphabetical order."""
    return tuple(sorted(m.name for m in pkgutil.iter_modules(__path__) if m.ispkg))


def describe(name: str) -> Analysis:
    """Return what the analysis says of itself."""
    analysis = importlib.import_module(f"{__name__}.{name}").ANALYSIS
    assert isinstance(analysis, Analysis)  # noqa: S101
    return analysis


def model(name: str) -> ModuleType:
    """Return the model module (`fit`, `simulate`, `TRUTH`) of the analysis."""
    return importlib.import_module(f"{__name__}.{name}.model")


def chart(name: str) -> ModuleType:
    """Return the chart module (`figures`) of the analysis."""
    return importlib.import_module(f"{__name__}.{name}.chart")
