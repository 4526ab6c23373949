"""A fitted response spelt so that its rate at one temperature is a parameter, whose profile can then be followed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from hilum.stats.arrays import Array
from hilum.stats.cardinal import Peak
from hilum.stats.response import rates


def rate_there(peak: Peak, temperature: float) -> Peak:
    """Return the same fit with the logarithm of its rate at a temperature (°C) as the first parameter.

    The rate there must not be 0.
    """
    response = peak.model.response
    assert response is not None  # noqa: S101
    there = np.array([temperature])

    def turned(parameters: Array) -> Array:
        result = parameters.copy()
        rate = rates(response, parameters[..., : len(response.names)], there).value[..., 0]
        # a lesser peak may stand still there
        result[..., 0] = np.log(np.maximum(rate, np.finfo(float).tiny))
        return result

    return replace(
        peak,
        model=replace(peak.model, response=replace(response, at=temperature)),
        parameters=turned(peak.parameters),
        peaks=turned(peak.peaks),
    )
