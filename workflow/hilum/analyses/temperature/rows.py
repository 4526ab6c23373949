"""The rows of the further tables: classical lines, predictions, and how many seeds to sow."""

from __future__ import annotations

from hilum.analyses.temperature.view import FittedGroup, View

Row = dict[str, object]


def of(view: View) -> dict[str, list[Row]]:
    """Return the rows of each table that has any."""
    fitted = [group for group in view.groups if isinstance(group, FittedGroup)]
    tables = {
        "lines": _lines,
        "prediction": _prediction,
        "sowing": _sowing,
        "course_prediction": _course_prediction,
        "course_sowing": _course_sowing,
    }
    made = {name: [row for group in fitted for row in rows(group)] for name, rows in tables.items()}
    return {name: rows for name, rows in made.items() if rows}


def _named(group: FittedGroup) -> Row:
    return {"lot": group.lot, "treatment": group.treatment, "condition": group.condition}


def _lines(group: FittedGroup) -> list[Row]:
    return [
        _named(group)
        | {
            "germinated_share": line.share,
            "dishes": line.points,
            "base_c": line.base,
            "standard_error_c": line.base_error,
            "fieller_low_c": line.low,
            "fieller_high_c": line.high,
            "fieller": line.region,
            "thermal_time_c_h": line.thermal_time,
            "r_squared": line.r_squared,
            "doubts": " ".join(line.doubts),
        }
        for line in group.classical
    ]


def _prediction(group: FittedGroup) -> list[Row]:
    found = group.prediction
    if found is None:
        return []
    return [
        _named(group)
        | {"temperature_c": t, "elapsed_d": d, "germinated": share, "low": low, "high": high}
        for t, *curves in zip(
            found.temperatures, found.germinated, found.low, found.high, strict=True
        )
        for d, share, low, high in zip(found.days, *curves, strict=True)
    ]


def _sowing(group: FittedGroup) -> list[Row]:
    """Return the seeds to sow, empty where no reasonable number is enough."""
    if group.prediction is None:
        return []
    found = group.prediction.sowing
    return [
        _named(group)
        | {"temperature_c": t, "elapsed_d": d, "wanted": k, "sure": found.sure, "seeds": seeds}
        for k, table in zip(found.wanted, found.seeds, strict=True)
        for t, row in zip(found.temperatures, table, strict=True)
        for d, seeds in zip(found.days, row, strict=True)
    ]


def _course_prediction(group: FittedGroup) -> list[Row]:
    return [
        _named(group)
        | {"course": c.name, "elapsed_d": d, "germinated": share, "low": low, "high": high}
        for c in group.courses
        for d, share, low, high in zip(c.days, c.germinated, c.low, c.high, strict=True)
    ]


def _course_sowing(group: FittedGroup) -> list[Row]:
    """Return the seeds to sow along each course, empty where no reasonable number is enough."""
    return [
        _named(group)
        | {"course": c.name, "elapsed_d": d, "wanted": k, "sure": c.sowing.sure, "seeds": seeds}
        for c in group.courses
        for k, row in zip(c.sowing.wanted, c.sowing.seeds, strict=True)
        for d, seeds in zip(c.sowing.days, row, strict=True)
    ]
