"""The whole check: every raw table of a study read, held against its rules and the others, and told.

Stages: what lies there (`survey`), what experiment.yaml says (`experiment`, `known_faults`), each cell
(`read`, `cells`), each column (`schema`), each table and all together (`RULES`). Nothing stops at the first
fault: a bad cell is missing for what follows, and its row is marked so that its consequences are not told.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, tzinfo
from pathlib import Path

import numpy as np

from hilum.study import Study
from hilum.tables import (
    MODULES,
    TABLES,
    awaited,
    between,
    chambers,
    counts,
    known_faults,
    limits,
    needed,
    remarks,
    schema,
    sentences,
    sums,
    survey,
    temperature_courses,
    times,
    weighings,
)
from hilum.tables import experiment as experiment_
from hilum.tables import read as read_
from hilum.tables.experiment import Experiment
from hilum.tables.known_faults import Accepted
from hilum.tables.ledger import Finding, Ledger, Names, Sheet, Source, stack
from hilum.tables.needed import Needs
from hilum.tables.remarks import Remark
from hilum.tables.sentences import Fault
from hilum.tables.split import CUT

Rule = Callable[[Ledger], Iterable[Finding]]


@dataclass(frozen=True)
class Examined:
    """A study after the check: its tables, accepted faults by experiment, faults and remarks in words.

    `waiting` has for each experiment the analyses that have no row yet, and the tables that they wait for; `unfilled` how many rows
    of each table of each experiment are not filled in yet. `notes` are all remarks, `remarks` those that no other part of a page
    tells. `read` is the SHA-256 of each raw file as it was read.
    """

    ledger: Ledger
    accepted: Mapping[str, Sequence[Accepted]]
    waiting: Mapping[str, Mapping[str, str]]
    unfilled: Mapping[tuple[str, str], int]
    faults: tuple[str, ...]
    notes: tuple[str, ...]
    remarks: tuple[Remark, ...]
    read: Mapping[str, str]


@dataclass
class _Work:
    """What is gathered on the way."""

    found: survey.Survey
    needs: Needs
    names: Names = field(default_factory=Names)
    experiments: dict[str, Experiment] = field(default_factory=dict)
    accepted: dict[str, list[Accepted]] = field(default_factory=dict)
    corrections: dict[str, dict[int, read_.Correction]] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    notes: list[Fault] = field(default_factory=list)
    elsewhere: list[Fault] = field(default_factory=list)
    waiting: Counter[tuple[str, str]] = field(default_factory=Counter)
    idle: dict[str, dict[str, str]] = field(default_factory=dict)

    def yaml_shown(self, name: str) -> str:
        """Return the path of an experiment.yaml as the user would type it."""
        return f"{self.found.folder}/{name}/{experiment_.FILE}"


def examine(study: Study, shown: Path, needs: Needs) -> Examined:
    """Return the study's tables with all faults; `shown` is its folder as the user would type it.

    `needs` names the known analyses, and what each cannot do without.
    """
    found = survey.survey(study, shown)
    work = _Work(found, needs, faults=list(found.faults), notes=list(found.notes))
    _read_experiments(work)
    _accept(work)
    sheets = _without_awaited(work, _without_left_out(work, _read_sheets(work)))
    ledger = _ledger(work, sheets)
    _need_tables(work, ledger)
    for finding in list(_columns(ledger)):
        _tell(work, finding, "column")
        schema.set_missing(finding)
    _store(ledger)
    for rule in _rules():
        for finding in list(rule(ledger)):
            _tell(work, finding, rule.__name__)
    work.notes += remarks.remarks(ledger)
    return Examined(
        ledger=ledger,
        accepted=work.accepted,
        waiting=work.idle,
        unfilled=work.waiting,
        faults=_in_words(work, work.faults),
        notes=_in_words(work, [*work.notes, *work.elsewhere]),
        remarks=tuple(_placed(work, fault) for fault in _typed(work, work.notes)),
        read=found.read,
    )


def _read_experiments(work: _Work) -> None:
    for name, data in work.found.experiments.items():
        about, faults = experiment_.read(data)
        shown = work.yaml_shown(name)
        work.faults += [
            Fault(file=shown, line=f.line, says=f.says, rule=f"{i}") for i, f in enumerate(faults)
        ]
        if about:
            work.experiments[name] = about
            if not data.endswith((b"\n", b"\r")):
                work.notes.append(Fault(file=shown, says=CUT))
            work.faults += _analyses(about, tuple(work.needs), shown)


def _analyses(about: Experiment, known: Sequence[str], shown: str) -> Iterator[Fault]:
    """Yield each analysis that does not exist or is asked for twice."""
    for name in dict.fromkeys(about.analyses):
        if name not in known:
            guess = sentences.meant(name, known)
            perhaps = f"; perhaps you meant {guess}" if guess else ""
            says = (
                f"analyses lists {sentences.quoted(name)}, which is not an analysis; known are "
                f"{', '.join(known)}{perhaps}"
            )
            yield Fault(file=shown, says=says)
        if about.analyses.count(name) > 1:
            yield Fault(file=shown, says=f"analyses lists {sentences.quoted(name)} twice")


def _accept(work: _Work) -> None:
    """Find the row of each known fault, and turn it into a correction for the reader."""
    sources = {(s.experiment, s.table.name): s for s in work.found.sources}
    for name, about in work.experiments.items():
        work.accepted[name] = []
        for table in dict.fromkeys(fault.table for fault in about.known_faults):
            source = sources.get((name, table)) or sources.get(("", table))
            faults = [fault for fault in about.known_faults if fault.table == table]
            if source is None:
                work.faults.append(_no_such_table(work, name, table))
                continue
            accepted, complaints = known_faults.accept(source, faults)
            shown = work.yaml_shown(name)
            work.faults += [Fault(file=shown, says=f"known_faults: {says}") for says in complaints]
            work.accepted[name] += accepted
            work.elsewhere += [
                Fault(file=source.shown, line=a.line, says=f"{a.told()}: {a.fault.why}")
                for a in accepted
            ]
            own = work.corrections.setdefault(source.shown, {})
            for fault in accepted:
                if own.setdefault(fault.line, fault.correction()) != fault.correction():
                    says = f"known_faults: another experiment says otherwise of line {fault.line}"
                    work.faults.append(Fault(file=shown, says=f"{says} of {source.shown}"))


def _no_such_table(work: _Work, name: str, table: str) -> Fault:
    guess = sentences.meant(table, list(TABLES))
    perhaps = f"; perhaps you meant {guess}" if guess and guess != table else ""
    says = f"known_faults: there is no {sentences.quoted(table)} table here{perhaps}"
    return Fault(file=work.yaml_shown(name), says=says)


def _read_sheets(work: _Work) -> list[Sheet]:
    sheets = []
    for source in work.found.sources:
        zone = _zone(work, source)
        own = work.corrections.get(source.shown)
        sheet, faults, notes = read_.read(source, work.names, zone=zone, corrections=own)
        work.faults += faults
        work.notes += notes
        sheets.append(sheet)
        if not len(sheet.lines) and not faults:
            work.notes.append(Fault(file=source.shown, says="has no rows below its header"))
    return sheets


def _zone(work: _Work, source: Source) -> tzinfo | None:
    """Return the time zone of clock times in a file, any where experiment.yaml could not be read."""
    about = work.experiments.get(source.experiment)
    if about is None:
        return UTC if source.experiment else None
    return experiment_.zone(about.time_zone) if about.time_zone else None


def _without_left_out(work: _Work, sheets: list[Sheet]) -> list[Sheet]:
    """Return the sheets without the dishes and seeds that a left-out row takes with it."""
    by_experiment: dict[str, list[Sheet]] = {}
    for sheet in sheets:
        by_experiment.setdefault(sheet.source.experiment, []).append(sheet)
    for name, accepted in work.accepted.items():
        for column, subject in (a.subject for a in accepted if a.subject):
            own = by_experiment.get(name, [])
            by_experiment[name] = _without(own, column, work.names.code(subject))
    return [sheet for own in by_experiment.values() for sheet in own]


def _without(sheets: Sequence[Sheet], column: str, code: int) -> list[Sheet]:
    seeds = _seeds_of_dish(sheets, code) if column == "dish" else []
    gone = [_is(s, column, [code]) | (_is(s, "seed", seeds) & ~_has_dish(s)) for s in sheets]
    return [awaited.without(s, rows) for s, rows in zip(sheets, gone, strict=True)]


def _is(sheet: Sheet, column: str, codes: Sequence[int]) -> np.ndarray:
    if column not in sheet.columns:
        return np.zeros(len(sheet.lines), dtype=bool)
    return np.isin(sheet.columns[column], codes)


def _has_dish(sheet: Sheet) -> np.ndarray:
    return ~_is(sheet, "dish", [0]) if "dish" in sheet.columns else _is(sheet, "dish", [])


def _seeds_of_dish(sheets: Sequence[Sheet], dish: int) -> list[int]:
    weighed = [s for s in sheets if s.source.table.name == "weighings" and "seed" in s.columns]
    return [int(code) for s in weighed for code in s.columns["seed"][_is(s, "dish", [dish])]]


def _without_awaited(work: _Work, sheets: Sequence[Sheet]) -> list[Sheet]:
    """Return the sheets without what nobody filled in yet, which analyses then do not wait for."""
    waiting = awaited.set_aside(sheets, work.names)
    work.elsewhere += waiting.notes
    work.waiting = waiting.tables
    return waiting.sheets


def _ledger(work: _Work, sheets: Sequence[Sheet]) -> Ledger:
    rows = {
        name: stack(table, [s for s in sheets if s.source.table.name == name], work.names)
        for name, table in TABLES.items()
    }
    return Ledger(work.names, rows, work.experiments)


def _need_tables(work: _Work, ledger: Ledger) -> None:
    """Tell the tables that are missing; what an analysis waits for is remarked, and the analysis left out."""
    read = {(s.table.name, s.experiment) for s in work.found.sources}
    work.faults += needed.referred(ledger, read, work.found.folder)
    there = needed.present(ledger)
    for name, about in list(work.experiments.items()):
        shown, waiting = f"{work.found.folder}/{name}", dict[str, str]()
        for analysis, lacks in needed.lacking(about.analyses, work.needs, name, there).items():
            if needed.waits(lacks, name, work.waiting):
                waiting[analysis] = needed.awaited(lacks, name, work.waiting)
                work.elsewhere.append(needed.waiting_told(analysis, waiting[analysis], shown))
            else:
                work.faults.append(needed.told(analysis, lacks, shown))
        running = tuple(a for a in about.analyses if a not in waiting)
        work.experiments[name] = about.model_copy(update={"analyses": running})
        work.idle[name] = waiting


def _columns(ledger: Ledger) -> Iterator[Finding]:
    for name in TABLES:
        yield from schema.failures(ledger, name)


def _store(ledger: Ledger) -> None:
    """Fill in what empty cells stand for, and turn every form into the stored one."""
    for rows in ledger.rows.values():
        for column in (c for c in rows.table.columns if c.default is not None):
            values = rows[column.name]
            values[np.isnan(values)] = column.default
    times.store(ledger)
    counts.store(ledger)
    temperature_courses.store(ledger)
    weighings.store(ledger)


def _rules() -> Sequence[Rule]:
    of_tables = [rule for module in MODULES for rule in module.RULES]
    return [*limits.RULES, *times.RULES, *of_tables, *between.RULES, *chambers.RULES, *sums.RULES]


def _tell(work: _Work, finding: Finding, rule: str) -> None:
    work.faults.append(finding.fault(rule))
    finding.rows.bad[finding.row] = True


def _in_words(work: _Work, faults: Sequence[Fault]) -> tuple[str, ...]:
    """Return the sentences, with the cells as typed."""
    return tuple(sentences.sentence(fault) for fault in _typed(work, faults))


def _typed(work: _Work, faults: Sequence[Fault]) -> list[Fault]:
    """Return the faults that are told, with the cells as typed."""
    told = sentences.shorten(sentences.once_each(faults))
    wanted: dict[str, set[int]] = {}
    for fault in (f for f in told if f.column):
        wanted.setdefault(fault.file, set()).add(fault.line)
    typed = {
        s.shown: read_.rows_at(s, wanted[s.shown]) for s in work.found.sources if s.shown in wanted
    }
    return [_corrected(work, f) for f in sentences.with_values(told, typed)]


def _placed(work: _Work, fault: Fault) -> Remark:
    """Return a remark with its experiment, and the file as it is called there."""
    inside = fault.file.removeprefix(f"{work.found.folder}/")
    home, _, name = inside.rpartition("/")
    if home not in work.experiments:
        return Remark("", sentences.sentence(replace(fault, file=inside)))
    return Remark(home, sentences.sentence(replace(fault, file=name)))


def _corrected(work: _Work, fault: Fault) -> Fault:
    """Return the fault with the value that experiment.yaml put in the cell, if it did."""
    correction = work.corrections.get(fault.file, {}).get(fault.line)
    if correction is None or fault.column not in correction.use:
        return fault
    value = correction.use[fault.column]
    return replace(fault, value=value, says=f" (by known_faults in experiment.yaml){fault.says}")
