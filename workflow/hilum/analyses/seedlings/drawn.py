"""What the charts and the page say of each lot and treatment, and the row of each seedling."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from hilum.analyses.printer import number_or_none
from hilum.analyses.seedlings.grown import Seedling, Siblings
from hilum.analyses.seedlings.late import LATE, Chances
from hilum.analyses.seedlings.pause import Pause, Stay, own_pause


def group(
    siblings: Siblings, pause: Pause, found: Sequence[Stay], late: Chances, strict: np.ndarray
) -> dict[str, Any]:
    """Return counts, verdict and traces of one lot and treatment."""
    rows = seedling_rows(siblings, pause, late, strict)
    states = [row["state"] for row in rows]
    return {
        "lot": siblings.lot,
        "treatment": siblings.treatment,
        "verdict": pause.verdict,
        "leaves": pause.leaves,
        "ratio": number_or_none(pause.ratio),
        "one_sided": pause.one_sided,
        "seedlings": len(siblings.seedlings),
        "trays": siblings.trays,
        "trayless": sum(not s.tray for s in siblings.seedlings),
        "leafless": sum(s.now == 0 and not np.isfinite(s.died) for s in siblings.seedlings),
        "most": siblings.most,
        "widest_gap_d": _gap(siblings),
        "last_d": max(s.last_d for s in siblings.seedlings),
        "resumed": states.count("grew on"),
        "in_pause": states.count("in the pause"),
        "before": states.count("before the pause"),
        "died": states.count("died"),
        "died_in_pause": sum(
            bool(np.isfinite(s.died)) and s.now == pause.leaves for s in siblings.seedlings
        ),
        "left_early": _left_early(siblings),
        "longest_so_far_d": max(
            (r["pause_at_least_d"] for r in rows if r["state"] == "in the pause"), default=None
        ),
        "late": [r["seedling"] for r in rows if r["later"] == "than 95 %"],
        "strictly_late": [r["seedling"] for r in rows if r["later"] == "than chance explains"],
        "stays": [_stay(stay) for stay in found],
        "seeds": [_trace(s, row) for s, row in zip(siblings.seedlings, rows, strict=True)],
    }


def _gap(siblings: Siblings) -> float | None:
    """Return the usual time between two looks."""
    steps = [float(x) for s in siblings.seedlings for x in np.diff(s.days)]
    return float(np.median(steps)) if steps else None


def _left_early(siblings: Siblings) -> int:
    """Return how many living seedlings nobody looked at to the end."""
    end = max(s.last_d for s in siblings.seedlings)
    return sum(bool(np.isnan(s.died) and s.last_d < 0.9 * end) for s in siblings.seedlings)


def _stay(stay: Stay) -> dict[str, Any]:
    spans = stay.spans
    return {"leaves": stay.leaves, "seedlings": len(spans), "ended": int(spans.ended.sum())}


def _trace(seedling: Seedling, row: dict[str, Any]) -> dict[str, Any]:
    return {
        "days": seedling.days.tolist(),
        "leaves": [int(n) for n in seedling.leaves],
        "died_d": number_or_none(seedling.died),
        **{k: row[k] for k in ("seedling", "state", "later")},
        **{k: row[k] for k in ("pause_leaves", "pause_at_least_d", "pause_at_most_d")},
    }


def seedling_rows(
    siblings: Siblings, pause: Pause, late: Chances, strict: np.ndarray
) -> list[dict[str, Any]]:
    """Return a row for each seedling: how far it came, its pause, and how late it is."""
    return [
        _row(s, pause, float(late.stage[i]), float(late.pause[i]), bool(strict[i]))
        for i, s in enumerate(siblings.seedlings)
    ]


def _row(
    seedling: Seedling, pause: Pause, by_stage: float, by_pause: float, strict: bool
) -> dict[str, Any]:
    leaves = pause.leaves if pause.found else own_pause(seedling)
    paused = leaves > 0 and seedling.now >= leaves
    low, high = seedling.stay(leaves) if paused else (np.nan, np.nan)
    plain = min(by_stage, by_pause) < LATE
    return {
        "seedling": seedling.name,
        "lot": seedling.lot,
        "treatment": seedling.treatment,
        "looks": len(seedling.days),
        "last_look_d": seedling.last_d,
        "leaves": seedling.now,
        "state": _state(seedling, pause),
        "pause_leaves": leaves if paused else None,
        "pause_at_least_d": number_or_none(low),
        "pause_at_most_d": number_or_none(high),
        "siblings_no_further": _chance(by_stage),
        "siblings_pausing_as_long": _chance(by_pause),
        "later": "than chance explains" if strict else "than 95 %" if plain else "no",
    }


def _chance(value: float) -> float | None:
    return None if value == 1 else float(f"{value:.3g}")


def _state(seedling: Seedling, pause: Pause) -> str:
    if np.isfinite(seedling.died):
        return "died"
    if not pause.found:
        return "alive"
    if seedling.now < pause.leaves:
        return "before the pause"
    return "in the pause" if seedling.now == pause.leaves else "grew on"
