"""The published viability equation: how sigma follows from moisture and temperature.

log10 sigma = KE − CW·log10 m − CH·t − CQ·t², with sigma in days, m the moisture in % of the fresh weight, and t the
temperature in °C (Ellis and Roberts 1980, Annals of Botany 45:13–30, from memory). The four constants are those of a species.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

# where the equation was found to hold (from memory): °C, and % of the fresh weight
TEMPERATURES = (-20.0, 90.0)
MOISTURES = (5.0, 25.0)


@dataclass(frozen=True)
class Constants:
    """The constants of one species: moisture is told by `cw`, temperature by `ch` and `cq`."""

    ke: float
    cw: float
    ch: float
    cq: float


# Ellis and Roberts 1980 (barley), 1981 (onion), Ellis, Osei-Bonsu and Roberts 1982 (soybean); all from memory
PUBLISHED = {
    "barley": Constants(9.983, 5.896, 0.040, 0.000428),
    "onion": Constants(6.975, 3.470, 0.040, 0.000428),
    "soybean": Constants(7.748, 3.979, 0.053, 0.000228),
}


def holds(moisture_pct: float, temperature_c: float) -> bool:
    """Return whether moisture and temperature lie where the equation was found to hold."""
    within = MOISTURES[0] <= moisture_pct <= MOISTURES[1]
    return bool(within and TEMPERATURES[0] <= temperature_c <= TEMPERATURES[1])


def sigma(constants: Constants, moisture_pct: float, temperature_c: float) -> float:
    """Return the days in which viability falls by one probit."""
    c = constants
    log10 = c.ke - c.cw * np.log10(moisture_pct) - c.ch * temperature_c - c.cq * temperature_c**2
    return float(10**log10)
