"""The study in one screen: per lot and treatment, what was found, where, and how sure it is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from hilum.analyses.estimate import Estimate
from hilum.report.results import Experiment

# does water get in, how many germinate, how many stay hard, how fast, from which temperature on
HEADLINES = ("impermeable_fraction", "germinated", "hard", "t50", "base_temperature")


@dataclass(frozen=True)
class Finding:
    """One figure of the summary and the experiment that it comes from."""

    estimate: Estimate
    experiment: Experiment


@dataclass(frozen=True)
class Line:
    """What is known of one treatment of a lot: findings by quantity, one for each experiment."""

    treatment: str
    findings: dict[str, list[Finding]]


def _last(estimates: Sequence[Estimate]) -> list[Estimate]:
    """Keep, of a quantity told at several times, the last one."""
    latest = max((e.at for e in estimates if e.at is not None), default=None)
    return [e for e in estimates if e.at == latest]


def _place(estimate: Estimate) -> tuple[float | None, str]:
    return estimate.temperature_c, estimate.condition


def _best_place(estimates: Sequence[Estimate]) -> Callable[[Estimate], bool]:
    """Return a test for the condition in which most seeds germinated, where there are several."""
    counted = [e for e in estimates if e.quantity == "germinated" and e.value is not None]
    if not counted:
        return lambda _: True
    best = _place(max(counted, key=lambda e: (e.value or 0.0, -(e.temperature_c or 0.0))))
    return lambda e: e.temperature_c is None or _place(e) == best


def _headline(estimates: Sequence[Estimate], quantity: str) -> list[Estimate]:
    """Return the one estimate of a quantity that stands for all conditions, or none."""
    own = [e for e in estimates if e.quantity == quantity and not e.versus]
    found = list(filter(_best_place(estimates), _last(own)))
    # where germinated seeds were not counted, the warmth in which they were fastest
    found.sort(key=lambda e: (e.value is None, e.value))
    return found[:1]


def _of_treatment(experiments: Sequence[Experiment], lot: str, treatment: str) -> Line:
    findings: dict[str, list[Finding]] = {quantity: [] for quantity in HEADLINES}
    for experiment in experiments:
        for result in experiment.results:
            own = [e for e in result.estimates if (e.lot, e.treatment) == (lot, treatment)]
            for quantity in HEADLINES:
                found = _headline(own, quantity)
                findings[quantity] += [Finding(e, experiment) for e in found]
    return Line(treatment, findings)


def place(finding: Finding) -> str:
    """Return the temperature and condition of a finding in words, empty where it is tied to none."""
    estimate = finding.estimate
    warmth = "" if estimate.temperature_c is None else f"{estimate.temperature_c:g} °C"
    return ", ".join(part for part in (warmth, estimate.condition) if part)


def usual_place(lines: Sequence[Line]) -> tuple[str, bool]:
    """Return the place of most findings that have one, and whether some have another."""
    findings = (f for line in lines for found in line.findings.values() for f in found)
    places = Counter(name for f in findings if (name := place(f)))
    usual = max(places, key=places.__getitem__, default="")
    return usual, len(places) > 1


def of_lot(experiments: Sequence[Experiment], lot: str, treatments: Sequence[str]) -> list[Line]:
    """Return one line for each treatment of the lot that has a headline figure, in the order given."""
    lines = (_of_treatment(experiments, lot, treatment) for treatment in treatments)
    return [line for line in lines if any(line.findings.values())]
