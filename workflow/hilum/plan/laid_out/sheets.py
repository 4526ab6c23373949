"""The tables of a planned study, ready to be filled: what is planned is given, what is to be measured is empty.

Columns are those of `hilum.tables`, so that the check reads what is written here; it leaves out rows that are still empty.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import timedelta

from hilum.fates import of_kind
from hilum.plan.asked.design import Plan
from hilum.plan.asked.experiments import Counted, Doses, Ends, Soaking, Storage
from hilum.plan.laid_out import weighed
from hilum.plan.laid_out.layout import Standing
from hilum.settings import SettingsFault
from hilum.tables import TABLES

Row = Mapping[str, object]
Rows = list[list[str]]
# what is looked for in the seeds that are left, and how
FATES: Mapping[Ends, tuple[str, ...]] = {
    "nothing": (),
    "scoring": ("hard", "fresh", "dead"),
    "cutting": of_kind("closed", "fresh", "dead"),
}
_ASSESSED = {"scoring": "pressing", "cutting": "cutting"}
_HOUR = "T09:00"
# duplicates (common practice, no source)
_MOISTURE_SAMPLES = 2
# columns that are left out where no row has anything to say in them
_OPTIONAL = {
    "dishes": ("night_temperature_c", "warm_h"),
    "weighings": ("weighed_at", "mass_g", "container_mg", "dish"),
    "counts": ("elapsed_h", "inspected_at", "germinated_so_far"),
    "outcomes": ("seed",),
}
_STORAGE = ("stored_d", "stored_at_c", "stored_moisture_pct")


def files(plan: Plan, standing: Sequence[Standing]) -> dict[str, str]:
    """Return the text of each file of the study folder by its path in it. Raises SettingsFault."""
    made = {
        "lots.csv": _table("lots", _lots(plan)),
        "treatments.csv": _table("treatments", _treatments(plan, standing)),
    }
    dried = moisture(plan)
    if dried:
        made["moisture.csv"] = _table("moisture", dried)
    tests = viability(plan)
    for one in plan.experiments:
        tables = (
            {"weighings": _weighings(plan, one)}
            if isinstance(one, Soaking)
            else _dishes_and_counts(plan, one, standing)
        )
        tables["viability"] = tests.get(one.experiment, [])
        made[f"{one.experiment}/experiment.yaml"] = _about(plan, one)
        made |= {f"{one.experiment}/{t}.csv": _table(t, rows) for t, rows in tables.items() if rows}
    return made


def config(plan: Plan) -> str:
    """Return the config file of a run: the study folder lies beside it."""
    return f"study: {plan.name}\nconfidence: {plan.confidence:g}\n"


def _dishes_and_counts(
    plan: Plan, one: Counted, standing: Sequence[Standing]
) -> dict[str, list[Row]]:
    own = [s for s in standing if s.experiment == one.experiment]
    return {
        "dishes": [_dish(plan, one, s) for s in own],
        "counts": list(_counts(one, own)),
        "outcomes": list(_outcomes(one, own)),
    }


def _lots(plan: Plan) -> Iterator[Row]:
    for lot in plan.lots:
        if not lot.taxon:
            raise SettingsFault(
                f"lots: give `taxon` of {lot.lot}, the name on its label: lots.csv needs it."
            )
        yield {"lot": lot.lot, "taxon": lot.taxon}


def _treatments(plan: Plan, standing: Sequence[Standing]) -> Iterator[Row]:
    used = {s.treatment for s in standing} | {
        t for e in plan.experiments if isinstance(e, Soaking) for t in e.treatments
    }
    tested = {_untreated(plan)} if plan.viability_tests else set()
    for name, one in plan.by_name.items():
        if name in used | tested:
            row: dict[str, object] = {"treatment": name, "step": 1, "method": one.method}
            if one.method != "none":
                timed = {"duration": one.minutes, "duration_unit": "min"} if one.minutes else {}
                row |= {"agent": one.agent} | timed
            yield row


def _untreated(plan: Plan) -> str:
    found = next((t.treatment for t in plan.treatments if t.method == "none"), "")
    if not found:
        raise SettingsFault(
            "viability_tests: seeds of the lot are tested untreated; add a treatment of `method: none`."
        )
    return found


def sown_at(plan: Plan, dish: Standing) -> str:
    """Return when a dish is to be sown, empty where the plan does not say."""
    if plan.sow_on is None:
        return ""
    return f"{plan.sow_on + timedelta(days=dish.stored_d or 0.0)}{_HOUR}"


def _dish(plan: Plan, one: Counted, dish: Standing) -> Row:
    row: dict[str, object] = {
        "dish": dish.dish,
        "lot": dish.lot,
        "treatment": dish.treatment,
        "batch": dish.batch,
        "temperature_c": dish.temperature_c,
        "chamber": dish.chamber,
        "shelf": dish.shelf,
        "position": dish.position,
        "seeds": dish.seeds,
        "sown_at": sown_at(plan, dish),
    }
    if isinstance(one, Storage):
        row |= {"stored_d": dish.stored_d, "stored_at_c": one.stored_at_c}
    return row


def by_place(dishes: Iterable[Standing]) -> list[Standing]:
    """Return dishes in the order in which someone walks along the shelves."""
    return sorted(dishes, key=lambda s: (s.stored_d or 0.0, s.temperature_c, s.place))


def _counts(one: Counted, own: Sequence[Standing]) -> Iterator[Row]:
    for hour in one.inspections.hours:
        for dish in by_place(own):
            yield {"dish": dish.dish, "elapsed_d": round(hour / 24, 6)}


def _outcomes(one: Counted, own: Sequence[Standing]) -> Iterator[Row]:
    for dish in by_place(own):
        for fate in FATES[one.ends_with]:
            yield {"dish": dish.dish, "outcome": fate, "assessed_by": _ASSESSED[one.ends_with]}


def viability(plan: Plan) -> dict[str, list[Row]]:
    """Return the viability tests by the experiment that they stand beside: one over durations of their lot, or the first."""
    found: dict[str, list[Row]] = {}
    for number, test in enumerate(plan.viability_tests, 1):
        dosed = (e for e in plan.experiments if isinstance(e, Doses) and test.lot in e.lots)
        home = next(dosed, plan.experiments[0]).experiment
        row = {
            "sample": f"{test.lot} {test.method.replace('_', ' ')} {number}",
            "lot": test.lot,
            "treatment": _untreated(plan),
            "method": test.method,
            "seeds": test.seeds,
        }
        found.setdefault(home, []).append(row)
    return found


def moisture(plan: Plan) -> list[Row]:
    """Return the samples to be dried: of each lot that is stored, since its moisture decides how long it keeps."""
    lots = dict.fromkeys(lot for e in plan.experiments if isinstance(e, Storage) for lot in e.lots)
    return [{"lot": lot, "sample": n + 1} for lot in lots for n in range(_MOISTURE_SAMPLES)]


def _weighings(plan: Plan, one: Soaking) -> list[Row]:
    seeds = weighed.seeds(plan, one)
    return [
        {
            "seed": s.seed,
            "lot": s.lot,
            "treatment": s.treatment,
            "batch": s.batch,
            "seeds": 1,
            "soaked_h": hour,
        }
        for hour in one.hours
        for s in seeds
    ]


def _about(plan: Plan, one: Counted | Soaking) -> str:
    """Return experiment.yaml; texts stand in double quotes, in which YAML reads them as JSON does."""
    keys: dict[str, object] = {
        "title": f"{one.experiment}: {plan.title}",
        "source": plan.source,
    }
    if plan.sow_on is not None and not isinstance(one, Soaking):
        keys["time_zone"] = plan.time_zone
    lines = [f"{k}: {json.dumps(v, ensure_ascii=False)}" for k, v in keys.items() if v]
    if isinstance(one, Soaking):
        lines.append(f"balance_readability_mg: {one.balance_mg:g}")
    return "\n".join([*lines, f"analyses: [{one.analysis}]", ""])


def _table(name: str, rows: Iterable[Row]) -> str:
    """Return a table as CSV: all of its columns that may be asked for, in their order."""
    made = list(rows)
    given = {column for row in made for column, value in row.items() if value not in ("", None)}
    unknown = {column for row in made for column in row} - {c.name for c in TABLES[name].columns}
    if unknown:
        raise ValueError(f"{name}.csv has no columns {sorted(unknown)}")
    left_out = {c for c in _OPTIONAL.get(name, ()) if c not in given}
    if not given & set(_STORAGE):
        left_out |= set(_STORAGE)
    columns = [c.name for c in TABLES[name].columns if c.name not in left_out]
    lines = [columns, *([_cell(row.get(c)) for c in columns] for row in made)]
    return "".join(",".join(map(_quoted, line)) + "\n" for line in lines)


def _cell(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.10g}"
    return "" if value is None else str(value)


def _quoted(text: str) -> str:
    return '"{}"'.format(text.replace('"', '""')) if any(c in text for c in ',"\r\n') else text
