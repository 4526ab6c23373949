"""Draw the demo's raw tables from its truths: `python -m tests.demo.draw [folder]`."""

import sys
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from hilum.analyses.buoyancy import truth as buoyancy
from hilum.analyses.imbibition import truth as imbibition
from hilum.analyses.scarification import truth as scarification
from hilum.analyses.seedlings import truth as seedlings
from hilum.analyses.storage import truth as storage
from hilum.analyses.temperature import truth as temperature
from hilum.analyses.time_course import truth as time_course
from hilum.analyses.trueness_to_name import truth as trueness_to_name
from tests.demo import raw, truth, words

DAYS = ("2025-03-10", "2025-05-05")
DEMO = Path(__file__).parents[2] / "data" / "strandline"


def generator(*names: str) -> np.random.Generator:
    """Return the generator of one experiment: its own, so that a new one changes no other."""
    return np.random.default_rng([truth.SEED, *"/".join(names).encode()])


def draw(study: Path) -> None:
    """Write the whole study."""
    raw.write(study / "lots.csv", *words.LOTS)
    raw.write(study / "treatments.csv", *words.TREATMENTS)
    uptake(study / "uptake")
    germination(study / "germination")
    temperatures(study / "temperatures", truth.TEMPERATURES, DAYS[0])
    temperatures(study / "temperatures-coarse", truth.COARSE, DAYS[1])
    acid(study / "acid")
    float_test(study / "float-test")
    store(study / "storage")
    leaves(study / "seedlings")
    labels(study / "seed-traits")
    moisture(study / "moisture.csv")
    chambers(study / "chamber_log.csv")
    courses(study / "temperature_courses.csv")


def _describe(folder: Path, **facts: str) -> None:
    text = words.EXPERIMENTS[folder.name].format(invented=words.INVENTED, **facts)
    (folder / "experiment.yaml").write_text(text, encoding="utf-8")


def _renamed(tables: Mapping[str, Mapping[str, np.ndarray]], start: str) -> dict[str, dict]:
    """Return the tables with the dishes named as on a bench: lot, treatment, letter."""
    dishes = tables["dishes"]
    keys = zip(dishes["lot"], dishes["treatment"], dishes["temperature_c"], strict=True)
    seen: dict[tuple, int] = {}
    names = {}
    for old, (lot, treatment, at) in zip(dishes["dish"], keys, strict=True):
        number = seen[lot, treatment, at] = seen.get((lot, treatment, at), -1) + 1
        what = f"{at:g}" if start else f"{lot[-2:]}-{treatment}"
        names[old] = f"{start}{what}-{'abcdefgh'[number]}"
    return {
        name: dict(table) | {"dish": np.array([names[d] for d in table["dish"]])}
        for name, table in tables.items()
        if "dish" in table
    }


def _in_days(counts: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    days = {"dish": counts["dish"], "elapsed_d": counts["elapsed_h"] / 24}
    return days | {k: v for k, v in counts.items() if k not in {"dish", "elapsed_h", "line"}}


def uptake(folder: Path) -> None:
    """Write the experiment of seeds weighed dry and soaked."""
    weighings = imbibition.simulate(truth.UPTAKE, rng=generator(folder.name))["weighings"]
    columns = (weighings["lot"], weighings["treatment"], weighings["seed"])
    names = [f"{lot[-2:]}-{what}-{seed[-2:]}" for lot, what, seed in zip(*columns, strict=True)]
    raw.write(folder / "weighings.csv", *raw.table(dict(weighings) | {"seed": np.array(names)}))
    _describe(folder)


def germination(folder: Path) -> None:
    """Write the experiment of treatments at one temperature, with one slip of the keyboard."""
    rng = generator(folder.name)
    tables = _renamed(time_course.simulate(truth.GERMINATION, rng=rng), "")
    dishes = tables["dishes"]
    dishes["sown_at"] = np.full(len(dishes["dish"]), "2025-02-10T09:00:00Z")
    dishes["medium"] = np.full(len(dishes["dish"]), "damp sand")
    for name in ("dishes", "outcomes"):
        raw.write(folder / f"{name}.csv", *raw.table(tables[name]))
    header, rows = raw.table(_in_days(tables["counts"]))
    slip = next(row for row in rows if row[0].startswith("24-chipped") and int(row[2]) > 5)
    meant, slip[2] = slip[2], slip[2] + "2"
    raw.write(folder / "counts.csv", header, rows)
    _describe(folder, dish=slip[0], day=slip[1], typed=slip[2], meant=meant)


def temperatures(folder: Path, true: temperature.TemperatureTruth, day: str) -> None:
    """Write one temperature series; its chambers are logged."""
    tables = _renamed(temperature.simulate(true, rng=generator(folder.name)), "t")
    dishes = tables["dishes"]
    dishes["sown_at"] = np.full(len(dishes["dish"]), f"{day}T09:00:00Z")
    for name in ("dishes", "counts", "outcomes"):
        raw.write(folder / f"{name}.csv", *raw.table(tables[name]))
    _describe(folder)


def acid(folder: Path) -> None:
    """Write the experiment of durations in acid, two baths each."""
    tables = _renamed(scarification.simulate(truth.ACID, rng=generator(folder.name)), "")
    dishes = tables["dishes"]
    dishes["sown_at"] = np.full(len(dishes["dish"]), "2025-07-07T09:00:00Z")
    dishes["medium"] = np.full(len(dishes["dish"]), "damp sand")
    for name in ("dishes", "outcomes"):
        raw.write(folder / f"{name}.csv", *raw.table(tables[name]))
    raw.write(folder / "counts.csv", *raw.table(_in_days(tables["counts"])))
    _describe(folder)


def float_test(folder: Path) -> None:
    """Write the experiment of chipped seeds that float or sink, whose fates were found out one by one."""
    tables = buoyancy.simulate(truth.FLOATING, rng=generator(folder.name))
    looks = tables["weighings"]
    lots = dict(zip(looks["seed"], looks["lot"], strict=True))
    for name in ("weighings", "outcomes"):
        seeds = [f"{lots[seed][-2:]}-{seed[-2:]}" for seed in tables[name]["seed"]]
        raw.write(
            folder / f"{name}.csv", *raw.table(_yes_or_no(tables[name]) | {"seed": np.array(seeds)})
        )
    _describe(folder)


def _yes_or_no(table: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
    words_ = {"floats": np.array(["no", "yes"])}
    return {k: words_[k][v.astype(int)] if k in words_ else v for k, v in table.items()}


def labels(folder: Path) -> None:
    """Write the experiment of measured seeds, and beside lots.csv what is published of three taxa."""
    tables = trueness_to_name.simulate(truth.LABELS, rng=generator(folder.name))
    traits, told = tables["traits"], dict(tables["reference_traits"])
    names = [f"{name.split('-')[1]}-s{name[-2:]}" for name in traits["specimen"]]
    raw.write(folder / "traits.csv", *raw.table(dict(traits) | {"specimen": np.array(names)}))
    told["source"] = np.full(len(told["taxon"]), words.FLORA)
    raw.write(folder.parent / "reference_traits.csv", *raw.table(told))
    _describe(folder)


def store(folder: Path) -> None:
    """Write the experiment of treated and untreated seed that was stored and tested six times."""
    table = storage.simulate(truth.STORE, rng=generator(folder.name))["viability"]
    days = zip(table["lot"], table["treatment"], table["stored_d"], strict=True)
    names = [f"{lot[-2:]}-{treatment}-d{d:g}" for lot, treatment, d in days]
    letters = ["abcdefgh"[names[:i].count(name)] for i, name in enumerate(names)]
    sample = np.array([f"{name}-{letter}" for name, letter in zip(names, letters, strict=True)])
    raw.write(folder / "viability.csv", *raw.table(table | {"sample": sample}))
    _describe(folder)


def leaves(folder: Path) -> None:
    """Write the experiment of seedlings whose leaves were counted every third day."""
    stages = dict(seedlings.simulate(truth.GROWING, rng=generator(folder.name))["stages"])
    named = zip(stages["lot"], stages["seedling"], strict=True)
    stages["seedling"] = np.array([f"{lot[-2:]}-p{name[-2:]}" for lot, name in named])
    stages["alive"] = np.array(["no", "yes"])[stages["alive"].astype(int)]
    raw.write(folder / "stages.csv", *raw.table(stages))
    _describe(folder)


def moisture(path: Path) -> None:
    """Write the masses of two samples of each lot before and after drying."""
    rng = generator("moisture")
    rows = []
    for lot, wet in truth.MOISTURE_PCT.items():
        for sample in (1, 2):
            container, seeds = 15 + rng.random(), 5 + 0.2 * rng.random()
            water = seeds * (wet + truth.MOISTURE_SD * rng.normal()) / 100
            masses = (container, container + seeds, container + seeds - water)
            rows.append((lot, sample, *(f"{m:.4f}" for m in masses), words.DRIED))
    raw.write(path, ("lot", "sample", "container_g", "before_g", "after_g", "notes"), rows)


def chambers(path: Path) -> None:
    """Write the log of every chamber over both series, a reading each three hours."""
    rng = generator("chamber_log")
    rows = []
    for day, hours in ((DAYS[0], 28 * 24), (DAYS[1], 28 * 24)):
        start = np.datetime64(f"{day}T09:00:00")
        for degrees in truth.SERIES.temperatures:
            for hour in range(0, hours + 1, 3):
                shown = degrees + truth.CHAMBER_SWING_SD * rng.normal()
                rows.append(
                    (f"C{degrees:g}", f"{start + np.timedelta64(hour, 'h')}Z", f"{shown:.1f}")
                )
    raw.write(path, ("chamber", "at", "temperature_c"), rows)


def courses(path: Path) -> None:
    """Write the temperatures of two places in spring: warmest in mid-afternoon, coolest before dawn, sown at nine."""
    rng = generator("temperature_courses")
    rows = []
    for name, place in truth.WEATHER.items():
        hours = np.arange(0, truth.WEATHER_DAYS * 24 + 1, 3)
        mean = place.first + (place.last - place.first) * hours / hours[-1]
        day = place.day * np.cos(2 * np.pi * (hours - 6) / 24)
        # a tide comes twice in 24.84 h
        tide = place.tide * np.cos(4 * np.pi * hours / 24.84)
        shown = mean + day + tide + place.noise * rng.normal(size=len(hours))
        rows += [(name, f"{h / 24:.10g}", f"{t:.1f}") for h, t in zip(hours, shown, strict=True)]
    raw.write(path, ("course", "elapsed_d", "temperature_c"), rows)


if __name__ == "__main__":
    draw(Path(sys.argv[1]) if len(sys.argv) > 1 else DEMO)
