"""Coats that a dose opened and seeds that it harmed, beyond what the lot brings with it."""

from __future__ import annotations

import numpy as np

from hilum.analyses.estimate import Estimate
from hilum.analyses.printer import Printer
from hilum.analyses.scarification.sown import OPENED, PLAIN, Sown
from hilum.analyses.scarification.words import NO_PLAIN, NO_REFERENCE
from hilum.stats import scarification_harm
from hilum.stats.arrays import Array
from hilum.stats.scarification_harm import Limited

_ABNORMAL, _HARD, _DEAD = 1, 3, 4


def _split(
    sown: Sown, fates: tuple[int, ...], unknown: float, confidence: float
) -> tuple[Limited, Limited | None, Limited | None]:
    """Return shares with one of the fates: of the doses, of untreated seeds, of seeds opened by hand."""
    keys, hits, seeds = sown.table(fates)
    every = scarification_harm.limited(hits, seeds, unknown=unknown, confidence=confidence)
    kinds = [kind for kind, _ in keys]
    rest = [every.take(kinds.index(k)) if k in kinds else None for k in (PLAIN, OPENED)]
    return every.take(slice(kinds.count("dose"))), rest[0], rest[1]


def coats(
    sown: Sown, unknown: float, confidence: float
) -> tuple[Limited, Limited | None, tuple[Array, Array]]:
    """Return hard seeds of the doses and of untreated seeds, and the share of closed coats that each dose opened."""
    hard, plain, _ = _split(sown, (_HARD,), unknown, confidence)
    if plain is None:
        return hard, None, (1 - hard.value, np.zeros_like(hard.value))
    return hard, plain, scarification_harm.opened_share(hard, plain)


def estimates(sown: Sown, printer: Printer, *, unknown: float) -> list[Estimate]:
    """Return the harm at each dose: a bracket where untreated or hand-opened seeds are missing."""
    if not sown.doses:
        return []
    confidence = printer.confidence
    dead, plain, opened = _split(sown, (_ABNORMAL, _DEAD), unknown, confidence)
    reference = "seeds opened by hand"
    if opened is None and sown.tested is not None:
        hits, seeds = (n[None] for n in sown.tested)
        opened = scarification_harm.limited(hits, seeds, unknown=0.0, confidence=confidence)
        reference = "a viability test"
    how = f"dead and abnormal beyond untreated seeds and {reference}; limits of the terms combined"
    if plain is None or opened is None:
        why = NO_REFERENCE if opened is None else NO_PLAIN
        return [
            printer.bracketed(
                "harmed",
                0.0,
                float(high),
                method="none of the dead and abnormal seeds harmed, or all",
                needs=why,
                at=dose,
                at_unit=sown.series.unit,
            )
            for dose, high in zip(sown.doses, dead.high, strict=True)
        ]
    _, _, share = coats(sown, unknown, confidence)
    harm = scarification_harm.beyond(dead, plain, opened, share)
    return [
        printer.estimated("harmed", *ends, method=how, at=dose, at_unit=sown.series.unit)
        for dose, *ends in zip(
            sown.doses,
            *(np.clip(x, 0.0, 1.0) for x in (harm.value, harm.low, harm.high)),
            strict=True,
        )
    ]
