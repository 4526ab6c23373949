"""The sentences of this analysis: why there is no figure, what would settle it, and why a model was chosen."""

from __future__ import annotations

import numpy as np

from hilum.analyses.condition import number
from hilum.analyses.rounding import percent
from hilum.analyses.temperature.advice import Advice
from hilum.analyses.temperature.answers import Answer
from hilum.analyses.temperature.candidate import Candidate
from hilum.analyses.temperature.choice import Choice
from hilum.analyses.temperature.fractions import LEVEL, Fractions
from hilum.analyses.temperature.series import Sown
from hilum.stats.arrays import Array
from hilum.stats.candidates import RatioTest

_HARDLY = 0.95  # of the width; a smaller gain is not worth a new test
MOST_HARD = 0.1  # of the seeds; above it the times say when coats let water in
_WHY = {
    "one_rising": "Fewer than two germinating temperatures surely lie below the temperature from which more warmth no "
    "longer helps, so no line can be drawn down to the base.",
    "no_rise": "The germination rate does not surely rise with temperature, so the interval has no lower end.",
    "at_coolest": "The upper end is only the coolest temperature at which seeds germinated.",
    "flat": "The data hardly tell one base temperature from another a degree away.",
    "not_reached": "The rate may still rise up to the warmest temperature at which seeds germinated.",
    "one_falling": "Fewer than two germinating temperatures surely lie where more warmth slows germination.",
    "seeds_differ": "Seeds seem to differ in their base temperature, so no single one is that of the lot; the range holds that "
    "of the median seed, whichever way they differ. If the lot mixes harvests or mother plants, test them apart.",
    "no_fall": "The rate does not surely fall at the warmest temperatures.",
}
_WHY_BEND = {
    "one_rising": "Fewer than two germinating temperatures surely lie below it, so the rising line is not known.",
    "flat": "The data hardly tell where the curve bends.",
}
_SHARING: dict[Fractions, str] = {
    "one": "one germinable fraction",
    "cold apart": "a germinable fraction of its own for the coolest germinating temperature",
    "each": "a germinable fraction for each temperature",
}
_DIFFER = "seeds_differ"
_WARMER = ("not_reached", "one_falling", "no_fall")


def needs(answer: Answer, advice: Advice | None, warmest: float) -> str:
    """Return why an answer is no value, and what would settle it; empty where it is one."""
    if not answer.why:
        return ""
    if answer.why == _DIFFER:
        return _WHY[_DIFFER]
    if answer.why in _WARMER:
        return f"{_WHY[answer.why]} Add temperatures above {number(round(warmest, 1))} °C."
    return f"{_WHY[answer.why]} {_add(advice)}"


def needs_of_bend(answer: Answer, advice: Advice | None, warmest: float) -> str:
    """Return the same for a temperature at which the curve bends."""
    if answer.why not in _WHY_BEND:
        return needs(answer, advice, warmest)
    return f"{_WHY_BEND[answer.why]} {_add(advice)}"


def needs_of_time(answer: Answer, advice: Advice | None) -> str:
    """Return the same for the thermal time, which is counted from the base temperature."""
    if not answer.why:
        return ""
    if answer.why == _DIFFER:
        return "It is counted from the base temperature, in which seeds seem to differ."
    return f"It is counted from the base temperature, which is not pinned down. {_add(advice)}"


def _add(advice: Advice | None) -> str:
    if advice is None:
        return "Add cooler temperatures at which seeds still germinate."
    gain = (
        f"it should narrow the range from {_degrees(advice.now)} to about {_degrees(advice.then)}"
    )
    return f"Add {advice.seeds} seeds at {number(advice.temperature)} °C: {gain}."


def narrower(advice: Advice | None) -> str:
    """Return what would narrow an interval that is already one, empty where nothing would by much."""
    if advice is None:
        return "A cooler temperature at which seeds still germinate would narrow the interval."
    if advice.then > _HARDLY * advice.now:
        return ""
    return (
        f"{advice.seeds} more seeds at {number(advice.temperature)} °C should narrow the interval of the base "
        f"temperature from {_degrees(advice.now)} to about {_degrees(advice.then)}."
    )


def _degrees(width: float) -> str:
    return f"{width:.2g} °C" if width >= 0.95 else f"{width:.2f} °C"


def no_fit(sown: Sown) -> str:
    """Return why a series cannot be fitted at all, empty where it can."""
    temperatures = labels(sown)
    if len(temperatures) < 2:
        return (
            f"Only {temperatures[0]} was tested. Sow seeds of the same lot at three or more temperatures, two of "
            "them cool enough that germination is clearly slower."
        )
    if sown.series.germinated.sum() == 0:
        hours = float(sown.series.cells.last_h.max())
        return (
            f"No seed germinated at any of {len(temperatures)} temperatures ({temperatures[0]} to "
            f"{temperatures[-1]}) within {number(round(hours / 24, 1))} days. Cut seeds to see whether they are "
            "alive, and try opened seeds or warmer temperatures."
        )
    return ""


def hard(sown: Sown) -> str:
    """Return why seeds that stayed hard forbid a base temperature, empty where few did."""
    if sown.hard is None or sown.hard <= MOST_HARD:
        return ""
    return (
        f"{percent(sown.hard)} of the seeds stayed hard, so the times say when coats let water in rather than how fast "
        "seeds germinate. Use opened seeds (chipped or filed)."
    )


def still_rising(warmest: float) -> str:
    """Return what is missing for an optimum or a ceiling where the rate never fell."""
    return (
        f"Germination was not slower at {number(round(warmest, 1))} °C, the warmest temperature at which seeds germinated. "
        "Add warmer temperatures."
    )


def labels(sown: Sown) -> tuple[str, ...]:
    """Return how each temperature regime is called, coolest first: `15 °C`, `25/15 °C`."""
    series = sown.series
    first = [int(np.flatnonzero(series.regime == r)[0]) for r in range(series.regimes)]
    return tuple(_label(sown.temperature[j], sown.night[j], series.weight[j]) for j in first)


def _label(day: float, night: float, weight: Array) -> str:
    if np.isnan(night):
        return f"{number(day)} °C"
    return f"{number(day)}/{number(night)} °C ({number(round(24 * float(weight[0]), 1))} h warm)"


def name(candidate: Candidate) -> str:
    """Return what a candidate is called: `plateau, log-logistic`."""
    own = ", seeds differ in their base" if candidate.peak.model.own_bases else ""
    return f"{candidate.shape}, {candidate.peak.model.family.label}{own}"


def method(choice: Choice) -> str:
    """Return how the estimates were made, for the column of that name."""
    fractions = _SHARING[choice.sharing]
    assumed = " (dish spread assumed)" if choice.spread_assumed else ""
    return f"thermal time, {name(choice.chosen)}, {fractions}; profile likelihood widened for dish spread{assumed}"


def reason(choice: Choice) -> str:
    """Return why the chosen candidate was chosen."""
    chosen, best = choice.chosen, min(choice.candidates, key=lambda c: c.aic)
    if chosen is not best:
        return (
            f"{_among(choice)} {name(best)} model has the lowest AIC, but the data do not pin it down; the simpler "
            f"{name(chosen)} model lies only {chosen.aic - best.aic:.1f} above it."
        )
    others = [c.aic for c in choice.candidates if c.shape != chosen.shape]
    if not others:
        return "With so few germinating temperatures a straight line is all that can be fitted."
    gap = f"{min(others) - chosen.aic:.1f} below the next response"
    held = (
        ""
        if chosen.identifiable
        else " The data do not pin it down, so its base temperature is a range."
    )
    return f"{_among(choice)} {name(chosen)} model has the lowest AIC, scaled for dish spread: {gap}.{held}"


def _among(choice: Choice) -> str:
    return "Where seeds share one base, the" if choice.seeds_differ else "The"


def own_bases_reason(choice: Choice) -> str:
    """Return whether seeds differ in their base rather than in their thermal time, empty where nothing can tell."""
    best = min(choice.own_bases, key=lambda c: c.aic, default=None)
    if best is None:
        return ""
    gap = best.aic - min(c.aic for c in choice.candidates)
    if choice.seeds_differ:
        return (
            f"A model in which seeds differ in their base rather than in their thermal time fits better ({name(best)}): its AIC lies "
            f"{-gap:.1f} lower. The curve drawn is the best of those in which seeds share one base."
        )
    if gap < 0:
        return (
            f"Whether seeds differ in their base or in their thermal time the data cannot tell: the AIC of the former lies {-gap:.1f} "
            "lower, which is little."
        )
    return f"Models in which seeds differ in their base rather than in their thermal time fit no better: their AIC lies {gap:.1f} higher."


def chance(test: RatioTest) -> str:
    """Return the p value of a test: `p = 0.04`."""
    return f"p = {test.p:.2f}" if test.p >= 0.01 else "p < 0.01"


def fractions_reason(choice: Choice) -> str:
    """Return why the germinable fraction is one, or more than one."""
    test = choice.fractions
    if test is None:
        return "Seeds germinated at one temperature only, so there is one germinable fraction."
    p = chance(test)
    if choice.sharing == "cold apart":
        return (
            "At the coolest germinating temperature the test ended before half of the seeds expected there had germinated: few "
            "seeds that can germinate would look like slow ones, so it has a germinable fraction of its own. A longer test there "
            "would tell."
        )
    if choice.sharing == "each":
        return (
            f"The germinable fraction differs between temperatures ({p}, allowing for dish spread), so each has its own: one "
            "for all would shift the base temperature."
        )
    return (
        f"One germinable fraction serves for all temperatures ({p}, allowing for dish spread; each would have had its own "
        f"below {LEVEL:g})."
    )


def lost_reason(choice: Choice) -> str:
    """Return why temperatures without germination were left out, empty where they were not."""
    if not choice.left_out:
        return ""
    return (
        "Where nothing germinated some seeds should have, by every curve that fits the other temperatures (p < 0.01, allowing "
        "for dish spread): the ability to germinate was lost there, so these temperatures were left out."
    )


def fit_reason(choice: Choice) -> str:
    """Return how well the chosen response meets the rates of the single temperatures."""
    test = choice.fit
    if test is None:
        return "There are no more germinating temperatures than the curve has parameters, so nothing checks its shape."
    p = chance(test)
    if test.p < 0.05:
        return (
            f"The temperatures scatter about the curve by more than their dishes explain ({p}): another curve, or chambers that "
            "differ from their setting."
        )
    return f"The temperatures lie as close to the curve as their dishes allow ({p})."
