"""What one experiment could not tell and another experiment of the same study did."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from markupsafe import Markup

from hilum.analyses.estimate import Estimate
from hilum.analyses.quantities import QUANTITIES
from hilum.markup import address, escape
from hilum.report.numbers import interval
from hilum.report.results import Experiment

# figures of a lot and a treatment, whichever experiment they come from; others belong to their own test
_OF_THE_SEEDS = frozenset(
    {
        "base_temperature",
        "best_duration",
        "best_dose",
        "half_viability_period",
        "impermeable_fraction",
    }
)


def told_elsewhere(experiment: Experiment, experiments: Sequence[Experiment]) -> list[Markup]:
    """Return in sentences which open figures of an experiment the others have settled, with links to them."""
    open_ = {_key(e): e for e in _of(experiment) if e.status != "estimated"}
    found: dict[tuple[str, ...], Markup] = {}
    for other in experiments:
        if other is not experiment:
            for estimate in _of(other):
                key = _key(estimate)
                if estimate.status == "estimated" and key in open_ and key not in found:
                    found[key] = _sentence(estimate, other)
    return list(found.values())


def _of(experiment: Experiment) -> Iterator[Estimate]:
    return (e for r in experiment.results for e in r.estimates if e.quantity in _OF_THE_SEEDS)


def _key(estimate: Estimate) -> tuple[str, ...]:
    return estimate.lot, estimate.treatment, estimate.quantity, estimate.condition


def _sentence(estimate: Estimate, other: Experiment) -> Markup:
    link = Markup('<a href="{}">{}</a>').format(
        address("experiments", f"{other.name}.html"), escape(other.title)
    )
    return Markup("Told by {}: {} of {}, {}: {}.").format(
        link,
        escape(QUANTITIES[estimate.quantity].title),
        escape(estimate.lot),
        escape(estimate.treatment),
        interval(estimate),
    )
