"""weighings.csv: masses of single seeds or groups, dry and while they soak."""

from __future__ import annotations

from collections.abc import Iterator
from typing import SupportsIndex

import numpy as np

from hilum.tables import groups
from hilum.tables.column import Awaited, Column, OneOf, Table
from hilum.tables.ledger import Array, Finding, Ledger, Rows
from hilum.tables.references import BATCH, DISH, LOT, TREATMENT

# Common practice, no source: blotting leaves or takes a film of a few per cent of the mass, and a reading is
# off by a few steps of the balance. What falls by more than both together was not blotting.
BLOTTING_FRACTION = 0.15
READINGS = 5
# Seeds take up about their own mass, hardly three times it, and lose little of it: beyond this it is another
# unit or a point in the wrong place.
GROWN = 5
SHRUNK = 1 / 4
# Seeds of one lot differ in mass, but not by this
LOT_SLIP = 8
_SEED = Column(
    name="seed",
    title="Seed",
    description="A name for the seed, or for the group that is weighed together.",
    kind="text",
    example="s07",
    required=True,
)
_SEEDS = Column(
    name="seeds",
    title="Seeds",
    description="How many seeds are weighed together.",
    kind="count",
    example="1",
    unit="seeds",
    low=1,
    high=100_000,
    default=1,
)
_SOAKED_H = Column(
    name="soaked_h",
    title="Hours soaked",
    description="Hours in water; 0 is the mass before soaking, after scarification and drying back.",
    kind="number",
    example="24",
    unit="h",
    low=0,
    high=20_000,
)
_MASS_MG = Column(
    name="mass_mg",
    title="Mass",
    description="Mass after blotting. Stored without the container.",
    kind="number",
    example="143.2",
    unit="mg",
    low=0,
    high=10_000_000,
)
_FLOATS = Column(
    name="floats",
    title="Floats",
    description="Whether the seed floats.",
    kind="yes_no",
    example="no",
)
_RADICLE = Column(
    name="radicle",
    title="Radicle",
    description="Whether the radicle is out; later masses are growth, not uptake.",
    kind="yes_no",
    example="no",
)
_SOWN_IN = Column(
    name="dish",
    title="Sown in dish",
    description="The dish that the seed was sown in afterwards.",
    kind="text",
    example=DISH.example,
    refers="dishes",
)
TABLE = Table(
    name="weighings",
    title="Weighings",
    one_row_is="one mass of one seed or one group",
    level="experiment",
    columns=(
        _SEED,
        LOT,
        TREATMENT,
        BATCH,
        _SOWN_IN,
        _SEEDS,
        _SOAKED_H,
        Column(
            name="weighed_at",
            title="Weighed at",
            description="When it was weighed; a seed's first weighing counts as its mass before soaking, at 0 h.",
            kind="moment",
            example="2024-05-01T09:00",
        ),
        _MASS_MG,
        Column(
            name="mass_g",
            title="Mass in grams",
            description="Mass after blotting; stored in mg.",
            kind="number",
            example="0.1432",
            unit="g",
            low=0,
            high=10_000,
        ),
        Column(
            name="container_mg",
            title="Container",
            description="Mass of the container that was weighed with the seed; it is subtracted.",
            kind="number",
            example="812.5",
            unit="mg",
            low=0,
            high=10_000_000,
        ),
        _FLOATS,
        _RADICLE,
    ),
    key=("seed", "soaked_h"),
    stored=(
        _SEED,
        LOT,
        TREATMENT,
        BATCH,
        _SOWN_IN,
        _SEEDS,
        _SOAKED_H,
        _MASS_MG,
        _FLOATS,
        _RADICLE,
    ),
    one_of=(
        OneOf(columns=("soaked_h", "weighed_at")),
        OneOf(columns=("mass_mg", "mass_g"), needed=False),
    ),
    awaited=Awaited(
        measured=("weighed_at", "mass_mg", "mass_g", "container_mg", "floats", "radicle"),
        of=("seed",),
        rows="weighing",
        planned=("soaked_h",),
    ),
)


def store(ledger: Ledger) -> None:
    """Fill the stored columns: hours since the first weighing, and net mass in mg."""
    rows = ledger["weighings"]
    at = rows["weighed_at"]
    if not np.isnan(at).all():
        rows["soaked_h"] = np.where(np.isnan(at), rows["soaked_h"], _hours_since_first(rows))
    grams, gross = rows["mass_g"], rows["mass_mg"]
    # rounded, so that 0.0213 g is 21.3 mg and not 21.299999999999997
    milligrams = np.where(np.isnan(grams), gross, np.round(grams * 1000, 6))
    container = rows["container_mg"]
    net = np.where(np.isnan(container), milligrams, np.round(milligrams - container, 6))
    rows["mass_mg"] = net


def _hours_since_first(rows: Rows) -> Array:
    order, begins = groups.in_order(rows.key("seed"), rows["weighed_at"])
    first = rows["weighed_at"][order][np.flatnonzero(begins)]
    hours = np.empty(len(rows))
    sizes = np.diff([*np.flatnonzero(begins), len(rows)])
    hours[order] = (rows["weighed_at"][order] - np.repeat(first, sizes)) / 3600
    return np.round(hours, 6)


def no_mass_left(ledger: Ledger) -> Iterator[Finding]:
    """Yield each mass that is nothing once the container is subtracted."""
    rows = ledger["weighings"]
    with_container = rows.given("container_mg")
    for row in np.flatnonzero(rows["mass_mg"] <= 0):
        says = "; a seed weighs more than nothing"
        if with_container[row]:
            says = f", but the container alone weighs {rows['container_mg'][row]:.10g} mg"
        yield Finding(rows, row, "mass_mg", says)


def nothing_observed(ledger: Ledger) -> Iterator[Finding]:
    """Yield each row with neither a mass nor a word on floating or the radicle."""
    rows = ledger["weighings"]
    seen = rows.given("mass_mg") | rows.given("floats") | rows.given("radicle")
    for row in np.flatnonzero(~seen & ~rows.bad):
        says = f"seed {rows.text('seed', row)} has neither a mass nor an entry for floats or radicle here"
        yield Finding(rows, row, "", says)


def one_seed_two_stories(ledger: Ledger) -> Iterator[Finding]:
    """Yield each row whose lot, treatment, batch, dish or number of seeds contradicts the seed's first."""
    rows = ledger["weighings"]
    fine = np.flatnonzero(rows["seed"] > 0)
    first = groups.earlier_twin(rows.key("seed")[fine])
    first = np.where(first < 0, np.arange(len(fine)), first)
    for column in ("lot", "treatment", "batch", "dish", "seeds"):
        here, there = rows[column][fine], rows[column][fine[first]]
        told = rows.given(column)
        for i in np.flatnonzero((here != there) & told[fine] & told[fine[first]]):
            row, other = fine[i], fine[first[i]]
            known = rows.text(column, other) if column != "seeds" else f"{there[i]:g}"
            says = f", but line {rows.lines[other]} says {known} for the same seed"
            yield Finding(rows, row, column, says)


def no_dry_mass(ledger: Ledger) -> Iterator[Finding]:
    """Yield each seed that was weighed after soaking but not before: its first such row."""
    rows = ledger["weighings"]
    seed = rows.key("seed")
    weighed = rows.given("mass_mg")
    dry = np.unique(seed[(rows["soaked_h"] == 0) & (weighed | rows.bad)])
    # a seed with a row that has a fault may have its mass before soaking there
    unsure = np.unique(seed[rows.bad])
    wet = np.flatnonzero(weighed & (rows["soaked_h"] > 0) & (seed >= 0))
    wet = wet[~np.isin(seed[wet], dry) & ~np.isin(seed[wet], unsure)]
    _, first = np.unique(seed[wet], return_index=True)
    for row in wet[np.sort(first)]:
        says = f", but seed {rows.text('seed', row)} has no mass before soaking, which is the one at 0 h"
        yield Finding(rows, row, "soaked_h", says)


def _weighed(rows: Rows) -> tuple[groups.Ints, groups.Marks]:
    known = rows.given("mass_mg") & rows.given("soaked_h") & (rows["seed"] > 0) & ~rows.bad
    fine = np.flatnonzero(known)
    order, begins = groups.in_order(rows.key("seed")[fine], rows["soaked_h"][fine])
    return fine[order], begins


def unit_slips(ledger: Ledger) -> Iterator[Finding]:
    """Yield each mass that is about ten, a hundred or a thousand times that of the same seed otherwise.

    The seed's middle mass is the measure, so that a wrong mass before soaking is blamed itself and not all others.
    """
    rows = ledger["weighings"]
    order, begins = _weighed(rows)
    if not len(order):
        return
    mass = rows["mass_mg"][order]
    usual = _middle(mass, begins)
    ratio = mass / usual
    # what a coarse balance explains is no slip: a seed of 5 mg may read 1 mg
    beyond = np.abs(mass - usual) > READINGS * _readability(ledger)[order]
    for i in np.flatnonzero(((ratio > GROWN) | (ratio < SHRUNK)) & beyond):
        yield Finding(rows, order[i], "mass_mg", _slip_words(rows, order[i], ratio[i], usual[i]))


def _middle(mass: Array, begins: groups.Marks) -> Array:
    """Return for each weighing the lower middle mass of its seed; of two masses that is the dry one."""
    group = np.cumsum(begins)
    order = np.lexsort((mass, group))
    starts = np.flatnonzero(begins)
    sizes = np.diff([*starts, len(mass)])
    middle = mass[order][starts + (sizes - 1) // 2]
    # of two masses neither is usual: the dry one is the measure
    middle = np.where(sizes == 2, mass[starts], middle)
    return np.repeat(middle, sizes)


def _slip_words(rows: Rows, row: SupportsIndex, ratio: float, usual: float) -> str:
    times = 10 ** max(1, round(abs(np.log10(ratio))))
    than = "larger" if ratio > 1 else "smaller"
    return (
        f", about {times:g} times {than} than the {usual:.10g} mg of seed {rows.text('seed', row)} "
        "otherwise: another unit, or a point in the wrong place?"
    )


def falls(ledger: Ledger) -> Iterator[Finding]:
    """Yield each mass that is smaller than the one before by more than blotting explains."""
    rows = ledger["weighings"]
    order, begins = _weighed(rows)
    mass = rows["mass_mg"][order]
    before = np.where(begins, mass, np.roll(mass, 1))
    step = _readability(ledger)[order]
    for i in np.flatnonzero(before - mass > BLOTTING_FRACTION * before + READINGS * step):
        row = order[i]
        says = (
            f", {before[i] - mass[i]:.4g} mg less than at {rows['soaked_h'][order[i - 1]]:.10g} h (line "
            f"{rows.lines[order[i - 1]]}): more than blotting explains"
        )
        yield Finding(rows, row, "mass_mg", says)


def _readability(ledger: Ledger) -> Array:
    """Return the balance's step for each row in mg, 1 where experiment.yaml does not name it."""
    rows = ledger["weighings"]
    step = {
        ledger.names.code(name): about.balance_readability_mg
        for name, about in ledger.experiments.items()
    }
    present = np.unique(rows.experiment)
    steps = np.array([step.get(int(e)) or 1.0 for e in present], dtype=float)
    return steps[np.searchsorted(present, rows.experiment)]


def unlike_its_lot(ledger: Ledger) -> Iterator[Finding]:
    """Yield each mass before soaking that is many times that of the other seeds of its lot."""
    rows = ledger["weighings"]
    known = rows.given("mass_mg") & rows.given("seeds") & (rows["lot"] > 0) & ~rows.bad
    dry = np.flatnonzero(known & (rows["soaked_h"] == 0))
    each = rows["mass_mg"][dry] / rows["seeds"][dry]
    usual = groups.medians(rows.key("lot")[dry], each)
    ratio = each / usual
    for i in np.flatnonzero((ratio > LOT_SLIP) | (ratio < 1 / LOT_SLIP)):
        yield Finding(rows, dry[i], "mass_mg", _lot_words(rows, dry[i], usual[i]))


def _lot_words(rows: Rows, row: SupportsIndex, usual: float) -> str:
    return (
        f", but seeds of lot {rows.text('lot', row)} weigh about {usual:.3g} mg each: another unit, or a "
        "point in the wrong place?"
    )


def radicle_gone(ledger: Ledger) -> Iterator[Finding]:
    """Yield each row that sees no radicle where one was out before."""
    rows = ledger["weighings"]
    known = rows.given("radicle") & rows.given("soaked_h") & (rows["seed"] > 0)
    fine = np.flatnonzero(known)
    order, begins = groups.in_order(rows.key("seed")[fine], rows["soaked_h"][fine])
    out = rows["radicle"][fine][order]
    for i in np.flatnonzero(~begins & (out < np.roll(out, 1))):
        row, before = fine[order[i]], fine[order[i - 1]]
        yield Finding(rows, row, "radicle", f", but it was out in line {rows.lines[before]}")


RULES = (
    no_mass_left,
    nothing_observed,
    one_seed_two_stories,
    no_dry_mass,
    unit_slips,
    falls,
    unlike_its_lot,
    radicle_gone,
)
