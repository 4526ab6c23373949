"""What seeds are called on a page: what they all share is said once, what differs each time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from hilum.analyses.estimate import Estimate

PARTS = ("lot", "treatment", "temperature_c", "condition")


def _part(group: Estimate | Mapping[str, Any], part: str) -> str:
    """Return one part of the name of a group of seeds: an estimate, or a group of a drawing."""
    found = group.get(part) if isinstance(group, Mapping) else getattr(group, part)
    if part == "temperature_c":
        # a row of a table holds text, empty where there is no temperature
        return "" if found in (None, "") else f"{float(found):g} °C"
    return str(found or "")


class Naming:
    """Name the seeds of an experiment, all of whose estimates are given."""

    def __init__(self, estimates: Sequence[Estimate]) -> None:
        """Find out what all the estimates share."""
        found = {part: dict.fromkeys(_part(e, part) for e in estimates) for part in PARTS}
        # no temperature is that of a figure for all of them, but no condition is one more condition
        told = {
            part: [name for name in names if name or part == "condition"]
            for part, names in found.items()
        }
        self._shared = {part: names[0] for part, names in told.items() if len(names) == 1}
        self._differs = [part for part in PARTS if len(told[part]) > 1] or ["lot", "treatment"]

    @property
    def shared(self) -> str:
        """Return what all seeds of the experiment share, in words."""
        parts = (name for part, name in self._shared.items() if name and part not in self._differs)
        return ", ".join(parts)

    def __call__(self, group: Estimate | Mapping[str, Any]) -> str:
        """Return the name of some seeds: only the parts that tell them from the others."""
        told = [name for part in self._differs if (name := _part(group, part))]
        # a figure for all temperatures together has no part of its own
        return ", ".join(told or [name for part in PARTS[:2] if (name := _part(group, part))])

    def place(self, group: Estimate | Mapping[str, Any]) -> str:
        """Return the same without the treatment, for sentences that compare treatments."""
        told = (_part(group, part) for part in self._differs if part != "treatment")
        return ", ".join(name for name in told if name)
