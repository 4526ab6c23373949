"""What the further tables of an analysis hold: each column described once, for the file and the data dictionary."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from hilum.analyses.quantities import FRACTION


@dataclass(frozen=True)
class Meaning:
    """What a column holds, and its unit; a column of text has none."""

    says: str
    unit: str = ""


@dataclass(frozen=True, kw_only=True)
class Further:
    """A further table of an analysis: what one row is, and its columns in the order of the file."""

    title: str
    one_row_is: str
    columns: Mapping[str, Meaning]

    @property
    def units(self) -> dict[str, str]:
        """Return the unit of each column as its heading shows it: a fraction of a file needs no word there."""
        return {n: c.unit for n, c in self.columns.items() if c.unit not in ("", FRACTION)}


LOT = Meaning("The seed lot, as named in lots.csv.")
TREATMENT = Meaning("The treatment, as named in treatments.csv.")
TEMPERATURE = Meaning("Temperature; empty where the row is not tied to one.", "°C")
CONDITION = Meaning("Light, night temperature, medium and storage in words; empty where plain.")
SERIES = {"lot": LOT, "treatment": TREATMENT, "condition": CONDITION}
SEED = {
    "seed": Meaning("The seed, as named in weighings.csv."),
    "lot": LOT,
    "treatment": TREATMENT,
}
