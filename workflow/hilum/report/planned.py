"""The page of a plan: what its dishes could tell apart, how narrow intervals would be, what to add."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from markupsafe import Markup

from hilum.analyses.dishes import Key
from hilum.analyses.quantities import QUANTITIES
from hilum.analyses.rounding import shown
from hilum.diagnosis.words import CAUSES
from hilum.markup import escape
from hilum.plan.advised.advice import Advice, Design
from hilum.plan.advised.baths import Baths
from hilum.plan.asked.design import Plan
from hilum.plan.asked.experiments import Soaking
from hilum.plan.expected.prospect import Prospect
from hilum.plan.failure.causes import Told
from hilum.plan.laid_out import layout
from hilum.plan.model import Power, Worked
from hilum.plan.running.stopping import Outlook
from hilum.plan.shown import words
from hilum.report import grid, planned_weighings
from hilum.report.cautions import hazards_of
from hilum.report.glossary import linked
from hilum.report.numbers import GAP, number, percent, with_unit
from hilum.report.pages import page

_UNEVEN = 2.0  # of half-widths of the middle half of studies, the largest over the smallest


def plan_page(worked: Worked, figures: Mapping[str, Markup]) -> str:
    """Return the page of a plan; `figures` are rendered ones by name."""
    plan = worked.plan
    made = page(
        "plan",
        plan=plan,
        invented="invented" in plan.source.lower(),
        hazards=hazards_of([{"method": t.method, "agent": t.agent} for t in plan.by_name.values()]),
        total=_total(plan),
        causes=_causes(worked.causes),
        prospects=_prospects(worked.prospects),
        main=[_main(p) for p in worked.prospects if p.wanted is not None],
        disagree=[words.named(p) for p in worked.prospects if not p.agrees],
        untold=_untold(worked.prospects),
        uneven=[_uneven(p) for p in worked.prospects if _spread(p) > _UNEVEN],
        added=[told.says for told in worked.added if told.counted],
        not_added=[told.says for told in worked.added if not told.counted],
        baths=[_baths(b) for b in worked.baths],
        powers=_powers(worked.powers, plan),
        advice=[_advice(a, figures) for a in worked.advice],
        calls=planned_weighings.calls(worked.calls),
        main_calls=planned_weighings.main_calls(worked.calls),
        weighings=[planned_weighings.advice(a, figures) for a in worked.weighings],
        figures={n: f for n, f in figures.items() if not n.endswith(("-added", "-power"))},
        power_figures=[f for n, f in figures.items() if n.endswith("-power")],
        guesses=_guesses(plan),
        missing=worked.missing,
        running=[_running(name, found) for name, found in worked.running.items()],
        room=_room(plan),
    )
    return linked(made, "glossary.html")


def _room(plan: Plan) -> dict[str, Any]:
    """Return where dishes stand, and what that leaves open."""
    standing = layout.laid_out(plan)
    return {
        "dishes": len(standing),
        "shelves": len({dish.place[:2] for dish in standing}),
        "chambers": len({dish.chamber for dish in standing}),
        "confounded": layout.confounded(plan, standing),
    }


def _total(plan: Plan) -> dict[str, int]:
    seeds = {e.experiment: e.seeds for e in plan.experiments}
    places = plan.places()
    soaked = [e for e in plan.experiments if isinstance(e, Soaking)]
    kinds = [(e, len(e.lots) * len(e.treatments) * e.dishes) for e in soaked]
    return {
        "dishes": sum(p.dishes for p in places) + sum(dishes for _, dishes in kinds),
        "seeds": sum(p.dishes * seeds[p.experiment] for p in places)
        + sum(dishes * e.seeds for e, dishes in kinds)
        + sum(test.seeds for test in plan.viability_tests),
    }


# causes


def _causes(rows: Sequence[Told]) -> dict[str, Any]:
    possible = [row for row in rows if row.possible]
    sure = sorted({row.cause for row in possible if row.told_apart} - _open(possible), key=_order)
    return {
        "possible": len(possible),
        "told": sum(row.told_apart for row in possible),
        "always": [CAUSES[c] for c in sure],
        "never": [
            CAUSES[c]
            for c in CAUSES
            if any(r.cause == c for r in possible)
            and not any(r.told_apart for r in possible if r.cause == c)
        ],
        "mends": words.mends_most(possible),
        "table": grid.grid(
            ["seeds", "if they fail by", "the planned dishes", "cheapest to add"],
            (
                [
                    f"{r.target.place.treatment}, {r.target.place.temperature_c:g} °C",
                    CAUSES[r.cause],
                    words.verdict(r),
                    words.cheapest(r),
                ]
                for r in rows
            ),
            "Which causes of failure the planned dishes could tell apart",
        ),
    }


def _open(rows: Sequence[Told]) -> set[str]:
    return {row.cause for row in rows if not row.told_apart}


def _order(cause: str) -> int:
    return list(CAUSES).index(cause)


# half-widths


def _half(value: float, unit: str) -> Markup:
    """Return a half-width: `± 0.39 °C`."""
    if not np.isfinite(value):
        return Markup("none")
    scale, name = words.shown(unit)
    return with_unit(f"±{GAP}{words.rounded(scale * value)}", name)


def _value(value: float, of: Prospect) -> Markup:
    return number(value, of.unit, half_width=of.half_width)


def _main(p: Prospect) -> dict[str, Any]:
    return {
        "name": words.named(p),
        "why": p.why,
        "half": _half(p.half_width, p.unit),
        "low": "" if p.why else _value(p.low, p),
        "high": "" if p.why else _value(p.high, p),
        "value": "" if p.why else _value(p.value, p),
        "wanted": _half(p.wanted or np.inf, p.unit),
        "enough": p.enough,
        "simulated": _half(p.in_simulations, p.unit),
        "agrees": p.agrees,
        "told": p.told,
    }


def _prospects(rows: Sequence[Prospect]) -> Markup:
    return grid.grid(
        [
            "experiment",
            "quantity",
            "seeds",
            "guess",
            "expected",
            "simulated",
            "wanted",
            "studies that tell",
        ],
        (
            [
                p.experiment,
                QUANTITIES[p.quantity].title,
                words.told(p),
                "" if p.why else _value(p.value, p),
                "not told" if p.why else _half(p.half_width, p.unit),
                _simulated(p),
                "" if p.wanted is None else _half(p.wanted, p.unit),
                percent(p.told),
            ]
            for p in rows
        ),
        "Expected half-widths of intervals",
    )


def _untold(rows: Sequence[Prospect]) -> list[tuple[str, str]]:
    """Return why some quantities are not told, and which those are."""
    found: dict[str, list[str]] = {}
    for p in (p for p in rows if p.why):
        found.setdefault(p.why, []).append(words.named(p))
    return [(why, ", ".join(names)) for why, names in found.items()]


def _spread(p: Prospect) -> float:
    low, high = p.middle_half
    return high / low if np.isfinite(high) and not p.why else 0.0


def _uneven(p: Prospect) -> str:
    return f"{words.named(p)} ({_middle_half(p)} {words.shown(p.unit)[1]})"


def _middle_half(p: Prospect) -> str:
    low, high = p.middle_half
    if not np.isfinite(low):
        return ""
    scale, _ = words.shown(p.unit)
    return f"{words.rounded(scale * low)} to {words.rounded(scale * high) if np.isfinite(high) else 'none'}"


def _simulated(p: Prospect) -> Markup:
    """Return the middle half-width of studies, and those between which half of them lie: `± 75 min (53 to 140)`."""
    half, around = _half(p.in_simulations, p.unit), _middle_half(p)
    if p.why:
        return half if p.told > 0 else Markup("")
    told = Markup("{} ({})").format(half, around)
    return told if p.agrees else Markup("{}; differs").format(told)


# baths


def _baths(told: Baths) -> dict[str, Any]:
    return {
        "experiment": told.experiment,
        "lot": told.lot,
        "sd": f"{told.sd:g}",
        "low": percent(told.around_half[0]),
        "high": percent(told.around_half[1]),
        "many": told.baths,
        "held": _held(told.held),
        "two_widths": [_half(width, "min") for width in told.two_widths],
        "two_held": _held(told.two_held),
    }


def _held(share: float) -> Markup | None:
    return None if np.isnan(share) else percent(share)


# power


def _powers(rows: Sequence[Power], plan: Plan) -> list[dict[str, Any]]:
    made = []
    for experiment in dict.fromkeys(row.experiment for row in rows):
        own = [row for row in rows if row.experiment == experiment]
        one = next(e for e in plan.experiments if e.experiment == experiment)
        now = min(own, key=lambda r: (abs(r.dishes - one.dishes), abs(r.seeds - one.seeds)))
        wanted = plan.power_of(one)
        enough = [row for row in own if row.power >= wanted]
        least = min(enough, key=lambda r: (r.dishes * r.seeds, r.dishes), default=None)
        made.append({"now": now, "least": least, "wanted": wanted})
    return made


# what to add


def _advice(advice: Advice, figures: Mapping[str, Markup]) -> dict[str, Any]:
    p = advice.prospect
    best = advice.designs[2] if len(advice.designs) > 2 else None
    return {
        "name": words.named(p),
        "now": _half(p.half_width, p.unit),
        "known": not p.why,
        "steps": [(step.says, _half(step.half_width, p.unit)) for step in advice.steps],
        "best": best is not None,
        "best_dishes": words.dishes(best.dishes) if best else "",
        "best_half": _half(best.half_width, p.unit) if best else "",
        "gain": advice.gain,
        "gain_simulated": _gain_simulated(advice.designs),
        "over_plan": _over_plan(advice.designs),
        "low": number(advice.limits[0], advice.unit),
        "high": number(advice.limits[1], advice.unit),
        "fewest": advice.fewest,
        "table": _designs(advice) if advice.designs else "",
        "figure": figures[words.added_name(p)],
    }


def _designs(advice: Advice) -> Markup:
    return grid.grid(
        ["design", "dishes", "expected", "simulated", "studies that tell"],
        (_design_line(design) for design in advice.designs),
        f"Designs with as many dishes: {words.named(advice.prospect)}",
    )


def _design_line(design: Design) -> list[object]:
    return [
        design.says,
        words.dishes(design.dishes),
        _half(design.half_width, "°C"),
        _half(design.in_simulations, "°C"),
        percent(float(np.isfinite(design.simulated).mean())),
    ]


def _gain_simulated(designs: Sequence[Design]) -> float | None:
    if len(designs) < 3:
        return None
    even, best = designs[1].in_simulations, designs[2].in_simulations
    return 1 - best / even if np.isfinite(even) and np.isfinite(best) else None


def _over_plan(designs: Sequence[Design]) -> float | None:
    if len(designs) < 3 or not np.isfinite(designs[0].half_width):
        return None
    return 1 - designs[2].half_width / designs[0].half_width


# whether to go on


def _running(experiment: str, found: Outlook) -> dict[str, Any]:
    return {
        "experiment": experiment,
        "days": found.days,
        "changes": percent(found.changes),
        "compared": bool(found.pairs),
        "groups": grid.grid(
            ["seeds", "at", "germinated so far", "more to come", "chance to leave its interval"],
            (
                [
                    _key(g.key),
                    number(g.at_h / 24, "d"),
                    percent(g.germinated),
                    f"{shown(g.more, 1)} of 100 ({shown(g.low)} to {shown(g.high)})",
                    percent(g.moves),
                ]
                for g in found.groups
            ),
            f"What {found.days:g} more days would bring: {experiment}",
        ),
        "pairs": grid.grid(
            ["compared", "today", "chance that this changes"],
            (
                [
                    f"{_key(p.one)} and {_key(p.other)}",
                    "surely differ" if p.differs else "no sure difference",
                    percent(p.changes),
                ]
                for p in found.pairs
            ),
            f"Answers that {found.days:g} more days may change: {experiment}",
        )
        if found.pairs
        else "",
    }


def _key(key: Key) -> str:
    lot, treatment, degrees, words_ = key
    warm = "" if np.isnan(degrees) else f"{degrees:g} °C"
    return ", ".join(part for part in (lot, treatment, warm, words_) if part)


# guesses


def _guesses(plan: Plan) -> Markup:
    known = plan.guesses.model_dump(exclude={"study", "lot"}, exclude_none=True)
    lines: list[list[object]] = [[name, "all", f"{value:g}"] for name, value in known.items()]
    for treatment in plan.treatments:
        own = treatment.model_dump(include={"germinable", "hard", "t50_d"}, exclude_none=True)
        lines += [[name, escape(treatment.treatment), f"{value:g}"] for name, value in own.items()]
    return grid.grid(["guess", "seeds", "value"], lines, "What was guessed")
