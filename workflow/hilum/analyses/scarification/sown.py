"""The seeds of one dose series of one lot: dishes or baths at each dose, untreated seeds, seeds opened by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hilum.analyses.dishes import DishCounts
from hilum.analyses.estimate import Tables
from hilum.analyses.scarification.doses import Series
from hilum.stats.arrays import Array
from hilum.stats.scarification import Units

FATES = ("normal", "abnormal", "fresh", "hard", "dead")
PLAIN, OPENED = "untreated", "opened by hand"


@dataclass(frozen=True)
class Unit:
    """Seeds of one dish, or of all dishes of one bath: `kind` is a treatment, PLAIN or OPENED; `fates` (5,).

    `name` is what people call it.
    """

    kind: str
    dose: float
    fates: Array
    name: str = ""

    @property
    def sown(self) -> float:
        """Return the seeds of the unit."""
        return float(self.fates.sum())


@dataclass(frozen=True)
class Sown:
    """One series of one lot at one temperature and condition.

    `by_bath` where a treatment had several baths, so that the bath is what was replicated; `shared_bath` where a bath
    served several doses. `left_out` counts dishes of treatments that were not all assessed, and dishes that were changed during the test.
    `tested` are dead seeds and seeds, (D,) each, of viability tests, where no seed was opened by hand: those of the lot
    together, and each sample before a storage, since such samples differ as dishes do.
    """

    lot: str
    temperature_c: float
    condition: str
    series: Series
    units: tuple[Unit, ...]
    by_bath: bool
    baths_known: bool
    shared_bath: bool
    left_out: int
    tested: tuple[Array, Array] | None

    def of(self, kind: str) -> list[Unit]:
        """Return the units of a kind: a treatment, PLAIN or OPENED."""
        return [u for u in self.units if u.kind == kind]

    @property
    def doses(self) -> list[float]:
        """Return the doses above 0 that were tried, in order."""
        return sorted({u.dose for u in self.units if u.kind not in (PLAIN, OPENED)})

    @property
    def replicated(self) -> bool:
        """Return whether any group has two units."""
        kinds = [(u.kind, u.dose) for u in self.units]
        return any(kinds.count(kind) > 1 for kind in kinds)

    def arrays(self) -> Units:
        """Return the units as the likelihood wants them."""
        fates = np.array([u.fates for u in self.units])
        opened = np.array([u.kind == OPENED for u in self.units])
        dose = np.array([u.dose if u.kind not in (PLAIN, OPENED) else 0.0 for u in self.units])
        log_dose = np.where(dose > 0, np.log(np.where(dose > 0, dose, 1.0)), -np.inf)
        sown = fates.sum(-1)
        return Units(log_dose, opened, sown, sown - fates[:, 3], fates[:, 0])

    def table(self, fates: Sequence[int]) -> tuple[list[tuple[str, float]], Array, Array]:
        """Return (kind, dose) of each group, seeds with one of the fates and seeds sown of its units, (C, D)."""
        groups: dict[tuple[str, float], list[Unit]] = {}
        for unit in self.units:
            key = (unit.kind, unit.dose) if unit.kind in (PLAIN, OPENED) else ("dose", unit.dose)
            groups.setdefault(key, []).append(unit)
        keys = sorted(groups, key=lambda k: (k[0] != "dose", k[0] == OPENED, k[1]))
        width = max((len(g) for g in groups.values()), default=1)
        hits, seeds = np.zeros((len(keys), width)), np.zeros((len(keys), width))
        for i, key in enumerate(keys):
            for j, unit in enumerate(groups[key]):
                hits[i, j], seeds[i, j] = unit.fates[list(fates)].sum(), unit.sown
        return keys, hits, seeds


def gather(
    dishes: DishCounts,
    tables: Tables,
    series: Sequence[Series],
    plain: set[str],
    opened: set[str],
) -> list[Sown]:
    """Return the seeds of every series in every lot, temperature and condition that has two of its doses."""
    first = dishes.first_phase()
    places: dict[tuple[str, str, str], list[int]] = {}
    for row in range(len(first)):
        place = (str(first.lot[row]), f"{first.temperature_c[row]:g}", str(first.condition[row]))
        places.setdefault(place, []).append(row)
    made = []
    for rows in places.values():
        there = first.take(np.array(rows))
        for one in series:
            own = {str(t) for t in there.treatment} & {t for t, d in one.doses.items() if d > 0}
            if len({one.doses[t] for t in own}) > 1:
                made.append(_sown(there, tables, one, plain, opened))
    return made


def _sown(
    there: DishCounts, tables: Tables, series: Series, plain: set[str], opened: set[str]
) -> Sown:
    plain = plain | {t for t, dose in series.doses.items() if dose == 0}
    wanted = np.array([str(t) in series.doses or str(t) in plain | opened for t in there.treatment])
    # the fates of a dish that was changed during the test are not those of its treatment
    told = there.fates.known & there.last & wanted & _all_scored(there)
    kinds = dict.fromkeys(plain, PLAIN) | dict.fromkeys(opened, OPENED)
    dosed = {t for t, dose in series.doses.items() if dose > 0}
    baths = {
        (str(t), str(b))
        for t, b in zip(there.treatment[told], there.batch[told], strict=True)
        if t in dosed and b
    }
    by_bath = any(sum(t == other for other, _ in baths) > 1 for t, _ in baths)
    units: dict[tuple[str, str], Unit] = {}
    for row in np.flatnonzero(told):
        treatment, batch = str(there.treatment[row]), str(there.batch[row])
        kind = kinds.get(treatment, treatment)
        in_bath = by_bath and batch and kind == treatment
        name = f"{treatment}, bath {batch}" if in_bath else str(there.dish[row])
        key = (treatment, batch) if in_bath else ("", name)
        fates = _fates(there, int(row)) + (units[key].fates if key in units else 0.0)
        dose = series.doses.get(treatment, 0.0) if kind == treatment else 0.0
        units[key] = Unit(kind, dose, fates, name)
    lot = str(there.lot[0])
    units |= _opened_samples(tables, lot, plain | opened)
    has_reference = any(u.kind == OPENED for u in units.values())
    names = [b for _, b in baths]
    return Sown(
        lot=lot,
        temperature_c=float(there.temperature_c[0]),
        condition=str(there.condition[0]),
        series=series,
        units=tuple(u for u in units.values() if u.sown > 0),
        by_bath=by_bath,
        baths_known=bool(baths),
        shared_bath=len(set(names)) < len(names),
        left_out=int((wanted & ~told).sum()),
        tested=None if has_reference else _tested(tables, lot, plain),
    )


def _all_scored(there: DishCounts) -> np.ndarray:
    """Return the dishes of treatments whose dishes nobody left unscored.

    Where some were, those in which nothing was left to score would stand for all, chosen by their result.
    """
    unscored = set(there.treatment[there.last & ~there.fates.known].tolist())
    return ~np.isin(there.treatment, list(unscored))


def _fates(there: DishCounts, row: int) -> Array:
    f = there.fates
    normal = max(f.germinated[row] - f.abnormal[row], 0.0)
    return np.array([normal, f.abnormal[row], f.fresh[row], f.hard[row], f.dead[row]])


def _samples(
    tables: Tables, lot: str, methods: Sequence[str], *, before_storage: bool
) -> list[tuple[str, str, float, float]]:
    """Return sample, treatment, seeds alive and other seeds of the lot's viability tests by these methods.

    Those `before_storage` begin a store; samples that were stored tell of the store, not of the lot.
    """
    table = tables.get("viability")
    if table is None:
        return []
    names = ("sample", "treatment", "alive", "seeds", "lot", "method", "stored_d")
    return [
        (str(sample), str(treatment), float(alive), float(seeds) - float(alive))
        for sample, treatment, alive, seeds, whose, how, days in zip(
            *(table[n] for n in names), strict=True
        )
        if str(whose) == lot
        and str(how) in methods
        and (days == 0 if before_storage else np.isnan(days))
    ]


def _opened_samples(tables: Tables, lot: str, harmless: set[str]) -> dict[tuple[str, str], Unit]:
    """Return the samples of a viability test whose seeds were opened by hand and sown; a store may begin with treated ones."""
    how = ("hand_opened",)
    found = _samples(tables, lot, how, before_storage=False)
    found += [s for s in _samples(tables, lot, how, before_storage=True) if s[1] in harmless]
    return {
        ("viability", sample): Unit(OPENED, 0.0, np.array([alive, 0.0, 0.0, 0.0, dead]), sample)
        for sample, _, alive, dead in found
    }


def _tested(tables: Tables, lot: str, plain: set[str]) -> tuple[Array, Array] | None:
    """Return dead seeds and seeds, (D,) each, of the viability tests of the untreated lot."""
    each: list[tuple[float, float]] = []
    for before_storage in (False, True):
        found = _samples(tables, lot, ("tetrazolium", "cutting"), before_storage=before_storage)
        own = [(dead, dead + alive) for _, treatment, alive, dead in found if treatment in plain]
        each += own if before_storage else [(sum(d for d, _ in own), sum(n for _, n in own))]
    dead, seeds = np.array([one for one in each if one[1] > 0], dtype=float).reshape(-1, 2).T
    return (dead, seeds) if len(seeds) else None
