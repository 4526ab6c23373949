"""A plan in words: how prospects, designs and causes are told on its page and in its charts."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from hilum.analyses import rounding
from hilum.analyses.quantities import QUANTITIES
from hilum.diagnosis.words import CAUSES
from hilum.plan.expected.prospect import Prospect
from hilum.plan.expected.warm import Allocation
from hilum.plan.failure.causes import Told


def told(prospect: Prospect) -> str:
    """Return the seeds that a prospect is of."""
    if prospect.versus:
        return f"{prospect.treatment} against {prospect.versus}"
    return prospect.treatment


# of an end of a window the title of the quantity is a clause
_NAMES = {"window_low": "beginning of the window", "window_high": "end of the window"}


def named(prospect: Prospect) -> str:
    """Return what a prospect is of: `t50 of chipped`, `beginning of the window of acid`."""
    title = _NAMES.get(prospect.quantity, QUANTITIES[prospect.quantity].title)
    return f"{title} of {told(prospect)}"


def added_name(prospect: Prospect) -> str:
    """Return the name of the figure that tells what more dishes would do."""
    return f"{prospect.experiment}-{prospect.treatment}-added"


def shown(unit: str) -> tuple[float, str]:
    """Return what numbers of a unit are multiplied by when told, and the unit then."""
    return (100.0, "points") if unit == "fraction" else (1.0, unit)


def rounded(value: float, digits: int = 2) -> str:
    """Return a number with so many digits, as the pages round: `0.44`, `0.30`, `130`."""
    if value == 0:
        return "0"
    # 9.96 becomes 10, which has one decimal less
    near = float(rounding.rounded(value, _decimals(value, digits)))
    return rounding.shown(value, _decimals(near, digits))


def _decimals(value: float, digits: int) -> int:
    return digits - 1 - math.floor(math.log10(abs(value)))


def points(share: float) -> str:
    """Return a difference of shares: `15 points`, `12.5 points`."""
    return f"{_plain(100 * share, 3)} points"


def _plain(value: float, digits: int) -> str:
    """Return a number with so many digits at most."""
    return f"{float(rounded(value, digits)):.10g}"


def dishes(allocation: Allocation) -> str:
    """Return dishes at temperatures: `14 at 12.5 °C, 2 at 15.5 °C`."""
    return ", ".join(f"{n} at {t:g} °C" for t, n in sorted(allocation.items()))


def others(row: Told) -> str:
    """Return the causes that a cause would not be told from."""
    return " or ".join(CAUSES[name] for name in row.named if name != row.cause)


def verdict(row: Told) -> str:
    """Return whether a cause would be told."""
    if not row.possible:
        return "cannot happen: the treatment does no harm"
    if row.told_apart:
        return "told"
    if row.cause in row.named:
        return f"not told from {others(row)}"
    return f"taken for {others(row)}" if row.named else "not seen"


def cheapest(row: Told) -> str:
    """Return the cheapest addition that settles a cause, empty where none is needed."""
    if not row.possible or row.told_apart:
        return ""
    return row.cheapest.says if row.cheapest else "no two additions that were tried"


def mends_most(rows: Sequence[Told]) -> tuple[str, int] | None:
    """Return the addition that is the cheapest for most causes, and for how many; None where none is needed."""
    needed = [part for row in rows for part in cheapest(row).split("; ") if row.cheapest and part]
    counted = Counter(needed).most_common(1)
    return counted[0] if counted else None


def of_thousand(share: float) -> str:
    """Return a small part of seeds: `7 of 1000`, `0.3 of 1000`."""
    return f"{_plain(1000 * share, 2)} of 1000"


def hours(weighings: Sequence[float]) -> str:
    """Return the hours of weighings: `dry, 2, 8 and 24 h`."""
    *first, last = [f"{hour:g}" if hour else "dry" for hour in weighings]
    return f"{', '.join(first)} and {last} h"
