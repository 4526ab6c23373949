"""Masses of seeds that are hardly those of their kind: in another unit, or with the point in the wrong place."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from hilum.tables import groups
from hilum.tables.doubts.soaked import taken_up
from hilum.tables.doubts.told import remark
from hilum.tables.groups import Ints
from hilum.tables.ledger import Ledger, Rows
from hilum.tables.sentences import Fault, quoted

# what is known of a lot holds within this factor, lots of one taxon differ less than by the other
KNOWN, SAME_TAXON, SAME_LOT = 2.0, 5.0, 3.0
# The largest seeds that are weighed in a laboratory, and the smallest that a balance for single seeds shows; dust seeds, down to a
# third of a microgram, are weighed many at once
HEAVIEST_MG, LIGHTEST_MG, DUST_MG = 40_000.0, 0.01, 0.0003
# balances of a laboratory show no finer steps
FINEST_MG = 0.001
# a light seed holds most of its water after so many hours
LIGHT_MG, SOON_H = 2.0, 3.0
# so many masses do not all end in a nought by chance
_ENOUGH, _DIFFERENT = 8, 5
_MASS_TRAIT = re.compile(r"\b(mass|weight)\b", re.IGNORECASE)
_MG: dict[str, float] = {"mg": 1.0, "g": 1000.0}


@dataclass(frozen=True)
class _Weighed:
    """The dry seeds of one lot in one experiment: their rows, and what one of them weighs, mg."""

    rows: Ints
    lot: int
    experiment: int
    single_mg: float
    alone: bool


def _weighed(ledger: Ledger) -> list[_Weighed]:
    rows = ledger["weighings"]
    known = rows.given("mass_mg") & (rows["soaked_h"] == 0) & (rows["lot"] > 0) & ~rows.bad
    dry = np.flatnonzero(known & (rows["seeds"] > 0))
    order, begins = groups.in_order(rows.key("lot")[dry], dry.astype(float))
    parts = np.split(dry[order], np.flatnonzero(begins)[1:]) if len(dry) else []
    return [
        _Weighed(
            rows=own,
            lot=int(rows["lot"][own[0]]),
            experiment=int(rows.experiment[own[0]]),
            single_mg=float(np.median(rows["mass_mg"][own] / rows["seeds"][own])),
            alone=bool((rows["seeds"][own] == 1).all()),
        )
        for own in parts
    ]


def unlikely(ledger: Ledger) -> Iterator[Fault]:
    """Yield each lot whose seeds weigh what they hardly can, as far as the study knows."""
    weighed = _weighed(ledger)
    declared, published = _declared(ledger), _published(ledger)
    taxon = dict(zip(ledger["lots"]["lot"].tolist(), ledger["lots"]["taxon"].tolist(), strict=True))
    for place, own in enumerate(weighed):
        if own.lot in declared:
            says = _against(own, declared[own.lot], "lots.csv has a thousand-seed mass of")
        elif taxon.get(own.lot) in published:
            says = _beside(own, published[taxon[own.lot]])
        else:
            # seeds that are odd by themselves say nothing against others
            before = [w for w in weighed[:place] if w.lot not in declared and not _absolute(w)]
            says = _unlike(ledger, own, before, taxon) or _absolute(own)
            says = says and f"{says} {_settles(ledger, own.lot)}"
        if says:
            name = quoted(ledger.names.texts[own.lot])
            told = f"seeds of lot {name} weigh about {_mass(own.single_mg)} each, {says}"
            yield remark(ledger["weighings"], own.rows, told, f"mass of {own.lot}")


def _mass(mg: float) -> str:
    return f"{mg:,.0f} mg" if mg >= 100 else f"{mg:.3g} mg"


def _settles(ledger: Ledger, lot: int) -> str:
    return (
        "Another unit, a point in the wrong place, or several seeds weighed as one? thousand_seed_mass_g of lot "
        f"{quoted(ledger.names.texts[lot])} in lots.csv settles it"
    )


def _declared(ledger: Ledger) -> dict[int, float]:
    """Return by lot what one seed weighs by lots.csv: a thousand in g are one in mg."""
    lots = ledger["lots"]
    known = lots.given("thousand_seed_mass_g") & ~lots.bad
    return dict(
        zip(lots["lot"][known].tolist(), lots["thousand_seed_mass_g"][known].tolist(), strict=True)
    )


def _published(ledger: Ledger) -> dict[int, tuple[float, float]]:
    """Return by taxon the published range of a seed's mass, mg."""
    rows = ledger["reference_traits"]
    found: dict[int, tuple[float, float]] = {}
    for row in np.flatnonzero((rows["taxon"] > 0) & rows.given("low") & ~rows.bad):
        unit = _MG.get(rows.text("unit", row).strip().lower())
        name = rows.text("trait", row)
        if unit and "seed" in name.lower() and _MASS_TRAIT.search(name):
            per = 1000 if "1000" in name or "thousand" in name.lower() else 1
            high = rows["high"][row] if rows.given("high")[row] else rows["low"][row]
            found[int(rows["taxon"][row])] = (
                float(rows["low"][row] * unit / per),
                float(high * unit / per),
            )
    return found


def _against(own: _Weighed, known_mg: float, source: str) -> str:
    ratio = own.single_mg / known_mg
    if 1 / KNOWN <= ratio <= KNOWN:
        return ""
    than = f"{ratio:.2g} times as much" if ratio > 1 else f"1/{1 / ratio:.2g} of it"
    return f"but {source} {known_mg:.4g} g, which is {known_mg:.4g} mg a seed ({than}): which of the two is right?"


def _beside(own: _Weighed, ends: tuple[float, float]) -> str:
    low, high = ends
    if low / KNOWN <= own.single_mg <= high * KNOWN:
        return ""
    return (
        f"but reference_traits.csv has {low:.4g} to {high:.4g} mg for the taxon: another unit, or a point in the "
        "wrong place?"
    )


def _unlike(ledger: Ledger, own: _Weighed, before: list[_Weighed], taxon: dict[int, int]) -> str:
    """Return how the seeds differ from the same lot elsewhere, or from lots of the same taxon."""
    names = ledger.names.texts
    for other in before:
        ratio = max(own.single_mg / other.single_mg, other.single_mg / own.single_mg)
        if other.lot == own.lot and ratio > SAME_LOT:
            where = quoted(names[other.experiment])
            return f"but {_mass(other.single_mg)} in experiment {where}."
        same = taxon.get(own.lot) and taxon.get(own.lot) == taxon.get(other.lot)
        if other.lot != own.lot and same and ratio > SAME_TAXON:
            lot = quoted(names[other.lot])
            return f"but those of lot {lot}, of the same taxon, {_mass(other.single_mg)}."
    return ""


def _absolute(own: _Weighed) -> str:
    if own.single_mg > HEAVIEST_MG:
        return "more than all but a few seeds on earth."
    if own.single_mg < (LIGHTEST_MG if own.alone else DUST_MG):
        return (
            "less than a balance shows of a single seed."
            if own.alone
            else "less than the dust seeds of orchids."
        )
    return ""


def digits(ledger: Ledger) -> Iterator[Fault]:
    """Yield each file whose masses have more digits than the balance shows, or all end in noughts."""
    rows = ledger["weighings"]
    declared = _declared(ledger)
    typed = rows.given("mass_mg") & ~rows.given("mass_g") & ~rows.given("container_mg") & ~rows.bad
    for number, sheet in enumerate(rows.sheets):
        span = rows.of_sheet(number)
        own = np.flatnonzero(typed[span]) + span.start
        # what lots.csv says of its seeds settles it
        own = own[~np.isin(rows["lot"][own], list(declared))]
        about = ledger.experiments.get(sheet.source.experiment)
        if len(own) >= _ENOUGH and about:
            says = _digits(rows, own, about.balance_readability_mg)
            if says:
                yield Fault(file=sheet.source.shown, says=says, rule="digits")


def _digits(rows: Rows, own: Ints, step: float | None) -> str:
    mass = rows["mass_mg"][own]
    different = len(np.unique(mass)) >= _DIFFERENT
    finer = ~_multiples(mass, step or FINEST_MG)
    rest = "mass_mg holds milligrams, mass_g grams, and balance_readability_mg in experiment.yaml what the balance shows"
    # a mean or a difference has digits without end; grams have four or five
    grams = (
        finer & _multiples(mass, FINEST_MG / 100) & (mass / rows["seeds"][own] < HEAVIEST_MG / 1e3)
    )
    if step is None and not grams.any() and _slow(rows, own):
        return f"seeds of {_mass(float(np.median(mass)))} took hours to swell, as seeds a thousand times as heavy do: grams? {rest}"
    if (grams if step is None else finer).mean() > 1 / 2:
        shows = (
            f"{step:g} mg, the step of the balance"
            if step
            else "any balance for single seeds shows"
        )
        return f"masses such as {mass[finer][0]:.10g} mg are finer than {shows}: grams? {rest}"
    if different and step and _multiples(mass, 10 * step).all():
        return f"all {len(mass)} masses are whole multiples of {10 * step:g} mg, though the balance shows {step:g} mg: ten times too large? {rest}"
    if different and step is None and _multiples(mass, 10).all():
        return f"all {len(mass)} masses end in a nought, so the balance shows 10 mg, or they are ten times too large: {rest}"
    return ""


def _slow(rows: Rows, own: Ints) -> bool:
    """Return whether seeds lighter than 2 mg still took up half of their water after hours, which is what large seeds do."""
    hours = rows["soaked_h"][own]
    early = np.unique(hours[(hours > 0) & (hours <= SOON_H)])
    if not len(early) or hours.max() < 4 * SOON_H:
        return False
    share, dry = taken_up(rows, own, float(early[-1]))
    light = share[dry < LIGHT_MG]
    return len(light) >= _DIFFERENT and bool(np.median(light) < 1 / 2)


def _multiples(values: groups.Floats, step: float) -> groups.Marks:
    steps = values / step
    return np.asarray(np.abs(steps - np.round(steps)) < 1e-6 * np.maximum(steps, 1))
