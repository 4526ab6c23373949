"""Sound studies as careful people keep them: every seed a study, of one of many kinds of seeds, tests and habits.

They share no code with the check. Nothing in them is a mistake, so a remark of the check on one is false.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from hilum.steps.check import examined
from hilum.study import Study

Row = dict[str, Any]
Rng = np.random.Generator


@dataclass
class Notebook:
    """A study as typed: rows of each table by file, `about` each experiment.yaml, and which seeds it is about."""

    tables: dict[str, list[Row]] = field(default_factory=dict)
    about: dict[str, dict[str, str]] = field(default_factory=dict)
    seed_mg: float = 1.0
    step_mg: float = 1.0
    extra: dict[str, bytes] = field(default_factory=dict)

    def files(self, name: str) -> list[str]:
        """Return the files of one table."""
        return [file for file in self.tables if Path(file).stem == name]

    def write(self, folder: Path) -> None:
        """Write the study into a folder."""
        texts = {file: written(rows) for file, rows in self.tables.items()}
        for name, about in self.about.items():
            texts[f"{name}/experiment.yaml"] = "".join(
                f"{k}: {v}\n" for k, v in about.items()
            ).encode()
        for name, data in (texts | self.extra).items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_bytes(data)


def written(rows: list[Row]) -> bytes:
    """Return rows as a CSV file."""
    columns = dict.fromkeys(name for row in rows for name in row)
    file = io.StringIO()
    writer = csv.DictWriter(file, list(columns), restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return file.getvalue().encode()


@dataclass(frozen=True, kw_only=True)
class Species:
    """Base and thermal time of its seeds, their spread in log time, what germinates at best, and the mass of one, mg."""

    base_c: float
    warmth_c_h: float
    spread: float
    good: float
    mass_mg: float


# what happens to the dishes of an experiment
HABITS = (
    "ordinary",
    "single seeds",
    "few seeds",
    "all zero",
    "all at first",
    "many seeds",
    "own days",
)


def draw(seed: int) -> Notebook:
    """Return the sound study of a seed."""
    rng = np.random.default_rng([4711, seed])
    kind = ("warm", "cold", "fast", "slow")[seed % 4]
    species = _species(kind, rng)
    book = Notebook(seed_mg=species.mass_mg)
    lots = _lots(book, species, rng)
    treatments = _treatments(rng)
    book.tables["treatments.csv"] = treatments
    day = date(2023, 1, 10) + timedelta(days=int(rng.integers(700)))
    for row in book.tables["lots.csv"]:
        if "collected_on" in row:
            row["collected_on"] = (day - timedelta(days=int(rng.integers(40, 900)))).isoformat()
    names = list(dict.fromkeys(t["treatment"] for t in treatments))
    _germination(book, species, lots, names, day, HABITS[seed % len(HABITS)], rng)
    if rng.random() < 0.6:
        _series(book, species, lots[0], names[0], day, rng)
    if rng.random() < 0.6:
        _uptake(book, species, lots, names, "uptake", rng)
        if rng.random() < 0.3:
            _uptake(book, species, lots, names, "uptake again", rng)
    if rng.random() < 0.25:
        _stored(book, species, lots[0], names[0], day, rng)
    return book


def _species(kind: str, rng: Rng) -> Species:
    base, warmth = {
        "warm": (rng.uniform(8, 13), rng.uniform(700, 2500)),
        "cold": (rng.uniform(0, 3), rng.uniform(1000, 3500)),
        "fast": (rng.uniform(4, 9), rng.uniform(350, 600)),
        "slow": (rng.uniform(3, 8), rng.uniform(4000, 9000)),
    }[kind]
    return Species(
        base_c=float(base),
        warmth_c_h=float(warmth),
        spread=float(rng.uniform(0.12, 0.45)),
        good=float(rng.choice([0.3, 0.6, 0.85, 0.97])),
        mass_mg=float(10 ** rng.uniform(np.log10(0.05), np.log10(18_000))),
    )


def _lots(book: Notebook, species: Species, rng: Rng) -> list[str]:
    names = list(rng.permutation(["A", "B", "shore 7", "2021-03", "Hill_2"]))[
        : int(rng.integers(1, 4))
    ]
    taxa = ["Inventa prima", "Inventa prima", "Fictoria alta"]
    rows = []
    for place, name in enumerate(names):
        row: Row = {"lot": name, "taxon": taxa[0 if place else int(rng.integers(2))]}
        if rng.random() < 0.6:
            row["collected_on"] = ""
        if rng.random() < 0.4:
            row["expected_germination_pct"] = int(rng.integers(20, 99))
        if rng.random() < 0.4:
            row["moisture_pct"] = round(float(rng.uniform(3, 14)), 1)
        if rng.random() < 0.4:
            row["thousand_seed_mass_g"] = f"{species.mass_mg * np.exp(0.1 * rng.normal()):.3g}"
        rows.append(row)
    book.tables["lots.csv"] = rows
    return [str(n) for n in names]


def _treatments(rng: Rng) -> list[Row]:
    intact: list[Row] = [{"treatment": "intact", "method": "none"}]
    chipped: list[Row] = [{"treatment": "chipped", "method": "chipping"}]
    acid = {
        "method": "acid",
        "agent": "sulphuric acid",
        "concentration": 95,
        "concentration_unit": "%",
    }
    style = int(rng.integers(4))
    if style == 0:
        return intact + [
            {"treatment": f"acid-{m}", **acid, "duration": m, "duration_unit": "min"}
            for m in (5, 15, 30, 60)[: int(rng.integers(2, 5))]
        ]
    if style == 1:
        return intact + [
            {"treatment": f"acid {h} h", **acid, "duration": h, "duration_unit": "h"}
            for h in (1, 2, 4, 8)
        ]
    if style == 2:
        cold = {"method": "cold_moist", "duration": 6, "duration_unit": "d", "temperature_c": 4}
        return [
            *intact,
            *chipped,
            {"treatment": "cold", **cold, "duration": int(rng.choice([28, 42, 84]))},
        ]
    hot = {"treatment": "hot water", "method": "hot_water", "duration": 10, "duration_unit": "min"}
    grown = {"treatment": "GA3", "method": "growth_regulator", "agent": "gibberellic acid"}
    grown |= {
        "concentration": 0.05,
        "concentration_unit": "%",
        "duration": 24,
        "duration_unit": "h",
    }
    return [*intact, *chipped, {**hot, "temperature_c": 80}, grown]


def _looks(species: Species, warm_c: float, rng: Rng) -> list[float]:
    """Return hours of inspections that cover what happens at a temperature."""
    half = species.warmth_c_h / max(warm_c - species.base_c, 2.0)
    end = float(np.clip(2.2 * half, 48, 24 * 120))
    if end < 120 and rng.random() < 0.7:
        short = [
            [6, 12, 18, 24, 30, 36, 48],
            [8, 14, 24, 32, 38, 48, 56],
            [9, 15, 22, 31, 39, 46, 55, 63],
        ]
        own = [float(h) for h in short[int(rng.integers(3))]]
        return own + [h for h in (72.0, 96.0, 120.0) if h <= end]
    days = max(int(end / 24), 4)
    kind = int(rng.integers(5))
    step = [1, 2, 3 if days > 12 else 1, 7 if days > 30 else 1, 1][kind]
    own = [24.0 * d for d in range(step, days + step, step)]
    if kind == 4:
        # by and by less often
        own, at, gap = [], 1.0, 1.0
        while at <= days + 3:
            own.append(24.0 * at)
            gap = gap * 1.35
            at = float(round(at + gap))
    return own


def _dish(
    species: Species, seeds: int, warm_c: float, looks: list[float], good: float, rng: Rng
) -> list[int]:
    """Return newly germinated seeds at each look."""
    above = max(warm_c - species.base_c, 0.5)
    median = species.warmth_c_h / above * np.exp(0.08 * rng.normal())
    times = median * np.exp(species.spread * rng.normal(size=seeds))
    odds = (
        good / (1 - good) * np.exp(0.3 * rng.normal()) if 0 < good < 1 else np.inf if good else 0.0
    )
    never = rng.random(seeds) >= (odds / (1 + odds) if np.isfinite(odds) else 1.0)
    times[never] = np.inf
    edges = np.array([0.0, *looks])
    return [int(((times > a) & (times <= b)).sum()) for a, b in pairwise(edges)]


@dataclass
class Sown:
    """Dishes and counts of one experiment while they are written."""

    dishes: list[Row] = field(default_factory=list)
    counts: list[Row] = field(default_factory=list)
    typed: str = "elapsed_h"

    def add(
        self, row: Row, looks: list[float], germinated: list[int], sown: datetime | None, rng: Rng
    ) -> None:
        """Write a dish and what was counted at each look, mostly no longer once all seeds have germinated."""
        if sown is not None:
            row = row | {"sown_at": f"{sown:%Y-%m-%dT%H:%MZ}"}
        self.dishes.append(row)
        left = row["seeds"]
        for hours, new in zip(looks, germinated, strict=True):
            cell: Row = {"elapsed_h": f"{hours:.10g}"}
            if self.typed == "elapsed_d":
                cell = {"elapsed_d": f"{round(hours / 24, 4):.10g}"}
            if self.typed == "inspected_at" and sown is not None:
                at = sown + timedelta(hours=hours)
                cell = {"inspected_at": f"{at:%Y-%m-%dT%H:%MZ}"}
            self.counts.append({"dish": row["dish"], **cell, "germinated": new})
            left -= new
            if not left and rng.random() < 0.8:
                break

    def into(self, book: Notebook, name: str, title: str) -> None:
        """Put the experiment into a notebook."""
        book.tables[f"{name}/dishes.csv"], book.tables[f"{name}/counts.csv"] = (
            self.dishes,
            self.counts,
        )
        book.about[name] = {"title": title, "analyses": "[]", "time_zone": "UTC"}


def _new(day: date, rng: Rng) -> tuple[Sown, datetime | None]:
    typed = str(rng.choice(["elapsed_h", "elapsed_h", "elapsed_d", "inspected_at"]))
    start = datetime(day.year, day.month, day.day, int(rng.integers(8, 17)))
    return Sown(typed=typed), start if typed == "inspected_at" or rng.random() < 0.6 else None


def _germination(
    book: Notebook,
    species: Species,
    lots: list[str],
    treatments: list[str],
    day: date,
    habit: str,
    rng: Rng,
) -> None:
    made, sown = _new(day, rng)
    warm = float(rng.choice([t for t in (10, 15, 20, 25, 30) if t > species.base_c + 4]))
    looks = _looks(species, warm, rng)
    seeds = {"single seeds": 1, "few seeds": 5, "many seeds": 100}.get(habit) or int(
        rng.choice([10, 20, 25, 50])
    )
    dishes = int(rng.integers(8, 20)) if seeds == 1 else int(rng.integers(2, 6))
    style = str(rng.choice(["{t}-{l}-{n}", "{n}{t} {l}", "d{i}"]))
    slow = bool(rng.random() < 0.3)
    for lot in lots:
        for place, treatment in enumerate(treatments):
            good = {"all zero": 0.0, "all at first": 1.0}.get(
                habit, species.good * rng.uniform(0.3, 1)
            )
            own = looks
            start = sown and sown + timedelta(days=7 * place if slow else 0)
            if treatment == "cold" and start and not slow:
                start += timedelta(days=int(rng.choice([28, 42])))
            for n in range(dishes):
                if habit == "own days":
                    own = [h for h in looks if rng.random() < 0.6] or looks[-1:]
                if habit == "all at first":
                    own = [
                        max(own[0], 24.0 * 30),
                        *[max(own[0], 24.0 * 30) + 24.0 * i for i in (3, 7)],
                    ]
                name = style.format(
                    t=treatment, l=lot, n="abcdefghijklmnopqrstuvw"[n], i=len(made.dishes) + 1
                )
                row: Row = {
                    "dish": name,
                    "lot": lot,
                    "treatment": treatment,
                    "temperature_c": warm,
                    "seeds": seeds,
                }
                made.add(row, own, _dish(species, seeds, warm, own, good, rng), start, rng)
    made.into(book, "germination", "Germination")


def _series(
    book: Notebook, species: Species, lot: str, treatment: str, day: date, rng: Rng
) -> None:
    made, sown = _new(day + timedelta(days=30), rng)
    low = 5 * round((species.base_c + 4) / 5)
    temperatures = [low + 5 * i for i in range(int(rng.integers(2, 5)))]
    seeds, dishes = int(rng.choice([10, 25, 50])), int(rng.integers(2, 6))
    shared = _looks(species, temperatures[0] if rng.random() < 0.5 else temperatures[-1], rng)
    for t in temperatures:
        looks = shared if rng.random() < 0.7 else _looks(species, t, rng)
        for n in range(dishes):
            row: Row = {
                "dish": f"t{t}-{n + 1}",
                "lot": lot,
                "treatment": treatment,
                "temperature_c": t,
                "seeds": seeds,
            }
            made.add(row, looks, _dish(species, seeds, t, looks, species.good, rng), sown, rng)
    made.into(book, "temperatures", "Temperatures")


def _stored(
    book: Notebook, species: Species, lot: str, treatment: str, day: date, rng: Rng
) -> None:
    made, sown = _new(day, rng)
    looks = _looks(species, 20.0, rng)
    for kept in (0, 30, 90, 365, 730):
        for n in "abc":
            row: Row = {
                "dish": f"s{kept}{n}",
                "lot": lot,
                "treatment": treatment,
                "temperature_c": 20,
                "seeds": 25,
            }
            row |= {
                "stored_d": kept,
                "stored_at_c": 5 if kept else "",
                "stored_moisture_pct": 7 if kept else "",
            }
            good = species.good * np.exp(-kept / 900)
            made.add(
                row,
                looks,
                _dish(species, 25, 20.0, looks, good, rng),
                sown and sown + timedelta(days=kept),
                rng,
            )
    made.into(book, "storage", "Storage")


# what balances show, mg
_BALANCES = (0.001, 0.01, 0.1, 1.0, 10.0)


def _uptake(
    book: Notebook, species: Species, lots: list[str], treatments: list[str], name: str, rng: Rng
) -> None:
    group = 1 if species.mass_mg > 0.5 else int(rng.choice([1, 50, 100]))
    whole = species.mass_mg * group
    fine = [b for b in _BALANCES if b <= whole / 20]
    step = float(fine[-1 - int(rng.integers(2) if len(fine) > 1 else 0)] if fine else _BALANCES[0])
    hours = [
        [0, 1, 3, 6, 12, 24, 48],
        [0, 2, 4, 8, 24, 48, 72],
        [0, 24, 48, 96, 168],
        [0, 1, 2, 4, 6, 24, 30, 48, 120],
    ][int(rng.integers(4))]
    grams = step >= 0.1 and rng.random() < 0.3
    half = 0.4 * np.cbrt(species.mass_mg) * rng.uniform(0.8, 1.6)
    rows: list[Row] = []
    for lot in lots:
        mean = species.mass_mg * np.exp(0.1 * rng.normal())
        for treatment in treatments[:2]:
            for n in range(int(rng.integers(5, 20))):
                dry = mean * group * np.exp(0.2 / np.sqrt(group) * rng.normal())
                hard = treatment == "intact" and rng.random() < 0.6
                pace = half * np.exp(0.3 * rng.normal())
                for h in hours:
                    wet = dry * (1 + (0 if hard else 0.9 * (1 - np.exp(-h / pace))))
                    shown = step * round(wet / step)
                    cell: Row = (
                        {"mass_g": f"{shown / 1000:.6g}"}
                        if grams
                        else {"mass_mg": f"{round(shown, 4):.10g}"}
                    )
                    row: Row = {
                        "seed": f"{lot}-{treatment}-{n + 1}",
                        "lot": lot,
                        "treatment": treatment,
                    }
                    rows.append(row | {"seeds": group, "soaked_h": h, **cell})
    folder = name.replace(" ", "-")
    book.tables[f"{folder}/weighings.csv"] = rows
    book.about[folder] = {"title": name.capitalize(), "analyses": "[]", "time_zone": "UTC"}
    book.step_mg = step
    if step >= 10 or rng.random() < 0.5:
        book.about[folder]["balance_readability_mg"] = f"{step:g}"


def remarks(book: Notebook, folder: Path) -> tuple[list[str], list[str]]:
    """Return what the check remarks on a study, and the faults that it finds."""
    book.write(folder / "raw" / "book")
    found = examined(Study(raw=folder / "raw" / "book", results=folder / "results" / "book"))
    return list(found.notes), list(found.faults)
