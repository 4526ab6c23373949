"""The sentences of this analysis: why nothing can be said, and what would change that."""

from __future__ import annotations

NO_REFERENCES = (
    "the study has no published ranges: enter them in reference_traits.csv beside lots.csv, a row for each taxon and "
    "trait, of the taxon on the label and of those that it is mistaken for, each with its source."
)
NO_RANGE = "nothing is published of this trait in reference_traits.csv: enter its range or its states, or spell it as there."
TOO_FEW = "so few specimens could not exclude any taxon, whatever they look like: measure more."
ONE = "one specimen cannot exclude any taxon, since each range leaves some out: measure more."


def nothing_of(taxon: str) -> str:
    """Return why nothing can be said of a taxon."""
    return (
        f"nothing is published of {taxon} for the traits measured here: add its ranges to reference_traits.csv, or "
        "measure a trait that stands there."
    )
