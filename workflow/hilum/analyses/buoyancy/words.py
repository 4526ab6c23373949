"""The sentences of this analysis: why a figure is missing, and what would settle it."""

from __future__ import annotations

from hilum.analyses.buoyancy.sample import Sample
from hilum.analyses.printer import hours

NOBODY_LOOKED = (
    "nobody wrote whether single seeds float: enter yes or no under floats in weighings.csv, "
    "a row for each seed and hour."
)
NO_FATES = (
    "nobody knows what became of these seeds: sow them, cut or stain what is left, and enter each seed in outcomes.csv "
    "under its own name."
)
NO_DEAD = (
    "no seed was found dead, so it cannot be seen whether dead ones float: cut or stain the seeds that did not "
    "germinate, or try a lot with more dead seeds."
)
NO_LIVE = "no seed was found alive, so it cannot be seen whether live ones float."
NONE_FLOATED = "no seed of known fate floated at this hour."
NONE_SANK = "no seed of known fate had sunk at this hour."


def no_half(sample: Sample, value: float, low: float, high: float) -> str:
    """Return why the time to sinking of half of the seeds has no interval, empty where it has one."""
    first, last = hours(float(sample.hours[0])), hours(float(sample.hours[-1]))
    if low > 0 and high == high:
        return ""
    at_once = sample.hours[0] <= 0
    if not (sample.last_float_h > 0).any() and not (sample.last_float_h == 0).any():
        if at_once:
            return "no seed was seen floating, from 0 h on: there is no time of sinking to tell."
        return (
            f"no seed was seen floating: look earlier than {first}, if it matters when they sink."
        )
    if not (sample.sunk_by_h < float("inf")).any():
        return f"no seed had sunk for good by {last}: look for longer, or open the coats."
    if value <= sample.hours[0] and at_once:
        return "half of the seeds sank at once, at 0 h: there is no time of sinking to tell."
    if value <= sample.hours[0]:
        return f"half of the seeds had sunk by the first look, at {first}: look earlier."
    if value != value:
        return f"fewer than half of the seeds had sunk for good by {last}: look for longer."
    return "too few seeds to say when half of them sink: follow more."
