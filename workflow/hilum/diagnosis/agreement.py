"""Whether the dishes of a germination test lie as close together as chance allows, and the sentence that says so."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from hilum.analyses.rounding import shown
from hilum.diagnosis.counted import Group
from hilum.diagnosis.gather import Dish
from hilum.diagnosis.words import place, usual_place
from hilum.stats import tolerance

# of more tests than these only those whose dishes disagree are drawn
_MANY = 10
_NAMED = 3  # of the tests whose dishes disagree, in a sentence
_MOST_PLACES = 4


@dataclass(frozen=True)
class Agreement:
    """Dishes of one size in one experiment: the germinated fraction of each, mean and range, and the range tolerated."""

    experiment: str
    dishes: tuple[str, ...]
    germinated: tuple[float, ...]
    seeds: float
    mean: float
    range: float
    tolerated: float
    published: bool
    within: bool


def agreements(group: Group | None) -> list[Agreement]:
    """Return how the dishes of a group agree in each experiment that has two or more, all of one size.

    Dishes of too few seeds have no tolerance, and are left out.
    """
    if group is None:
        return []
    found = (_in(experiment, own) for experiment, own in group.by_experiment.items())
    return [one for one in found if one is not None]


def _in(experiment: str, own: Sequence[Dish]) -> Agreement | None:
    seeds = {dish.seeds for dish in own}
    if len(own) < 2 or len(seeds) > 1:
        return None
    # dishes that were followed for different times differ by that
    if len({dish.last_h for dish in own if not np.isnan(dish.last_h)}) > 1:
        return None
    part = np.array([dish.total("germinated") / dish.seeds for dish in own])
    mean, width, size = float(part.mean()), float(np.ptp(part)), seeds.pop()
    allowed = tolerance.tolerated(mean, len(own), size)
    if allowed is None:
        return None
    return Agreement(
        experiment=experiment,
        dishes=tuple(dish.name for dish in own),
        germinated=tuple(part.tolist()),
        seeds=size,
        mean=mean,
        range=width,
        tolerated=allowed.largest,
        published=allowed.published,
        # a range of 12 points is one of 0.12 but for a rounding error of the machine
        within=bool(width <= allowed.largest + 1e-9),
    )


@dataclass(frozen=True)
class GerminationTest:
    """A germination test of a lot and its `Agreement` as read back from disk.

    `name` is what sentences call it, `label` is shorter: it leaves out the place of most tests.
    """

    name: str
    label: str
    about: Mapping[str, Any]

    @property
    def within(self) -> bool:
        """Return whether its dishes lie as close together as chance allows."""
        return bool(self.about["within"])

    @property
    def points(self) -> tuple[str, str]:
        """Return range and tolerated range in points; where one lies beyond the other the figures tell them apart."""
        shares = self.about["range"], self.about["tolerated"]
        for places in range(_MOST_PLACES):
            told = [shown(100 * share, places) for share in shares]
            if self.within or told[0] != told[1]:
                break
        return told[0], told[1]


def germination_tests(groups: Sequence[Mapping[str, Any]]) -> list[GerminationTest]:
    """Return the germination tests of a lot; where two are of the same seeds and place their experiments stand beside them."""
    found = [(group, one) for group in groups for one in group["replicates"]]
    usual = tested_place(groups)
    times = Counter(_name(group) for group, _ in found)
    tests = []
    for group, one in found:
        name, experiment = _name(group), one["experiment"]
        label = group["treatment"] if place(group) == usual else name
        if times[name] > 1:
            name, label = f"{name} (experiment {experiment})", f"{label} ({experiment})"
        tests.append(GerminationTest(name, label, one))
    return tests


def tested_place(groups: Sequence[Mapping[str, Any]]) -> str:
    """Return the place of most germination tests, empty where there is none."""
    tested = [group for group in groups for _ in group["replicates"]]
    return usual_place(tested) if tested else ""


def _name(group: Mapping[str, Any]) -> str:
    between = ", " if group["temperature_c"] is None else " at "
    return f"{group['treatment']}{between}{place(group)}"


def worth_drawing(tests: Sequence[GerminationTest]) -> list[GerminationTest]:
    """Return the tests to draw: all, but of many only those whose dishes disagree."""
    return [test for test in tests if len(tests) <= _MANY or not test.within]


def finding(tests: Sequence[GerminationTest]) -> str:
    """Return in a sentence how many tests have dishes as close together as chance allows, and which have not."""
    apart = sorted((test for test in tests if not test.within), key=_beyond, reverse=True)
    if not apart:
        of = {1: "the germination test", 2: "both germination tests"}
        each = of.get(len(tests), f"all {len(tests)} germination tests")
        return f"The dishes of {each} lie as close together as chance allows."
    if len(tests) == 1:
        return f"The dishes of the germination test lie further apart than chance allows: {_too_far(apart[0])}."
    agree = f"The dishes of {len(tests) - len(apart) or 'none'} of {len(tests)} germination tests lie as close together as chance allows"
    if len(apart) == 1:
        return f"{agree}; those of {apart[0].name} lie further apart: {_too_far(apart[0])}."
    named = [f"{test.name} ({_too_far(test)})" for test in apart[:_NAMED]]
    rest = len(apart) - len(named)
    last = f"{rest} more" if rest else named.pop()
    return f"{agree}; further apart lie those of {', '.join(named)} and {last}."


def _beyond(test: GerminationTest) -> float:
    return float(test.about["range"] / test.about["tolerated"])


def _too_far(test: GerminationTest) -> str:
    width, tolerated = test.points
    return f"{width} points where {tolerated} are tolerated"
