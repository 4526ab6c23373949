"""The sentences of this analysis: why a figure is missing, and what would settle it."""

from __future__ import annotations

from hilum.stats import durations
from hilum.stats.durations import Spans

ONE_SEEDLING = "one seedling says nothing of how others grow: follow at least ten of the same lot and treatment."
NO_LEAVES = "no seedling has a leaf yet: look on until most have three or more."
NO_PAUSE = "seedlings stay at no leaf number twice as long as at those beside it, so there is no pause to measure."
NOT_TOLD = (
    "whether they stay twice as long at one leaf number as at those beside it cannot be told: look every two or three days, "
    "and on until most seedlings have two leaves more."
)
SCATTERED = (
    "seedlings pause at different leaf numbers, so that they have no pause in common: read each seedling's own pause in the "
    "table of seedlings."
)


def leaves(number: int) -> str:
    """Return `1 leaf`, `2 leaves`."""
    return f"{number} leaf" if number == 1 else f"{number} leaves"


def no_value(why: str, kind: str, number: int, spans: Spans) -> str:
    """Return why a quantile of spans has no value; `kind` is leaf, stay or pause."""
    what = f"got {leaves(number)}" if kind == "leaf" else f"grew on from {leaves(number)}"
    ended, all_ = int(spans.ended.sum()), len(spans)
    if all_ == 1:
        return ONE_SEEDLING
    if why == "steep":
        return f"all seedlings that {what} did so within looks too far apart to see how they differ: look more often."
    if ended == 0:
        return f"no seedling {what} yet: look on."
    if why == "few":
        return (
            f"only {ended} of {all_} seedlings {what}: look on, or follow more; at least {durations.FEWEST} are needed, "
            "and ten are better."
        )
    return f"too few of the seedlings {what}, {ended} of {all_}: look on until nearly all have."
