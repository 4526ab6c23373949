"""One row for each seed that was weighed or watched by itself."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from hilum.fates import DEAD, GERMINATED

# a row of a checked table, where yes is 1 and no is 0
Row = Mapping[str, str]

# fate, and whether it was shown alive (1), dead (0) or nobody looked (""), to what it says of the cause
_SAYS = {
    ("hard", "1"): "closed coat",
    ("hard", "0"): "dead seed",
    ("hard", ""): "closed coat or dead seed",
    ("fresh", "1"): "another dormancy or conditions",
    ("fresh", "0"): "dead seed",
    ("fresh", ""): "not told apart",
}
_BY_CALL = {
    "impermeable": "closed coat or dead seed",
    "imbibed": "water got in, not followed further",
    "uncertain": "not told apart",
}


@dataclass(frozen=True, kw_only=True)
class Seed:
    """A seed: uptake (% of its mass before soaking) at hours of soaking, F or S where it was seen to float or sink.

    `says` is what its own fate tells of the cause. Numbers are text as in the tables, empty where unknown.
    """

    experiment: str
    seed: str
    lot: str
    treatment: str
    hours: tuple[float, ...]
    uptake: tuple[float, ...]
    floats: str
    fate: str
    says: str
    p_impermeable: str
    call: str
    onset: str


def of_experiment(
    experiment: str,
    weighings: Sequence[Row],
    outcomes: Sequence[Row],
    called: Sequence[Row],
    may_harm: Callable[[str], bool],
) -> list[Seed]:
    """Return the seeds of an experiment, in the order of its table; `called` are the rows of imbibition_seeds.csv."""
    found: dict[str, list[Row]] = {}
    for row in weighings:
        if row["seeds"] in ("", "1", "1.0"):
            found.setdefault(row["seed"], []).append(row)
    ends = {row["seed"]: row for row in outcomes if row["seed"]}
    calls = {row["seed"]: row for row in called}
    return [
        _seed(experiment, looks, ends.get(name, {}), calls.get(name, {}), may_harm)
        for name, looks in found.items()
    ]


def _seed(
    experiment: str,
    looks: Sequence[Row],
    end: Row,
    call: Row,
    may_harm: Callable[[str], bool],
) -> Seed:
    ordered = sorted(looks, key=lambda row: float(row["soaked_h"] or 0))
    first = ordered[0]
    curve = _curve(ordered)
    fate = _fate(ordered, end)
    return Seed(
        experiment=experiment,
        seed=first["seed"],
        lot=first["lot"],
        treatment=first["treatment"],
        hours=tuple(hour for hour, _ in curve),
        uptake=tuple(uptake for _, uptake in curve),
        floats=" ".join({"1": "F", "0": "S"}[r["floats"]] for r in ordered if r["floats"]),
        fate=fate,
        says=_says(fate, end, call.get("call", ""), may_harm(first["treatment"])),
        p_impermeable=call.get("p_impermeable", ""),
        call=call.get("call", ""),
        onset=_onset(call),
    )


def _curve(ordered: Sequence[Row]) -> list[tuple[float, float]]:
    """Return hours and uptake; masses after the radicle is out are growth and no uptake."""
    masses = [
        (float(row["soaked_h"]), float(row["mass_mg"]))
        for row in ordered
        if row["mass_mg"] and row["soaked_h"] and row["radicle"] != "1"
    ]
    dry = [mass for hour, mass in masses if hour == 0]
    if not dry or dry[0] <= 0:
        return []
    return [(hour, round(100 * (mass - dry[0]) / dry[0], 1)) for hour, mass in masses]


def _fate(ordered: Sequence[Row], end: Row) -> str:
    if end:
        return end["outcome"].replace("_", " ")
    if any(row["radicle"] == "1" for row in ordered):
        return "germinated"
    sown = next((row["dish"] for row in ordered if row["dish"]), "")
    return f"sown in dish {sown}" if sown else ""


def _says(fate: str, end: Row, call: str, harmed: bool) -> str:
    if fate in GERMINATED:
        return "germinated"
    if fate.replace(" ", "_") in DEAD:
        return "dead seed or harmed by the treatment" if harmed else "dead seed"
    if end:
        alive = end["alive"]
        return _SAYS.get((fate, f"{float(alive):g}" if alive else ""), "not told apart")
    return _BY_CALL.get(call, "not told apart")


def _onset(call: Row) -> str:
    if not call.get("onset_h"):
        return ""
    value, low, high = (
        float(call[name] or "nan") for name in ("onset_h", "onset_low_h", "onset_high_h")
    )
    return f"{value:.3g} ({low:.3g} to {high:.3g})"
