"""Every design of the calibration, by name."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np

from tests import floated, soaked
from tests.calibration import dosed, floating, sown, warm, weighed
from tests.calibration.design import Design, Key
from tests.calibration.labelled import LABELLED
from tests.calibration.leafing import LEAVED
from tests.calibration.predicted import Predicted
from tests.calibration.sown import Left, Place, Sown
from tests.calibration.stored import STORED
from tests.calibration.warm import Response
from tests.calibration.weighed import Coats
from tests.demo import truth
from tests.generator import Dishes

# how far dishes of one treatment differ
NONE: Mapping[str, Any] = {}
ORDINARY: Mapping[str, Any] = {"dish_correlation": 0.05, "dish_sd_log_time": 0.1}
STRONG: Mapping[str, Any] = {"dish_correlation": 0.1, "dish_sd_log_time": 0.2}
UNEVEN: Mapping[str, Any] = {**ORDINARY, "uneven": True}
SPREADS = {
    "no spread": (NONE, "dishes differ by chance alone"),
    "ordinary spread": (
        ORDINARY,
        "seeds of a dish are alike (correlation 0.05), and dishes differ by 10 % in speed",
    ),
    "strong spread": (
        STRONG,
        "seeds of a dish are alike (correlation 0.1), and dishes differ by 20 % in speed",
    ),
    "unequal spread": (
        UNEVEN,
        "the first dishes differ half as much, the last twice as much as ordinarily",
    ),
}
PAIR: Mapping[str, Any] = {"dishes": 2, "seeds": 50}


# time course

_FOUR: Mapping[str, Any] = {"t50_h": (90.0, 120.0, 150.0, 200.0), "fraction": (0.9, 0.7, 0.85, 0.4)}
_FOUR_PLACES = tuple(Place(treatment=name) for name in ("chipped", "acid", "filed", "hot water"))
_FOUR_WORDS = "Four treatments of which 90, 70, 85 and 40 % germinate, half of them within 90 to 200 h, counted daily for 21 days"


def _course(name: str, about: str, experiment: Sown, *, within: bool = True) -> Design:
    return Design(
        name=name,
        analysis="time_course",
        about=about,
        draw=experiment.draw,
        truths=partial(sown.courses, experiment),
        within=within,
    )


def _four(name: str, about: str, *, within: bool = True, **dishes: Any) -> Design:
    experiment = Sown(dishes=Dishes(**{**_FOUR, **dishes}), places=_FOUR_PLACES)
    return _course(
        f"four treatments, {name}", f"{_FOUR_WORDS}; {about}.", experiment, within=within
    )


def _alone(name: str, about: str, **dishes: Any) -> Design:
    experiment = Sown(dishes=Dishes(**{**ORDINARY, **dishes}), places=_FOUR_PLACES[:1])
    words = "One treatment of which 80 % germinate, half of them within 120 h"
    return _course(f"one treatment, {name}", f"{words}; ordinary spread; {about}.", experiment)


def _demo_course(spread: str) -> Design:
    true, (dishes, about) = truth.GERMINATION, SPREADS[spread]
    courses = true.courses
    drawn = Dishes(
        t50_h=tuple(c.t50_h for c in courses),
        fraction=tuple(c.germinable for c in courses),
        # the demo's truth is the scale of a logistic, of which this is the standard deviation
        sd_log=true.sigma * float(np.pi / np.sqrt(3)),
        inspections_h=true.inspections_h,
        **dishes,
    )
    experiment = Sown(
        dishes=drawn,
        places=tuple(Place(c.lot, c.treatment, c.temperature_c) for c in courses),
        left=tuple(Left(c.hard, c.fresh, c.hard_alive, c.fresh_alive) for c in courses),
    )
    words = f"The {len(courses)} treatments of the demo with their seeds opened at the end"
    return _course(f"demo germination, {spread}", f"{words}; {about}.", experiment)


COURSES = (
    *(_four(name, about, **dishes) for name, (dishes, about) in SPREADS.items()),
    _four("2 dishes of 50, ordinary spread", "ordinary spread", **ORDINARY, **PAIR),
    _four("2 dishes of 50, strong spread", "strong spread", **STRONG, **PAIR),
    _four(
        "1 dish of 50, ordinary spread",
        "ordinary spread, which one dish cannot show",
        **{**ORDINARY, "dishes": 1, "seeds": 50},
    ),
    _four(
        "1 dish of 50, strong spread",
        "strong spread, twice what is assumed of one dish",
        within=False,
        **{**STRONG, "dishes": 1, "seeds": 50},
    ),
    _alone("4 dishes of 25", "four dishes", dishes=4),
    _alone("2 dishes of 50", "two dishes", **PAIR),
    *(_demo_course(name) for name in SPREADS),
    _four(
        "heavy tails",
        "ordinary spread, but dishes differ as Student's t with 3 degrees of freedom does",
        within=False,
        dish_sd_log_time=0.1,
        dish_sd_logit=0.6,
        times="lognormal",
        heavy=True,
    ),
    _four(
        "two kinds of seed",
        "ordinary spread, but a quarter of the seeds takes one and a half times as long",
        within=False,
        **ORDINARY,
        times="two_kinds",
    ),
)


# temperature

_SIX = (10.0, 12.5, 15.0, 20.0, 25.0, 30.0)
_LINE = Response(base=8.0, time=1500.0)
_LINE_WORDS = (
    "Six temperatures from 10 to 30 °C, a base of 8 °C, 85 % germinable, counted daily for 28 days"
)
_DEMO = Response(
    base=truth.SERIES.base, time=truth.SERIES.thermal_time_50, optimum=truth.SERIES.optimum
)
_DEMO_WORDS = (
    f"The demo's {len(truth.SERIES.temperatures)} temperatures from 10 to 30 °C, a base of {truth.SERIES.base:g} °C and a "
    f"plateau from {truth.SERIES.optimum:g} °C"
)


def _series(
    name: str,
    about: str,
    response: Response,
    temperatures: tuple[float, ...],
    *,
    within: bool = True,
    identified: bool = True,
    predicted: bool = False,
    **dishes: Any,
) -> Design:
    experiment = warm.series(response, temperatures, **dishes)
    expected = Predicted(response, experiment)
    return Design(
        name=name,
        analysis="temperature",
        about=f"{about}.",
        draw=expected.draw if predicted else experiment.draw,
        truths=partial(_truths, expected, predicted=predicted),
        within=within,
        identified=identified,
        further=expected.figures if predicted else None,
    )


def _truths(expected: Predicted, *, predicted: bool) -> Mapping[Key, float]:
    cardinals = warm.cardinals(expected.response, expected.experiment)
    return cardinals | expected.truths if predicted else cardinals


def _line(name: str, about: str, *, within: bool = True, **dishes: Any) -> Design:
    words = f"{_LINE_WORDS}; {about}"
    return _series(f"straight line, {name}", words, _LINE, _SIX, within=within, **dishes)


def _demo_series(name: str, about: str, **dishes: Any) -> Design:
    given = {"fraction": truth.SERIES.germinable, **dishes}
    words = f"{_DEMO_WORDS}; {about}"
    return _series(f"plateau, {name}", words, _DEMO, truth.SERIES.temperatures, **given)


def _coarse(name: str, response: Response, temperatures: tuple[float, ...]) -> tuple[Design, ...]:
    words = (
        f"Temperatures of {', '.join(f'{t:g}' for t in temperatures)} °C, a base of {response.base:g} °C and a plateau "
        f"from {response.optimum:g} °C, so that too few germinating temperatures lie below it"
    )
    return tuple(
        _series(
            f"{name}, {spread}",
            f"{words}; {about}",
            response,
            temperatures,
            identified=False,
            fraction=truth.SERIES.germinable,
            **dishes,
        )
        for spread, (dishes, about) in SPREADS.items()
        if spread in ("no spread", "ordinary spread")
    )


_TRIANGLE = Response(base=4.0, time=1500.0, optimum=25.0, optimum_end=25.0, ceiling=42.0)
_TRAPEZOID = Response(base=6.0, time=1200.0, optimum=20.0, optimum_end=30.0, ceiling=42.0)

TEMPERATURES = (
    *(
        # where some dishes differ more than others there is no one truth about a sowing
        _line(name, about, predicted=name != "unequal spread", **dishes)
        for name, (dishes, about) in SPREADS.items()
    ),
    _line(
        "2 dishes of 50, ordinary spread",
        "two dishes of 50, ordinary spread",
        predicted=True,
        **ORDINARY,
        **PAIR,
    ),
    _line(
        "2 dishes of 50, strong spread",
        "two dishes of 50, strong spread",
        predicted=True,
        **STRONG,
        **PAIR,
    ),
    _line(
        "1 dish of 50, ordinary spread",
        "one dish of 50 at each temperature, ordinary spread",
        **{**ORDINARY, "dishes": 1, "seeds": 50},
    ),
    _line(
        "nearly all germinate",
        "ordinary spread, but 99.5 % germinable",
        predicted=True,
        **{**ORDINARY, "fraction": 0.995},
    ),
    *(_demo_series(name, about, **dishes) for name, (dishes, about) in SPREADS.items()),
    _demo_series(
        "2 dishes of 50, ordinary spread", "two dishes of 50, ordinary spread", **ORDINARY, **PAIR
    ),
    _series(
        "plateau from 22 °C, ordinary spread",
        "Six temperatures from 10 to 30 °C, a base of 8 °C and a plateau from 22 °C, through which a straight line would put the base "
        "more than a degree too low; ordinary spread",
        replace(_LINE, optimum=22.0),
        _SIX,
        **ORDINARY,
    ),
    _series(
        "triangle, ordinary spread",
        "Eight temperatures from 5 to 40 °C, fastest at 25 °C, none above 42 °C; ordinary spread",
        _TRIANGLE,
        tuple(float(t) for t in range(5, 41, 5)),
        predicted=True,
        **ORDINARY,
    ),
    _series(
        "trapezoid, ordinary spread",
        "Temperatures from 7.5 to 40 °C in steps of 2.5 °C, fastest from 20 to 30 °C, none above 42 °C; ordinary spread",
        _TRAPEZOID,
        tuple(2.5 * step for step in range(3, 17)),
        **ORDINARY,
    ),
    _line(
        "fewer germinate in the cold",
        "ordinary spread; only half of the seeds are able to germinate at 10 °C",
        **{**ORDINARY, "fraction": (0.5, 0.85, 0.85, 0.85, 0.85, 0.85)},
    ),
    _series(
        "straight line, none germinates in the cold",
        "Five temperatures from 10 to 30 °C, a base of 6 °C, 85 % germinable, counted daily for 28 days; ordinary spread, but no "
        "seed is able to germinate at 10 °C, which looks like a base close by",
        Response(base=6.0, time=1600.0),
        (10.0, 15.0, 20.0, 25.0, 30.0),
        within=False,
        **{**ORDINARY, "fraction": (0.0, 0.85, 0.85, 0.85, 0.85)},
    ),
    _line(
        "heavy tails",
        "ordinary spread, but dishes differ as Student's t with 3 degrees of freedom does",
        within=False,
        dish_sd_log_time=0.1,
        dish_sd_logit=0.6,
        times="lognormal",
        heavy=True,
    ),
    _line(
        "two kinds of seed",
        "ordinary spread, but a quarter of the seeds takes one and a half times as long",
        within=False,
        **ORDINARY,
        times="two_kinds",
    ),
    _line(
        "seeds differ in their base",
        "ordinary spread, but each seed has a base temperature of its own, with a standard deviation of 0.5 °C",
        within=False,
        **ORDINARY,
        base_sd_c=0.5,
        above_base_c=tuple(t - _LINE.base for t in _SIX),
    ),
    _series(
        "straight line, seeds differ in their base alone",
        f"{_LINE_WORDS}; ordinary spread, but seeds differ in nothing but their base temperature, with a standard deviation of 1 °C, "
        "so that no base is that of the lot",
        _LINE,
        _SIX,
        within=False,
        identified=False,
        **ORDINARY,
        sd_log=0.02,
        times="lognormal",
        base_sd_c=1.0,
        above_base_c=tuple(t - _LINE.base for t in _SIX),
    ),
    _line(
        "one chamber each",
        "ordinary spread, but all dishes of a temperature stand in one chamber, and chambers differ by 5 % in speed",
        within=False,
        **ORDINARY,
        chamber_sd_log_time=0.05,
    ),
    *_coarse("too few temperatures", _DEMO, (10.0, 20.0, 25.0, 30.0)),
    *_coarse(
        "steep rise", Response(base=10.25, time=900.0, optimum=20.0), (10.0, 15.0, 20.0, 25.0, 30.0)
    ),
)


# imbibition

_HALF = soaked.Design()
_HALF_WORDS = "20 seeds of which half are impermeable and 15 % open late"


def _soaked(name: str, about: str, coats: tuple[Coats, ...], *, within: bool = True) -> Design:
    return Design(
        name=name,
        analysis="imbibition",
        about=f"{about}.",
        draw=partial(weighed.draw, coats),
        truths=partial(weighed.truths, coats),
        within=within,
    )


def _half(name: str, about: str, *, within: bool = True, **seeds: Any) -> Design:
    coats = (Coats(seeds=replace(_HALF, **seeds)),)
    return _soaked(name, f"{_HALF_WORDS}; {about}", coats, within=within)


def _demo_coats() -> tuple[Coats, ...]:
    true = truth.UPTAKE
    seeds = replace(
        _HALF,
        film=true.film,
        film_cv=true.film_spread,
        plateau=true.plateau,
        plateau_cv=true.plateau_spread,
        half_time=true.half_time_h,
        speed_cv=true.speed_spread,
        hours=true.hours,
        balance=true.balance_sd_mg,
        readability=true.balance_readability_mg,
    )
    return tuple(
        Coats(
            lot=c.lot,
            treatment=c.treatment,
            seeds=replace(
                seeds,
                seeds=c.seeds,
                impermeable=c.impermeable,
                late=c.late,
                mass=true.mass_mg[c.lot],
            ),
        )
        for c in true.coats
    )


_BATHS = tuple(
    Coats(
        treatment=name,
        seeds=replace(_HALF, seeds=40, impermeable=share),
        batches=4,
        correlation=0.05,
    )
    for name, share in (("acid", 0.3), ("hot water", 0.6))
)
SOAKED = (
    _soaked("demo uptake", "The six lots and treatments of the demo, 20 seeds each", _demo_coats()),
    _half("200 mg, 7 weighings", "seeds of 200 mg, weighed to 1 mg seven times within 72 h"),
    _half("20 mg, 7 weighings", "seeds of 20 mg, weighed to 1 mg seven times", mass=20.0),
    _half("10 mg, 7 weighings", "seeds of 10 mg, weighed to 1 mg seven times", mass=10.0),
    _half("200 mg, 2 weighings", "seeds of 200 mg, weighed dry and after 72 h", hours=soaked.TWO),
    _half(
        "10 mg, 2 weighings",
        "seeds of 10 mg, weighed dry and after 72 h",
        mass=10.0,
        hours=soaked.TWO,
    ),
    _half("Peleg's curve", "uptake follows Peleg's curve", peleg=True),
    _soaked(
        "baths differ",
        "Two treatments of 40 seeds in four baths each, whose seeds are alike (correlation 0.05)",
        _BATHS,
    ),
    _half(
        "rough seeds, wet sessions",
        "but each seed holds a film of its own, and each session of weighing shifts all films",
        within=False,
        own_film=0.4,
        session=0.3,
    ),
    _half(
        "two sizes of seed",
        "seeds of 10 mg mixed with others twice as heavy",
        within=False,
        two_sizes=True,
        mass=10.0,
    ),
    _half(
        "early openers",
        "but seeds that open late do so early in the test, uptake is slow, and films vary",
        within=False,
        early_openers=True,
        half_time=20.0,
        film_cv=0.8,
    ),
)


# scarification

_DOSED_WORDS = "Acid for 30 to 480 minutes, untreated and hand-opened seeds"
_SOFT: Mapping[str, Any] = {
    "soft": 0.55,
    "soft_alive": 0.5,
    "opens": 60.0,
    "bears": 420.0,
    "bears_slope": 2.5,
}


def _dosed(name: str, about: str, *, within: bool = True, **true: Any) -> Design:
    study = dosed.Dosed(**true)
    return Design(
        name=name,
        analysis="scarification",
        about=f"{_DOSED_WORDS}; {about}.",
        draw=study.draw,
        truths=study.truths,
        within=within,
    )


DOSED = (
    _dosed("acid, no spread", "four dishes of 25 that differ by chance alone", dish_sd=0.0),
    _dosed("acid, ordinary spread", "four dishes of 25, of sd 0.3 on the logit"),
    _dosed("acid, 2 dishes of 50", "two dishes of 50, of sd 0.3 on the logit", dishes=2, seeds=50),
    _dosed(
        "acid, soft lot",
        "four dishes of sd 0.3; more than half of the seeds permeable untreated",
        **_SOFT,
    ),
    _dosed(
        "acid, flat top",
        "four dishes of sd 0.3; coats open early and harm comes late",
        opens=30.0,
        opens_slope=2.5,
        bears=900.0,
        bears_slope=2.0,
    ),
    _dosed(
        "acid, nothing opened by hand", "four dishes of sd 0.3, no hand-opened ones", by_hand=False
    ),
    _dosed(
        "acid, 3 baths",
        "three baths of sd 0.4, each of two dishes of sd 0.2",
        baths=3,
        dishes=2,
        bath_sd=0.4,
        dish_sd=0.2,
    ),
    *(
        _dosed(
            f"acid, 3 baths of sd {sd:g}",
            f"three baths of sd {sd:g}, each of two dishes of sd 0.2",
            baths=3,
            dishes=2,
            bath_sd=sd,
            dish_sd=0.2,
        )
        for sd in (0.2, 0.6)
    ),
    *(
        _dosed(
            f"acid, 1 bath of sd {sd:g}",
            f"one bath of sd {sd:g} for each duration, of which four dishes of sd 0.2 tell nothing",
            within=False,
            bath_sd=sd,
            dish_sd=0.2,
        )
        for sd in (0.2, 0.6)
    ),
    _dosed(
        "acid, 1 bath",
        "one bath of sd 0.4 for each duration, of which four dishes of sd 0.2 tell nothing",
        within=False,
        bath_sd=0.4,
        dish_sd=0.2,
    ),
)


# buoyancy

_FLOATED_WORDS = "Seeds of which 70 % live, three of four live ones with an air cavity, looked at eight times within 168 h"


def _floated(name: str, about: str, *, within: bool = True, **seeds: Any) -> Design:
    drawn = floated.Design(**seeds)
    return Design(
        name=f"float test, {name}",
        analysis="buoyancy",
        about=f"{_FLOATED_WORDS}; {about}.",
        draw=partial(floating.draw, drawn),
        truths=partial(floating.truths, drawn),
        within=within,
    )


FLOATED = (
    _floated("60 seeds", "60 seeds, a quarter of which come up once again"),
    _floated("25 seeds", "25 seeds, a quarter of which come up once again", seeds=25),
    _floated(
        "200 seeds, 3 looks",
        "200 seeds, but looked at only at 6, 24 and 168 h",
        seeds=200,
        hours=(6.0, 24.0, 168.0),
    ),
    _floated(
        "4 batches of 25",
        "four batches whose seeds live alike (correlation 0.05)",
        seeds=100,
        batches=4,
        correlation=0.05,
    ),
    _floated(
        "a third of the fates unknown", "60 seeds, of which a third has no outcome", known=0.67
    ),
    _floated("nearly all live", "60 seeds, but 93 % of them alive", live=0.93),
    _floated(
        "most come up again",
        "60 seeds, but four of five come up again, often between two looks, where nobody sees it",
        within=False,
        up_again=0.8,
    ),
    _floated(
        "too short",
        "60 seeds, but looked at only up to 12 h, so that seeds that have sunk may come up later",
        within=False,
        hours=(1.0, 3.0, 6.0, 12.0),
        up_again=0.8,
    ),
)

DESIGNS = {
    design.name: design
    for design in (*COURSES, *TEMPERATURES, *SOAKED, *DOSED, *FLOATED, *STORED, *LEAVED, *LABELLED)
}
