"""Tell seeds that took up water from seeds that only got wet.

A mixture over the seeds of an experiment: impermeable, imbibing from the start, late imbibing. What is not
known exactly (film, balance, curve, how common a late onset is) is not plugged in at its best value but
averaged over, so that a seed's probability stays honest where the balance is coarse or weighings are few: by the
normal approximation at the posterior mode, and exactly over the impermeable fraction of each group.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from hilum.stats import (
    hierarchy,
    imbibition_balance,
    imbibition_curves,
    imbibition_posterior,
    uptake,
)
from hilum.stats.arrays import Array
from hilum.stats.hierarchy import Layout, Parameter
from hilum.stats.imbibition_balance import Balance
from hilum.stats.imbibition_curves import Candidate
from hilum.stats.imbibition_likelihood import MASS, Seeds, Weighings
from hilum.stats.imbibition_posterior import Posterior
from hilum.stats.uptake_courses import possible

_FILM, _FILM_SPREAD = 0.02, 0.5  # the priors' centres: of the mass, and of the film
_TURNS = 3  # tangents taken until they touch the curve where the seed is
_PRECISE = 0.03  # error of a weighing, of the seed: above, short cells would look alike
# courses less likely than the best of their seed by this factor, e^-12, are left out of account
_FAR_BEHIND = 12.0


def parameters(weighings: Weighings, balance: Balance) -> tuple[Parameter, ...]:
    """Return the priors of a seed's parameters, in the order of `imbibition_likelihood`.

    Blotted seeds carry a film of 1 to 3 % of their mass, and hard-coated seeds once opened gain 80 to 150 %
    with half-times of hours (both from memory of the habit in papers). Between seeds of one lot the sd of the mass is
    mostly a tenth to a quarter of it (common practice, no source). The priors are that wide and wider: they matter
    where an experiment is silent, and hardly elsewhere.

    Simulated seeds of 5 mg, weighed twice to 1 mg, show what that costs. Over lots drawn from these priors probabilities
    are off by no more than chance alone leaves (0.003, 1500 lots). In a lot near the centres of all they are off by 0.02
    (0.005 if the lot were known), towards imbibed: an imbibed kind of which little is known might reach down to
    the merely wet seeds, and these cannot rise to meet it. Priors narrowed until that is halved put lots that are slow
    or swell little off by 0.03, the other way.
    """
    group, treatment = weighings.group, weighings.treatment
    return (
        Parameter("film", np.log(_FILM), 0.5, 0.4, treatment),
        Parameter("film_spread", np.log(_FILM_SPREAD), 0.3),
        Parameter("balance", np.log(balance.sd_mg), balance.log_sd),
        Parameter("plateau", np.log(1.1), 0.3, 0.2, group),
        Parameter("half_time", np.log(8.0), 0.8, 0.6, group),
        Parameter("plateau_spread", np.log(0.15), 0.3),
        Parameter("speed_spread", np.log(0.3), 0.3),
        Parameter("closed", 0.0, 2.0, 1.5, group),
        Parameter("late", -2.0, 1.0, 0.7, group),
        Parameter("lag", np.log(0.3), 1.5, 0.7, group),
        Parameter("mass", np.log(weighings.mass_mg[:, 0].mean()), 0.5, 0.4, group),
        Parameter("mass_spread", np.log(0.16), 0.35, 0.2, group),
    )


@dataclass(frozen=True, kw_only=True)
class Mixture:
    """The answer for seeds and groups, the curve of the imbibing seeds, and those that it was chosen from.

    `candidates` is empty where there was no choice: too few imbibing seeds, or too few weighings. `scatters` tells
    whether weighings err by more than the balance promised, so that what falling masses show was taken in its place.
    """

    posterior: Posterior
    curve: uptake.Curve
    candidates: tuple[Candidate, ...]
    scatters: bool


def fit(
    weighings: Weighings, *, balance: Balance, confidence: float, rng: np.random.Generator
) -> Mixture:
    """Return the mixture fitted to the weighings of single seeds, each weighed dry and at least once soaked.

    `rng` draws the parameters that the answer is averaged over.
    """
    found = _first(weighings, balance)
    seen = imbibition_balance.as_seen(weighings, balance, film=_FILM * _FILM_SPREAD)
    if seen:
        found = max(found, _first(weighings, seen), key=_First.height)
    model, layout, effects, likely = found.model, found.layout, found.effects, found.likely
    candidates = imbibition_curves.compare(likely, layout, effects)
    if candidates and candidates[0].curve != model.curve:
        model = replace(model, curve=candidates[0].curve)
        effects = _climb(model, layout, candidates[0].effects, (6, 20))
        likely = _likely(model, layout, effects)
    top = hierarchy.mode(likely, layout, effects)
    posterior = imbibition_posterior.average(
        likely, layout, top, parts=found.parts, confidence=confidence, rng=rng
    )
    return Mixture(
        posterior=posterior,
        curve=model.curve,
        candidates=candidates,
        scatters=found.balance == seen,
    )


@dataclass(frozen=True)
class _First:
    """The mode reached with the first curve, from what is thought of the balance; onsets in so many `parts` between weighings."""

    balance: Balance
    parts: int
    layout: Layout
    model: Seeds
    effects: Array

    @cached_property
    def likely(self) -> Seeds:
        """Return the model with the courses that are likely there."""
        return _likely(self.model, self.layout, self.effects)

    def height(self) -> float:
        """Return the log posterior density at the mode, but for what is the same whatever is thought of the balance."""
        point = self.effects[None]
        fit = self.likely(self.layout.of_units(point)).sum() + self.layout.log_prior(point)[0]
        return float(fit - np.log(self.balance.log_sd))


def _first(weighings: Weighings, balance: Balance) -> _First:
    """Return the mode with the first curve.

    Far below the true error all that is likely looks impossible, and a climb from there leads astray.
    """
    layout = hierarchy.lay_out(parameters(weighings, balance), len(weighings.mass_mg))
    precise = balance.sd_mg / np.median(weighings.mass_mg[:, 0]) < _PRECISE
    parts = 4 if precise else 2
    model = Seeds(weighings, possible(weighings.seen_h, parts=parts), uptake.CANDIDATES[0])
    effects = _climb(model, layout, _start(weighings, layout), (6, 6, 20))
    return _First(balance, parts, layout, model, effects)


def _start(weighings: Weighings, layout: Layout) -> Array:
    """Return the effects (p,) to begin with: the priors' centres, and the mean mass before soaking of each group."""
    dry, group = weighings.mass_mg[:, 0], weighings.group
    mean = np.bincount(group, dry) / np.bincount(group)
    return layout.with_groups(layout.centre, MASS, np.log(mean))


def _climb(model: Seeds, layout: Layout, effects: Array, turns: Sequence[int]) -> Array:
    """Return the effects of highest posterior density; each turn has so many steps, and anew the likely courses."""
    for steps in turns:
        likely = _likely(model, layout, effects)
        effects = hierarchy.climb(likely, layout, effects, steps=steps)
    return effects


def _likely(model: Seeds, layout: Layout, effects: Array) -> Seeds:
    """Return the model with only those courses that the weighings leave likely at these effects."""
    own = layout.of_units(effects[None])
    for _ in range(_TURNS):
        model = model.with_speeds(own[0])
    kinds = model.kinds(own)
    of_kinds = np.concatenate([kinds.never, kinds.start, kinds.late], axis=-1)
    with np.errstate(divide="ignore"):  # a share may be 0
        score = model.courses.of_courses(of_kinds)[0] + np.log(kinds.share[0])
    return replace(model, courses=model.courses.near(score, _FAR_BEHIND))
