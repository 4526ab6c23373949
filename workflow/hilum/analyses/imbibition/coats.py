"""What the treatments of a lot did to its coats: whether there is physical dormancy, and what opened it.

Physical dormancy is shown by two things together: intact seeds stay dry, and opened seeds take up water.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from hilum.analyses.imbibition.printed import outcome
from hilum.analyses.imbibition.samples import Sample

# each seed's coat is opened by hand, so that it is open for sure
ONE_BY_ONE = frozenset({"chipping", "filing"})
_FEWEST_HARD = 0.5  # expected impermeable seeds, below which surely none was seen

Verdict = Literal[
    "physical_dormancy", "coat_lets_water_in", "not_opened", "no_opened", "no_intact", "cannot_tell"
]


@dataclass(frozen=True)
class Methods:
    """What was done to the seeds of each treatment."""

    of: Mapping[str, frozenset[str]]

    def intact(self, treatment: str) -> bool:
        """Return whether nothing was done to the coat."""
        return self.of.get(treatment, frozenset()) == {"none"}

    def opened_one_by_one(self, treatment: str) -> bool:
        """Return whether each coat was opened by hand."""
        return bool(self.of.get(treatment, frozenset()) & ONE_BY_ONE)


def methods(treatments: Mapping[str, np.ndarray] | None) -> Methods:
    """Return the methods of each treatment; none are known where there is no table of treatments."""
    found: dict[str, set[str]] = {}
    if treatments is not None:
        names = zip(treatments["treatment"].tolist(), treatments["method"].tolist(), strict=True)
        for treatment, method in names:
            found.setdefault(treatment, set()).add(method)
    return Methods({treatment: frozenset(steps) for treatment, steps in found.items()})


def verdict(samples: Sequence[Sample], known: Methods) -> dict[str, Any]:
    """Return what the weighings of single seeds say of one lot's coats.

    `opened` are the treatments whose seeds surely took up water more often than the intact ones, `not_shown`
    the others; `intact` the untreated seeds that they are held against.
    """
    told = [s for s in samples if outcome(s) != "too_coarse"]
    intact = max((s for s in told if known.intact(s.treatment)), key=_size, default=None)
    treated = [s for s in told if not known.intact(s.treatment)]
    opened = [s for s in treated if intact and _fewer(s, intact)]
    return {
        "lot": samples[0].lot,
        "verdict": _verdict(samples, known, intact, treated, opened),
        "intact": intact.treatment if intact else "",
        "opened": [s.treatment for s in opened],
        "not_shown": [s.treatment for s in treated if s not in opened],
    }


def _size(sample: Sample) -> int:
    return len(sample.traces)


def _fewer(treated: Sample, intact: Sample) -> bool:
    """Return whether surely fewer seeds are impermeable than without treatment."""
    less = (treated.fraction[:, None] < intact.fraction).mean()
    return bool(less > (1 + treated.confidence) / 2)


def _verdict(
    samples: Sequence[Sample],
    known: Methods,
    intact: Sample | None,
    treated: Sequence[Sample],
    opened: Sequence[Sample],
) -> Verdict:
    if intact is None:
        untreated = any(known.intact(sample.treatment) for sample in samples)
        return "cannot_tell" if untreated else "no_intact"
    if intact.impermeable.sum() < _FEWEST_HARD:
        return "coat_lets_water_in"
    if opened:
        return "physical_dormancy"
    return "not_opened" if treated else "no_opened"
