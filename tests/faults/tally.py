"""Damage of every kind, counted by what became of it, as a table that people can read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path

from hilum import progress
from tests.faults import cells, files, hostile, rows
from tests.faults.damage import KINDS, Kind
from tests.faults.door import through_the_door
from tests.faults.ground import Ground, demo, small
from tests.faults.judge import OUTCOMES, Bench, Verdict

# importing them registers their kinds
ROOMS = (cells, rows, files, hostile)
# a damage for which a study has no place, such as two inspections in one dish, is looked for this often
TRIES = 8


@dataclass
class Tally:
    """What became of each kind: counts by outcome, one example of each outcome, and every defect."""

    counts: dict[str, Counter[str]] = field(default_factory=dict)
    defects: list[tuple[str, Verdict]] = field(default_factory=list)

    def add(self, name: str, verdict: Verdict) -> None:
        """Count one verdict."""
        self.counts.setdefault(name, Counter())[verdict.outcome] += 1
        if verdict.outcome == "defect":
            self.defects.append((name, verdict))

    def join(self, other: Tally) -> None:
        """Add the counts of another tally."""
        for name, found in other.counts.items():
            self.counts.setdefault(name, Counter()).update(found)
        self.defects += other.defects

    def total(self) -> Counter[str]:
        """Return the counts of all kinds together."""
        return sum(self.counts.values(), Counter())


def each(bench: Bench, kind: Kind, number: int, seed: int) -> Iterable[Verdict]:
    """Yield the verdicts of so many damages of one kind, fewer where the study has no place for it."""
    found = 0
    for attempt in count():
        if found == number or attempt == number * TRIES:
            return
        verdict = bench.judge(kind, f"{seed} {bench.ground.name} {kind.name} {attempt}")
        if verdict:
            found += 1
            yield verdict


def tally(folder: Path, *, number: int, seed: int) -> Tally:
    """Return what becomes of `number` damages of each kind, in each of the two studies."""
    made = Tally()
    for ground in (small(), demo()):
        bench = Bench(folder / ground.name, ground)
        for kind in progress.through(KINDS.values(), len(KINDS)):
            for verdict in each(bench, kind, number, seed):
                made.add(kind.name, verdict)
    return made


def by_command(folder: Path, ground: Ground, *, seed: int, every: int) -> Tally:
    """Return what becomes of one damage of every so many kinds through the real command."""
    made = Tally()
    bench = Bench(folder / "door", ground)
    for kind in list(KINDS.values())[::every]:
        verdict = bench.judge(kind, f"{seed} {ground.name} {kind.name} 0", through_the_door)
        if verdict:
            made.add(kind.name, verdict)
    return made


def table(made: Tally) -> str:
    """Return the counts as a Markdown table."""
    lines = [f"| damage | {' | '.join(OUTCOMES)} |", f"| --- |{' ---: |' * len(OUTCOMES)}"]
    for name, found in made.counts.items():
        lines.append(f"| {name} | {' | '.join(str(found[o] or '') for o in OUTCOMES)} |")
    whole = made.total()
    lines.append(
        f"| **all {sum(whole.values())}** | {' | '.join(str(whole[o]) for o in OUTCOMES)} |"
    )
    return "\n".join(lines)


def reasons(made: Tally) -> str:
    """Return why damage of some kinds cannot be seen, as a list."""
    unseen = [KINDS[name] for name, found in made.counts.items() if found["unseen"]]
    return "\n".join(f"- {kind.name}: {kind.unseen}." for kind in unseen)


def page(made: Tally, command: Tally, fitted: str, kills: str, *, seed: int, number: int) -> str:
    """Return the counts as the page `counts.md`."""
    commanded = ", ".join(f"{command.total()[o]} {o}" for o in OUTCOMES)
    return f"""# What becomes of damaged studies

Made by `make faults` (`python -m tests.faults --seed {seed} --number {number}`): so many damages of each kind to a small
study with every table, and as many to the demo. *Refused*: each sentence names a file of the study, and one of them the
damaged one. *Harmless*: the checked tables are those of the undamaged study. *Remarked*: accepted with other tables, and a
remark says so. *Unseen*: accepted with other tables that are plausible data; the reasons stand below. *Defect*: a silent
change that should have been seen, a traceback, more than 20 s, or a file written outside the results. A test holds this
page to the kinds of damage and data sets that there are, and to no defect.

{table(made)}

Through the real command, in processes of its own: {commanded}.

## Why some damage cannot be seen

{reasons(made)}

## Random data sets through the fits

From sensible to absurd: nobody germinated, all at once, inspections seconds or years apart, one seed or ten thousand. Each
ends in estimates, brackets or named reasons; a failure is an exception, a warning of numpy, a number that is none, a value
outside its own limits, or a curve that is not at the top of its likelihood.

{fitted}

## Runs killed

{kills}
"""
