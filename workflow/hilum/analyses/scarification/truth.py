"""Doses of scarification drawn from a known truth: dishes, counts, outcomes and treatments."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import expit, logit

from hilum.analyses.simulated import as_table


@dataclass(frozen=True, kw_only=True)
class TrueDose:
    """What is true of one lot: doses in minutes.

    `permeable` seeds take up water untreated, of which `viable_permeable` are viable, of the others `viable`. Half of the closed
    coats are open after `opens`, half of the seeds harmed after `harms`, with slopes on log dose. Of the seeds that took up water
    and are alive and unharmed `fresh` do not germinate; of the harmed ones `abnormal` are abnormal seedlings, the others dead.
    """

    lot: str = "first"
    doses: tuple[float, ...] = (0.0, 30.0, 60.0, 120.0, 240.0, 360.0, 480.0)
    permeable: float = 0.08
    viable_permeable: float = 0.6
    viable: float = 0.9
    opens: float = 90.0
    opens_slope: float = 2.0
    harms: float = 500.0
    harms_slope: float = 3.0
    fresh: float = 0.03
    abnormal: float = 0.3
    opened: str = "chipped"  # seeds opened by hand; empty for none


@dataclass(frozen=True, kw_only=True)
class ScarificationTruth:
    """What is true of an experiment: baths of a treatment and dishes of a bath differ on both logits.

    `baths` each with `dishes` of `seeds`; untreated and hand-opened seeds have `baths`·`dishes` dishes of no bath.
    """

    lots: tuple[TrueDose, ...] = (TrueDose(),)
    baths: int = 1
    dishes: int = 4
    seeds: int = 25
    bath_sd: float = 0.0
    dish_sd: float = 0.25
    temperature_c: float = 25.0
    median_h: float = 120.0
    inspections_h: tuple[float, ...] = tuple(24.0 * day for day in range(1, 22))


TRUTH = ScarificationTruth()


def germinating(true: TrueDose, dose: np.ndarray) -> np.ndarray:
    """Return the share of the seeds sown that germinates normally after each dose, (n,)."""
    _, permeable, growing = shares(true, dose)
    return np.asarray(permeable * growing)


def shares(true: TrueDose, dose: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the share unharmed, the share that takes up water, and of these the share that germinates normally."""
    with np.errstate(divide="ignore"):
        log_dose = np.log(dose)
    opened = expit(true.opens_slope * (log_dose - np.log(true.opens)))
    unharmed = expit(-true.harms_slope * (log_dose - np.log(true.harms)))
    newly = (1 - true.permeable) * opened
    alive = true.permeable * true.viable_permeable + newly * true.viable
    permeable = true.permeable + newly
    return unharmed, permeable, alive / permeable * unharmed * (1 - true.fresh)


def simulate(
    truth: ScarificationTruth, *, rng: np.random.Generator
) -> dict[str, dict[str, np.ndarray]]:
    """Return the checked tables dishes, counts, outcomes and treatments of one experiment."""
    rows: dict[str, list[dict[str, Any]]] = {"dishes": [], "counts": [], "outcomes": []}
    for place, true in enumerate(truth.lots, start=1):
        groups = [(_name(dose), dose, False) for dose in true.doses]
        groups += [(true.opened, 0.0, True)] if true.opened else []
        for name, dose, by_hand in groups:
            _sow(truth, true, name, dose, by_hand, place, rows, rng)
    made = {name: as_table(name, found) for name, found in rows.items()}
    return made | {"treatments": as_table("treatments", _treatments(truth.lots))}


def _name(dose: float) -> str:
    return f"acid-{dose:g}" if dose else "intact"


def _treatments(lots: Sequence[TrueDose]) -> list[dict[str, Any]]:
    doses = sorted({dose for true in lots for dose in true.doses if dose})
    plain = {"step": 1.0}
    acid = {"method": "acid", "agent": "sulfuric acid", "temperature_c": 22.0}
    rows: list[dict[str, Any]] = [plain | {"treatment": "intact", "method": "none"}]
    rows += [
        plain | {"treatment": t, "method": "chipping"} for t in {true.opened for true in lots} if t
    ]
    timed = [{"treatment": _name(d), "duration": d, "duration_unit": "min"} for d in doses]
    return rows + [plain | acid | row for row in timed]


def _sow(
    truth: ScarificationTruth,
    true: TrueDose,
    treatment: str,
    dose: float,
    by_hand: bool,
    place: int,
    rows: dict[str, list[dict[str, Any]]],
    rng: np.random.Generator,
) -> None:
    """Add the dishes of one treatment."""
    for bath in range(truth.baths):
        shift = truth.bath_sd * rng.normal(size=2) * (dose > 0)
        for number in range(truth.dishes):
            own = shift + truth.dish_sd * rng.normal(size=2)
            dish = f"{place}-{treatment}-{bath + 1}{chr(ord('a') + number)}"
            row = {
                "dish": dish,
                "lot": true.lot,
                "treatment": treatment,
                "seeds": float(truth.seeds),
            }
            row["batch"] = f"{treatment}-bath-{bath + 1}" if dose > 0 else ""
            rows["dishes"].append(row | {"temperature_c": truth.temperature_c})
            fates = _fates(truth, true, dose, by_hand, own, rng)
            rows["counts"] += _counts(truth, dish, fates["normal"] + fates["abnormal"], rng)
            rows["outcomes"] += [
                {"dish": dish, "outcome": name, "seeds": float(n)} for name, n in fates.items() if n
            ]


def _fates(
    truth: ScarificationTruth,
    true: TrueDose,
    dose: float,
    by_hand: bool,
    own: np.ndarray,
    rng: np.random.Generator,
) -> dict[str, int]:
    """Return the fates of one dish's seeds."""
    unharmed, permeable, growing = (float(x[0]) for x in shares(true, np.array([dose])))
    viable = true.permeable * true.viable_permeable + (1 - true.permeable) * true.viable
    if by_hand:
        permeable, growing, unharmed = 1.0, viable * (1 - true.fresh), 1.0
    wet = (
        truth.seeds if by_hand else int(rng.binomial(truth.seeds, expit(logit(permeable) + own[0])))
    )
    normal = int(rng.binomial(wet, expit(logit(growing) + own[1])))
    # of the rest: fresh ones, seeds harmed while alive, and seeds dead before
    alive = growing / unharmed / (1 - true.fresh)
    parts = np.array([alive * unharmed * true.fresh, alive * (1 - unharmed), 1 - alive])
    fresh, harmed, dead = rng.multinomial(wet - normal, parts / parts.sum())
    abnormal = int(rng.binomial(harmed, true.abnormal))
    gone = int(dead + harmed) - abnormal
    hard = truth.seeds - wet
    return {"normal": normal, "abnormal": abnormal, "hard": hard, "fresh": int(fresh), "dead": gone}


def _counts(
    truth: ScarificationTruth, dish: str, germinated: int, rng: np.random.Generator
) -> list[dict[str, Any]]:
    """Return the inspections of one dish; what has not germinated by the last one does so there."""
    times = truth.median_h * np.exp(0.2 * rng.normal(size=germinated))
    times = np.minimum(times, truth.inspections_h[-1])
    newly = np.histogram(times, bins=np.array((0.0, *truth.inspections_h)))[0]
    return [
        {"dish": dish, "elapsed_h": hour, "germinated": float(n)}
        for hour, n in zip(truth.inspections_h, newly, strict=True)
    ]
