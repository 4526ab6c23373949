"""Limits of a profile likelihood: where −2 log likelihood ratio crosses its threshold."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from hilum.stats.arrays import Array

_DOUBLINGS = 40
_TURNS = 60


def _bracket(
    rise: Callable[[Array], Array], start: Array, step: Array, edge: Array, threshold: Array
) -> tuple[Array, Array, Array, Array]:
    """Return points inside and outside the interval and the gaps there, nan where there is none before `edge`.

    The gap at `start` is not looked up: it is nan where that is still the point inside.
    """
    inside, outside = start.copy(), np.full_like(start, np.nan)
    near, far = outside.copy(), outside.copy()
    reach = np.abs(step)
    sign = np.sign(step)
    for _ in range(_DOUBLINGS):
        wanted = np.isnan(outside) & (sign * (edge - inside) > 0)
        if not wanted.any():
            break
        trial = inside + sign * reach
        trial = np.where(sign * (trial - edge) > 0, edge, trial)
        trial = np.where(wanted, trial, inside)
        gap = _root_gap(rise(trial), threshold)
        over = wanted & ~(gap <= 0)
        within = wanted & ~over
        outside, far = np.where(over, trial, outside), np.where(over, gap, far)
        inside, near = np.where(within, trial, inside), np.where(within, gap, near)
        reach = reach * 2
    return inside, outside, near, far


def limit(
    rise: Callable[[Array], Array],
    start: Array,
    step: Array,
    threshold: Array,
    *,
    edge: float | Array | None = None,
    tolerance: float = 1e-6,
    together: np.ndarray | None = None,
) -> Array:
    """Return the limit of each interval on the side of `step`, shape (n,); nan where that end is open.

    `rise(x)` gives −2 log likelihood ratio at each x, shape (n,); nan or inf mean impossible. `start` holds the
    estimates, `step` a first step (its sign is the side: a standard error is good), `edge` the last possible
    value: an interval that reaches it, or begins beyond it, is open. The rise is near a parabola, so the root of rise is
    near a line: false position on √rise. Limits with the same number in `together` (n,) are followed until all of them
    are near enough; by default that is all of them.
    """
    start, step, threshold = np.broadcast_arrays(
        np.asarray(start, dtype=float), np.asarray(step, dtype=float), np.asarray(threshold)
    )
    far = np.sign(step) * np.inf if edge is None else np.broadcast_to(edge, start.shape)
    a, b, fa, fb = _bracket(rise, np.array(start), step, far, threshold)
    found = ~np.isnan(b)
    b = np.where(found, b, a)
    if (found & np.isnan(fa)).any():
        fa = np.where(np.isnan(fa), _root_gap(rise(a), threshold), fa)
    root, group = b.copy(), np.zeros(len(b), dtype=int) if together is None else together
    done = np.zeros(a.shape, dtype=bool)
    last = np.zeros(a.shape)  # the side of the last trial: 1 outside, −1 inside
    for _ in range(_TURNS):
        trial = _between(a, b, fa, fb)
        gap = _root_gap(rise(trial), threshold)
        settled = (np.abs(gap) < tolerance) | (np.abs(b - a) <= tolerance * np.abs(step))
        root = np.where(done, root, trial)
        done |= np.bincount(group, found & ~settled)[group] == 0
        if done.all():
            break
        over = ~(gap <= 0)
        # Illinois: an end that stays put a second time is weighed down, so that both ends close in
        fa = np.where(over, np.where(last > 0, fa / 2, fa), gap)
        fb = np.where(over, gap, np.where(last < 0, fb / 2, fb))
        a, b = np.where(over, a, trial), np.where(over, trial, b)
        last = np.where(over, 1.0, -1.0)
    return np.where(found, root, np.nan)


def _between(a: Array, b: Array, fa: Array, fb: Array) -> Array:
    """Return where the straight line from (a, fa) to (b, fb) is 0, or the middle where there is none."""
    usable = np.isfinite(fb) & (fb > 0) & (fa < 0)
    # both may be inf
    below, above = np.where(usable, -fa, 1.0), np.where(usable, fb, 1.0)
    share = below / (below + above)
    return np.asarray(a + np.clip(share, 0.001, 0.999) * (b - a))


def _root_gap(rise: Array, threshold: Array) -> Array:
    """Return √rise − √threshold, inf where the likelihood is 0."""
    rise = np.where(np.isfinite(rise), np.maximum(rise, 0.0), np.inf)
    return np.sqrt(rise) - np.sqrt(threshold)


def open_as_none(limits: Array) -> list[float | None]:
    """Return the limits as numbers, None for an open end."""
    return [None if np.isnan(x) else float(x) for x in limits]
