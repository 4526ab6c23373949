"""Treated against untreated seed of one store: the ratio of their half-viability periods."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from hilum.analyses.estimate import Estimate
from hilum.analyses.printer import Printer
from hilum.analyses.storage.falling import Falling
from hilum.analyses.storage.printed import Claim, claim
from hilum.stats import proportions

_HOW = "limits of the two half-viability periods combined on the logarithm"


def untreated(table: Mapping[str, np.ndarray] | None) -> set[str]:
    """Return the treatments that do nothing."""
    if table is None:
        return set()
    done = {str(t) for t, m in zip(table["treatment"], table["method"], strict=True) if m != "none"}
    return {str(t) for t in table["treatment"]} - done


def ratios(found: Sequence[Falling], plain: set[str]) -> list[Estimate]:
    """Return the ratio of each treatment to untreated seed of the same lot and store, tested alike."""
    made = []
    for one in found:
        lot, treatment, *place = one.kept.key
        beside = [
            other
            for other in found
            if (other.kept.key[0], *map(str, other.kept.key[2:])) == (lot, *map(str, place))
            and other.kept.key[1] in plain
        ]
        if treatment not in plain and beside:
            made.append(_ratio(one, beside[0]))
    return made


def _ratio(treated: Falling, plain: Falling) -> Estimate:
    printer = Printer(treated.kept.key, treated.confidence)
    mine, other = (claim(f, "half_viability_period") for f in (treated, plain))
    name = {"versus": plain.kept.key[1], "method": _HOW}
    if not (mine.needs or other.needs):
        value, low, high = np.exp(_log_difference(mine, other))
        return printer.estimated("half_viability_ratio", value, low, high, **name)
    # without both values the limits are those of the extremes
    low = mine.low / other.high
    high = mine.high / other.low if other.low > 0 else np.inf
    why = mine.needs or other.needs
    whose = treated if mine.needs else plain
    return printer.bracketed(
        "half_viability_ratio",
        low if low > 0 else np.nan,
        high,
        needs=f"{whose.kept.key[1]}: {why}",
        **name,
    )


def _log_difference(mine: Claim, other: Claim) -> np.ndarray:
    # MOVER of Zou and Donner (2008), on the logarithm, where half-viability periods lie evenly
    values, lows, highs = (
        (np.log([a]), np.log([b]))
        for a, b in (
            (mine.value, other.value),
            (max(mine.low, 1e-9), max(other.low, 1e-9)),
            (mine.high, other.high),
        )
    )
    return np.array(proportions.difference(values, lows, highs))[:, 0]
