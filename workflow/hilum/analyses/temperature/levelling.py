"""Whether the rate rises in a straight line or levels off, and what the page warns of.

A straight line drawn through a plateau is too flat: it puts the base temperature too low and the thermal time too high.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hilum.analyses.condition import number
from hilum.analyses.rounding import rounded
from hilum.analyses.temperature.answers import Answer
from hilum.analyses.temperature.candidate import Candidate
from hilum.analyses.temperature.choice import Choice
from hilum.analyses.temperature.words import chance
from hilum.stats import cardinal, response
from hilum.stats.arrays import Array
from hilum.stats.candidates import RatioTest, ratio_test

LEVEL = 0.05  # of the test of a straight line against a curve that levels off
_FEW = 4  # germinating temperatures; fewer lie near a straight line and near one that bends
_WRONG = "the base temperature is then too low and the thermal time too long"
_COOLER = "Add cooler temperatures, at which seeds still germinate but clearly more slowly."


@dataclass(frozen=True, kw_only=True)
class Levelling:
    """A straight line held against a curve that bends, both with the chosen family of times.

    `bend` (°C) is where the curve leaves the rising line, `beyond` (n,) the germinating temperatures above it, `base` (°C) that of
    the straight line, minus infinity where that does not rise.
    """

    test: RatioTest
    bend: float
    beyond: Array
    base: float

    @property
    def seen(self) -> bool:
        """Return whether the line is refused."""
        return self.test.p < LEVEL


def levelling(choice: Choice) -> Levelling | None:
    """Return how a straight line stands against the chosen curve, or against a plateau where the line itself was chosen.

    None where there are too few temperatures for a curve that bends.
    """
    line = _of_shape(choice, "linear")
    bent = choice.chosen if choice.chosen.shape != "linear" else _of_shape(choice, "plateau")
    if line is None or bent is None:
        return None
    curve = bent.peak.model.response
    assert curve is not None  # noqa: S101
    bend = float(bent.peak.parameters[curve.breaks[0]])
    warm = cardinal.sprouting_temperatures(choice.pool)
    test = ratio_test(
        line.peak.loglik,
        bent.peak.loglik,
        extra=bent.peak.model.size - line.peak.model.size,
        scale=choice.scale,
        dof=float(choice.components.dof[0]),
    )
    return Levelling(test=test, bend=bend, beyond=warm[warm > bend], base=_base(line))


def _of_shape(choice: Choice, shape: str) -> Candidate | None:
    family = choice.chosen.peak.model.family
    found = (c for c in choice.candidates if c.shape == shape and c.peak.model.family == family)
    return next(found, None)


def _base(line: Candidate) -> float:
    model = line.peak.model
    assert model.response is not None  # noqa: S101
    parameters = line.peak.parameters[: model.rate_parameters]
    return float(response.base_temperature(model.response, parameters))


def warning(choice: Choice, base: Answer, lowest_bend: float | None) -> str:
    """Return what to know of a straight line here, empty where one was drawn and nothing speaks against it.

    `lowest_bend` (°C) is the temperature up to which a chosen straight line surely rises, None where that is unknown. Where seeds differ in their base nothing is said: times that stop falling are also those of such seeds.
    """
    if choice.seeds_differ:
        return ""
    warm = cardinal.sprouting_temperatures(choice.pool)
    found = levelling(choice)
    if choice.chosen.shape != "linear":
        return _line_beside(found) if found else ""
    if base.why == "no_rise" and len(warm) > 1:
        return (
            f"From {_degrees(warm[0])} to {_degrees(warm[-1])} germination hardly gets faster, so all of these temperatures may lie "
            f"where more warmth no longer helps. A straight line through them finds a base far too low, or none. {_COOLER}"
        )
    if found and found.seen:
        return f"Germination seems to level off: {_no_faster(found)}. Where it does, a straight line is too flat: {_WRONG}. {_COOLER}"
    if 1 < len(warm) < _FEW:
        return (
            f"Seeds germinated at {_listed(warm)} only. With fewer than four temperatures nobody can tell a straight rise from one "
            f"that levels off, and a straight rise was taken. If seeds at {_degrees(warm[-1])} are no faster than a little cooler, "
            f"{_WRONG}. {_COOLER}"
        )
    if len(warm) >= _FEW and (lowest_bend is None or lowest_bend <= warm[-2]):
        return f"{_untold(lowest_bend)} If it does level off, {_WRONG}. {_COOLER}"
    return ""


def _untold(lowest_bend: float | None) -> str:
    told = "the data cannot tell a straight rise, which was taken, from one that levels off."
    if lowest_bend is None:
        return told.capitalize()
    return f"Up to {_degrees(lowest_bend)} more warmth surely makes seeds faster; above it {told}"


def _line_beside(found: Levelling) -> str:
    """Return what a straight line would have said where a curve that bends was chosen."""
    rises = np.isfinite(found.base)
    if found.seen:
        would = (
            f"would put the base temperature at {_degrees(found.base)}, too low, and the thermal time too long"
            if rises
            else "would find no base temperature"
        )
        return f"Do not draw one straight line through all temperatures: {_no_faster(found)}. Such a line {would}."
    other = f"puts the base temperature at {_degrees(found.base)}" if rises else "finds no base"
    return (
        f"That germination stops getting faster above {_degrees(found.bend)} is not sure ({chance(found.test)}, allowing for dish "
        f"spread): a straight line {other}. More temperatures on the rising part settle the base in either case."
    )


def _no_faster(found: Levelling) -> str:
    return (
        f"at {_listed(found.beyond)} seeds were no faster than at about {_degrees(found.bend)} ({chance(found.test)}, allowing "
        "for dish spread)"
    )


def _degrees(temperature: float) -> str:
    return f"{number(float(rounded(float(temperature), 1)))} °C"


def _listed(temperatures: Array) -> str:
    words = [number(float(rounded(float(t), 1))) for t in temperatures]
    return f"{' and '.join(filter(None, (', '.join(words[:-1]), words[-1])))} °C"
