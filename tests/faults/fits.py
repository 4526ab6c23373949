"""Random data sets through the fits: each ends in estimates or named reasons, and no number is nan."""

from __future__ import annotations

import json
import re
import traceback
import warnings
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from hilum import analyses
from hilum.analyses.estimate import Estimate, Fit
from hilum.settings import Settings
from hilum.steps import written
from tests.faults import curves
from tests.faults.nonsense import DRAWN

CURVES = 100_000
PROPORTIONS = 12_000
_HEAD = ("| fitted by | data sets | outcomes |", "| --- | ---: | --- |")
SETTINGS = Settings(study=Path("nowhere"))


@dataclass
class Stress:
    """What came out: data sets by analysis, estimates by analysis and status, and every failure."""

    sets: Counter[str] = field(default_factory=Counter)
    statuses: dict[str, Counter[str]] = field(default_factory=dict)
    failures: list[str] = field(default_factory=list)


def stress(name: str, *, studies: int, seed: int, made: Stress) -> None:
    """Fit so many studies of random lots by one analysis."""
    for study in range(studies):
        one(name, study=study, seed=seed, made=made)


def one(name: str, *, study: int, seed: int, made: Stress) -> None:
    """Fit one of these studies."""
    drawn, words = DRAWN[name], [seed, sum(map(ord, name)), study]
    found = _fit(name, drawn.draw(np.random.default_rng(words), drawn.lots))
    made.sets[name] += drawn.lots
    if isinstance(found, str):
        made.failures.append(f"{name}, seed {words}: {found}")
        return
    made.statuses.setdefault(name, Counter()).update(e.status for e in found.estimates)
    made.failures += [f"{name}, seed {words}: {says}" for says in _wrong(found)]


def stressed(*, share: float, seed: int) -> Stress:
    """Return what comes of that share of the data sets of the long run."""
    made = Stress()
    for name, drawn in DRAWN.items():
        stress(name, studies=max(round(drawn.studies * share), 1), seed=seed, made=made)
    found, wrong = curves.stress(round(CURVES * share), seed)
    made.sets["curves, in each of three families"] = round(CURVES * share)
    made.statuses["curves, in each of three families"] = found
    made.sets["proportions"] = round(PROPORTIONS * share)
    made.failures += wrong + curves.stress_proportions(round(PROPORTIONS * share), seed)
    return made


def _fit(name: str, tables: Mapping[str, Mapping[str, np.ndarray]]) -> Fit | str:
    """Return the fit, or the end of its traceback; a warning of numpy is a failure as well."""
    rng = np.random.default_rng(1)
    try:
        with np.errstate(divide="raise", over="raise", invalid="raise"), warnings.catch_warnings():
            warnings.simplefilter("error")
            found = analyses.model(name).fit(tables, settings=SETTINGS, rng=rng)
            assert isinstance(found, Fit)
            _ = found.drawing  # worked out when it is asked for, and by the same rules
            return found
    except Exception:
        return traceback.format_exc(limit=-6)


def _wrong(found: Fit) -> Iterator[str]:
    """Yield what no output may hold: a number that is none, or a value outside its own interval."""
    try:
        json.dumps(written.rounded(found.drawing), allow_nan=False)
    except ValueError as error:
        yield f"the drawing: {error}"
    for table, rows in found.rows.items():
        if any(isinstance(v, float) and not np.isfinite(v) for row in rows for v in row.values()):
            yield f"the table {table} holds a number that is none"
    yield from (f"{e}" for e in found.estimates if e.status == "estimated" and not _inside(e))


def _inside(e: Estimate) -> bool:
    if e.value is None or e.low is None or e.high is None:
        return False
    slack = 1e-9 * max(abs(e.value), 1.0)
    return e.low - slack <= e.value <= e.high + slack


def _rows(made: Stress) -> Iterator[tuple[str, int, str]]:
    """Yield what fitted, how many data sets, and what came of them in words."""
    for name, sets in made.sets.items():
        outcomes = sorted(made.statuses.get(name, Counter()).items())
        yield name, sets, ", ".join(f"{n} {o}" for o, n in outcomes).replace("_", " ")


def table(made: Stress) -> str:
    """Return the counts as a Markdown table."""
    return _table(_rows(made), len(made.failures))


def _table(rows: Iterable[tuple[str, int, str]], failures: int) -> str:
    told = list(rows)
    lines = [*_HEAD, *(f"| {name} | {sets} | {outcomes} |" for name, sets, outcomes in told)]
    return "\n".join([*lines, f"| **all** | {sum(n for _, n, _ in told)} | {failures} failures |"])


def renewed(page: str, made: Stress) -> str:
    """Return the page with these counts in the place of the former ones of the same fits, all others kept."""
    former = re.search(rf"{re.escape(_HEAD[0])}\n.*?(\d+) failures \|", page, re.DOTALL)
    assert former, "the page has no table of data sets"
    cells = (line.strip("| ").split(" | ") for line in former.group().splitlines()[2:-1])
    known = {name: (name, int(sets), " ".join(rest).rstrip(" |")) for name, sets, *rest in cells}
    known |= {row[0]: row for row in _rows(made)}
    order = [*DRAWN, *known]
    rows = [known[name] for name in dict.fromkeys(order) if name in known]
    return page.replace(former.group(), _table(rows, int(former.group(1)) + len(made.failures)))
