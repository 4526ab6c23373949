"""Random small and ordinary studies as raw tables: lots × treatments × places, and what happens to dishes at real benches.

Every seed of the generator has one habit and one more experiment or treatment for certain, so that each occurs over as many
seeds as there are habits.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np

from tests.consistency.bench import Row, Sheets, Sowing, sow
from tests.consistency.world import Done, Lot, Place

NONE = Done(name="intact", steps=({"method": "none"},))
CHIPPED = Done(name="chipped", steps=({"method": "chipping"},), opens=1.0)
COLD = Done(
    name="cold-12wk",
    steps=({"method": "cold_moist", "duration": "84", "duration_unit": "d", "temperature_c": "4"},),
    cold_d=84.0,
)
CHIPPED_COLD = Done(
    name="chipped-cold", steps=(*CHIPPED.steps, *COLD.steps), opens=1.0, cold_d=84.0
)
SANDED = Done(
    name="sanded",
    steps=({"method": "sandpaper", "duration": "40", "duration_unit": "strokes"},),
    opens=0.6,
)
_DURATIONS = (5.0, 15.0, 30.0, 60.0)


def acid(minutes: float) -> Done:
    """Return seeds that lay in acid for some minutes: the longer, the more coats are open and the more seeds dead."""
    step = {
        "method": "acid",
        "agent": "sulphuric acid",
        "concentration": "95",
        "concentration_unit": "%",
    }
    step |= {"duration": f"{minutes:g}", "duration_unit": "min"}
    opens, kills = 1 - np.exp(-minutes / 15), 1 - np.exp(-((minutes / 70) ** 3))
    return Done(name=f"acid-{minutes:g}", steps=(step,), opens=float(opens), kills=float(kills))


# what happens to the dishes of the first experiment
HABITS = (
    "finished early",
    "one-seed cups",
    "unscored",
    "partly scored",
    "never inspected",
    "cut, alive blank",
    "leftovers pressed",
    "opened afterwards",
    "moved afterwards",
    "ends differ",
    "seeds lost",
    "mouldy taken out",
    "one dish",
    "unequal dishes",
    "all dead",
    "all germinated",
    "none germinated",
)
# what else the study has
MORE = (
    "temperature series",
    "outcomes only",
    "same seeds again",
    "weighed",
    "floats at 0 h",
    "stored",
    "acid durations",
    "opened by hand beside",
    "moist cold",
    "viability test",
    "alternating",
)
FEATURES = (*HABITS, *MORE)
# of these one excludes the other in one group of dishes
_APART = (
    ("unscored", "partly scored", "cut, alive blank", "leftovers pressed"),
    ("all dead", "all germinated", "none germinated", "finished early"),
    ("one-seed cups", "one dish", "unequal dishes"),
    ("one-seed cups", "opened afterwards", "moved afterwards", "never inspected"),
    ("finished early", "opened afterwards", "moved afterwards", "one dish"),
)


@dataclass(frozen=True)
class Raw:
    """A study as typed: rows of each table by experiment ("" for those of the study), and the analyses of each."""

    seed: int
    features: frozenset[str]
    tables: Mapping[str, Mapping[str, list[Row]]]
    analyses: Mapping[str, tuple[str, ...]]

    @property
    def experiments(self) -> list[str]:
        """Return the names of the experiments."""
        return [name for name in self.tables if name]

    def rows(self, table: str) -> list[tuple[str, Row]]:
        """Return the rows of a table of all experiments, with their experiment."""
        return [(e, row) for e in self.experiments for row in self.tables[e].get(table, [])]


def draw(seed: int) -> Raw:
    """Return the study of a seed."""
    rng = np.random.default_rng([20260, seed])
    features = _features(seed, rng)
    lots = [_lot(name, rng) for name in ("Alder bay", "Brook")[: 1 + int(rng.random() < 0.3)]]
    treatments = _treatments(features, rng)
    place = _place(features, rng)
    experiments: dict[str, Sheets] = {"first": Sheets()}
    _first(experiments["first"], lots, treatments, place, features, rng)
    analyses: dict[str, tuple[str, ...]] = {"first": ("time_course",)}
    own = Common(lots[0], treatments, place, features)
    for feature, (name, wanted, add) in _ADDED.items():
        if feature in features:
            experiments[name], analyses[name] = Sheets(), wanted
            add(experiments[name], own, rng)
    if "weighed" in features and "floats at 0 h" in features:
        analyses["soaked"] = ("imbibition", "buoyancy")
    if "viability test" in features:
        _viability(experiments["first"], lots[0], rng)
    used = {
        row["treatment"]
        for e in experiments.values()
        for t in asdict(e).values()
        for row in t
        if "treatment" in row
    }
    known = {t.name: t for t in (*treatments, NONE, CHIPPED, COLD, *map(acid, _DURATIONS))}
    tables = {"": _of_study(lots, [known[t] for t in known if t in used], rng)}
    tables |= {
        name: {t: rows for t, rows in asdict(e).items() if rows} for name, e in experiments.items()
    }
    return Raw(seed, features, tables, analyses)


def _features(seed: int, rng: np.random.Generator) -> frozenset[str]:
    chosen = [HABITS[seed % len(HABITS)], MORE[seed % len(MORE)]]
    for other in rng.permutation(np.array(FEATURES)):
        if (
            other not in chosen
            and rng.random() < 0.12
            and not any(other in apart and set(apart) & set(chosen) for apart in _APART)
        ):
            chosen.append(str(other))
    if "floats at 0 h" in chosen and "weighed" not in chosen:
        chosen.append("weighed")
    return frozenset(chosen)


def _lot(name: str, rng: np.random.Generator) -> Lot:
    hard = rng.random() < 0.6
    return Lot(
        name=name,
        dead=float(rng.choice([0.02, 0.1, 0.3, 0.55])),
        empty=float(rng.choice([0.0, 0.0, 0.06])),
        eaten=float(rng.choice([0.0, 0.0, 0.04])),
        closed=float(rng.uniform(0.5, 0.97)) if hard else float(rng.choice([0.0, 0.03])),
        dormant=float(rng.choice([0.0, 0.0, 0.5, 0.9])),
        wants_d=float(rng.choice([30.0, 60.0, 150.0])),
        base_c=float(rng.uniform(3, 11)),
        warmth_c_h=float(rng.uniform(500, 1800)),
    )


def _treatments(features: frozenset[str], rng: np.random.Generator) -> list[Done]:
    others = [CHIPPED, COLD, CHIPPED_COLD, SANDED, acid(20.0)]
    chosen = [
        NONE,
        *(others[i] for i in sorted(rng.choice(5, size=int(rng.integers(1, 3)), replace=False))),
    ]
    if "moist cold" in features:
        chosen.append(COLD)
    if "opened by hand beside" in features:
        chosen.append(CHIPPED)
    return list({t.name: t for t in chosen}.values())


def _place(features: frozenset[str], rng: np.random.Generator) -> Place:
    warm = float(rng.choice([15.0, 20.0, 25.0]))
    night = warm - 10 if "alternating" in features else None
    return Place(day_c=warm, night_c=night, light=str(rng.choice(["", "", "dark"])))


def _sizes(rng: np.random.Generator, features: frozenset[str] = frozenset()) -> tuple[int, ...]:
    if "one-seed cups" in features:
        return (1,) * int(rng.integers(8, 25))
    seeds = int(rng.choice([5, 10, 20, 25, 50]))
    dishes = 1 if "one dish" in features else int(rng.integers(2, 5))
    spread = (
        rng.integers(0, seeds // 2 + 1, dishes)
        if "unequal dishes" in features
        else np.zeros(dishes, dtype=int)
    )
    return tuple(int(seeds - less) for less in spread)


def _looks(rng: np.random.Generator) -> tuple[float, ...]:
    days = np.arange(1, 29)[:: int(rng.choice([1, 2, 3, 7]))]
    return tuple(float(24 * d) for d in (*days, 30) if d <= int(rng.choice([21, 30])) or d < 8)


def _first(
    into: Sheets,
    lots: list[Lot],
    treatments: list[Done],
    place: Place,
    features: frozenset[str],
    rng: np.random.Generator,
) -> None:
    """Sow every lot and treatment; some habits are those of one treatment only, as at real benches."""
    looks = _looks(rng)
    odd = treatments[int(rng.integers(len(treatments)))].name
    everywhere = rng.random() < 0.4
    for lot in lots:
        for done in treatments:
            own = features & set(HABITS) if everywhere or done.name == odd else frozenset[str]()
            if (
                own & {"never inspected", "all dead", "none germinated", "all germinated"}
                and done.name != odd
            ):
                own -= {"never inspected", "all dead", "none germinated", "all germinated"}
            kept = replace(lot, **_forced(own))
            sizes = _sizes(rng, own)
            sow(
                into,
                Sowing(
                    lot=kept,
                    done=_odd(done, own),
                    place=place,
                    sizes=sizes,
                    looks_h=looks,
                    habits=own,
                ),
                rng=rng,
            )


def _forced(habits: frozenset[str]) -> dict[str, float]:
    if "all dead" in habits:
        return {"dead": 1.0, "closed": 0.0}
    if "all germinated" in habits:
        return {
            "dead": 0.0,
            "empty": 0.0,
            "eaten": 0.0,
            "closed": 0.0,
            "dormant": 0.0,
            "warmth_c_h": 400.0,
        }
    if "none germinated" in habits:
        return {"base_c": 40.0}
    if "opened afterwards" in habits:
        return {"closed": 0.8}
    return {}


def _odd(done: Done, habits: frozenset[str]) -> Done:
    return replace(done, kills=0.0) if habits & {"all germinated", "finished early"} else done


@dataclass(frozen=True)
class Common:
    """What the experiments of a study have in common: the lot, its treatments, the usual place, the features of the study."""

    lot: Lot
    treatments: list[Done]
    place: Place
    features: frozenset[str]


Add = Callable[[Sheets, Common, np.random.Generator], None]


def _series(into: Sheets, own: Common, rng: np.random.Generator) -> None:
    degrees = sorted(
        {
            own.place.day_c,
            *rng.choice([8.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0], size=4, replace=False),
        }
    )
    done = own.treatments[int(rng.integers(len(own.treatments)))]
    kept = replace(own.lot, closed=0.1 * own.lot.closed) if rng.random() < 0.7 else own.lot
    habits = own.features & {"unscored", "ends differ", "finished early"}
    for warm in degrees:
        there = replace(own.place, day_c=float(warm), night_c=None)
        sizes = (20,) * int(rng.integers(1, 4))
        sow(
            into,
            Sowing(
                lot=kept, done=done, place=there, sizes=sizes, looks_h=_looks(rng), habits=habits
            ),
            rng=rng,
        )


def _ends(into: Sheets, own: Common, rng: np.random.Generator) -> None:
    there = own.place if rng.random() < 0.5 else replace(own.place, day_c=own.place.day_c + 3)
    for done in own.treatments:
        habits = frozenset({"outcomes only"}) | (
            own.features & {"cut, alive blank", "leftovers pressed"}
        )
        sow(
            into,
            Sowing(
                lot=own.lot,
                done=done,
                place=there,
                sizes=(25,) * 4,
                looks_h=(672.0,),
                habits=habits,
            ),
            rng=rng,
        )


def _again(into: Sheets, own: Common, rng: np.random.Generator) -> None:
    looks = _looks(rng)
    worse = replace(own.lot, dead=min(own.lot.dead + 0.15, 1.0))  # the bag is a year older
    for done in own.treatments[: int(rng.integers(1, len(own.treatments) + 1))]:
        habits = own.features & {"unscored", "partly scored", "unequal dishes"}
        sow(
            into,
            Sowing(
                lot=worse,
                done=done,
                place=own.place,
                sizes=_sizes(rng, habits),
                looks_h=looks,
                habits=habits,
            ),
            rng=rng,
        )


def _weighed(into: Sheets, own: Common, rng: np.random.Generator) -> None:
    floats = "floats at 0 h" in own.features
    hours = (0, 24, 48, 96)
    for done in (NONE, CHIPPED):
        for i in range(int(rng.integers(8, 20))):
            name = f"{done.name}-{i + 1}"
            dry = rng.lognormal(np.log(60.0), 0.15)
            shut = rng.random() < own.lot.closed and rng.random() >= done.opens
            filled = rng.random() >= own.lot.dead
            for at in hours:
                gain = 0.0 if shut else 0.9 * (1 - np.exp(-at / 15))
                row = {
                    "seed": name,
                    "lot": own.lot.name,
                    "treatment": done.name,
                    "soaked_h": str(at),
                }
                row["mass_mg"] = f"{dry * (1 + gain) + 0.4 * rng.normal() * (at > 0):.1f}"
                if floats:
                    row["floats"] = (
                        "yes"
                        if rng.random() < (0.2 if filled and not shut else 0.7) * np.exp(-at / 60)
                        else "no"
                    )
                into.weighings.append(row)
            if floats:
                fate = "dead" if not filled else "hard" if shut else "germinated"
                row = {"seed": name, "outcome": fate, "seeds": "1"}
                into.outcomes.append(
                    row | ({"alive": "1", "assessed_by": "cutting"} if fate == "hard" else {})
                )


def _stored(into: Sheets, own: Common, rng: np.random.Generator) -> None:
    done = own.treatments[int(rng.integers(len(own.treatments)))]
    looks = _looks(rng)
    for days in (0.0, 60.0, 180.0, 365.0):
        there = replace(own.place, stored_d=days)
        sow(
            into,
            Sowing(lot=own.lot, done=done, place=there, sizes=(20, 20), looks_h=looks),
            rng=rng,
        )


def _durations(into: Sheets, own: Common, rng: np.random.Generator) -> None:
    looks = _looks(rng)
    habits = own.features & {"partly scored", "cut, alive blank", "leftovers pressed"}
    for done in (NONE, *map(acid, _DURATIONS), *([CHIPPED] if rng.random() < 0.5 else [])):
        sow(
            into,
            Sowing(
                lot=own.lot,
                done=done,
                place=own.place,
                sizes=(20,) * 3,
                looks_h=looks,
                habits=habits,
            ),
            rng=rng,
        )


_ADDED: dict[str, tuple[str, tuple[str, ...], Add]] = {
    "temperature series": ("warmth", ("time_course", "temperature"), _series),
    "outcomes only": ("ends", (), _ends),
    "same seeds again": ("again", ("time_course",), _again),
    "weighed": ("soaked", ("imbibition",), _weighed),
    "stored": ("kept", ("storage", "time_course"), _stored),
    "acid durations": ("doses", ("scarification", "time_course"), _durations),
}


def _viability(into: Sheets, lot: Lot, rng: np.random.Generator) -> None:
    for sample, seeds in (("v1", 50), ("v2", 50)):
        alive = int(rng.binomial(seeds, 1 - lot.dead))
        into.viability.append(
            {"sample": sample, "lot": lot.name, "treatment": "intact", "method": "tetrazolium"}
            | {"seeds": str(seeds), "alive": str(alive), "dead": str(seeds - alive)}
        )


def _of_study(
    lots: list[Lot], treatments: list[Done], rng: np.random.Generator
) -> dict[str, list[Row]]:
    expected = str(int(rng.choice([70, 85, 95]))) if rng.random() < 0.5 else ""
    of_lots = [
        {"lot": lot.name, "taxon": "Litorivolva ficta", "expected_germination_pct": expected}
        for lot in lots
    ]
    steps = [
        {"treatment": done.name, "step": str(i)} | step
        for done in treatments
        for i, step in enumerate(done.steps, start=1)
    ]
    return {"lots": of_lots, "treatments": steps}


def write(raw: Raw, folder: Path) -> Path:
    """Write the study below the folder, and return its own folder."""
    home = folder / f"study-{raw.seed}"
    for experiment, tables in raw.tables.items():
        (home / experiment).mkdir(parents=True, exist_ok=True)
        for table, rows in tables.items():
            (home / experiment / f"{table}.csv").write_text(_csv(rows), encoding="utf-8")
        if experiment:
            wanted = ", ".join(raw.analyses[experiment])
            about = f"title: The experiment {experiment}\nanalyses: [{wanted}]\nbalance_readability_mg: 0.1\n"
            (home / experiment / "experiment.yaml").write_text(about, encoding="utf-8")
    return home


def _csv(rows: list[Row]) -> str:
    columns = list(dict.fromkeys(name for row in rows for name in row))
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()
