"""Along a course of temperatures: warmth adds up over its hours, and what the course leaves is told."""

import json

import numpy as np
import pytest

from hilum.analyses.temperature import along, chart, model
from hilum.analyses.temperature.logged import Course
from hilum.analyses.temperature.model import TemperatureTruth, TrueSeries
from hilum.report.cautions import RELEASE, hazards_of
from hilum.settings import Settings
from hilum.steps import written
from tests.calibration import predicted, run
from tests.calibration.predicted import Predicted
from tests.calibration.warm import Response, series

SETTINGS = Settings(study=".", seedlings_wanted=(5, 20), sowing_confidence=0.9)
DAYS = 28
HOURS = np.arange(0, 24 * DAYS + 1, 6.0)
STEADY = np.full(len(HOURS), 20.0)
# a day at 22 °C in its warm half and 12 °C in its cold half, each change within minutes
BLOCKS = np.array([h + d for d in range(0, 24 * DAYS, 24) for h in (0, 11.99, 12, 23.99)])
SWING = np.tile((22.0, 22.0, 12.0, 12.0), DAYS)


def _table(**courses):
    sizes = [len(hours) for hours, _ in courses.values()]
    return {
        "course": np.repeat(list(courses), sizes),
        "elapsed_h": np.concatenate([hours for hours, _ in courses.values()]),
        "temperature_c": np.concatenate([degrees for _, degrees in courses.values()]),
    }


def _fit(series, **courses):
    tables = model.simulate(TemperatureTruth(series=(series,)), rng=np.random.default_rng(1))
    tables = dict(tables, temperature_courses=_table(**courses))
    found = model.fit(tables, settings=SETTINGS, rng=np.random.default_rng(0))
    json.dumps(written.rounded(found.drawing), allow_nan=False)
    return found


@pytest.fixture(scope="module")
def fitted():
    cold = (np.array([0.0, 24.0 * DAYS]), np.array([2.0, 2.0]))
    late = (np.array([48.0, 24.0 * DAYS]), np.array([35.0, 5.0]))
    return _fit(TrueSeries(), steady=(HOURS, STEADY), swing=(BLOCKS, SWING), cold=cold, late=late)


def _course(fitted, name):
    return next(c for c in fitted.drawing.groups[0].courses if c.name == name)


def _one(fitted, quantity, name):
    return next(
        e for e in fitted.estimates if e.quantity == quantity and e.condition == f"along {name}"
    )


def test_a_steady_course_is_a_constant_temperature(fitted):
    course, constant = _course(fitted, "steady"), fitted.drawing.groups[0].prediction
    row = constant.temperatures.index(20)
    assert course.days == constant.days
    for name in ("germinated", "low", "high"):
        expected = getattr(constant, name)[row]
        np.testing.assert_allclose(getattr(course, name), expected, atol=2e-4)
    half = next(e for e in fitted.estimates if e.quantity == "t50" and e.temperature_c == 20)
    along_it = _one(fitted, "predicted_t50", "steady")
    assert along_it.value == pytest.approx(half.value, rel=1e-6)
    assert (along_it.low, along_it.high) == pytest.approx((half.low, half.high), rel=0.02)


def test_a_swing_counts_the_warmth_of_its_halves(fitted):
    by = {e.quantity: e.value for e in fitted.estimates if not e.condition}
    base, time = by["base_temperature"], by["thermal_time_50"]
    # °C above the base in either half; where the rate is flat more warmth does not count
    warm, cold = min(22, by.get("plateau_low") or np.inf) - base, 12 - base
    assert warm > cold > 0
    days, rest = divmod(time / 12, warm + cold)
    hours = 24 * days + (12 * rest / warm if rest < warm else 12 + 12 * (rest - warm) / cold)
    assert _one(fitted, "predicted_t50", "swing").value == pytest.approx(hours, rel=0.01)


def test_nothing_is_expected_in_the_cold_and_no_number_named(fitted):
    course = _course(fitted, "cold")
    assert max(course.germinated) == 0
    assert course.sowing.seeds[0] == (None,) * len(course.sowing.days)
    half = _one(fitted, "predicted_t50", "cold")
    assert (half.status, half.value) == ("not_identified", None)
    assert "longer course" in half.needs


def test_what_a_course_leaves_is_told_as_a_share_of_its_hours(fitted):
    assert (_course(fitted, "steady").colder, _course(fitted, "steady").warmer) == (0, 0)
    assert _course(fitted, "cold").colder == 1
    late = _course(fitted, "late")
    # 35 °C holds from sowing to the first reading, then 30 °C fall evenly over 26 days
    assert late.warmer == pytest.approx((48 + 624 * 5 / 30) / 672, abs=0.01)
    assert late.colder == pytest.approx(624 * 5 / 30 / 672, abs=0.01)


def test_the_wish_of_the_settings_is_the_wish_of_the_table(fitted):
    sowing = _course(fitted, "steady").sowing
    assert (sowing.wanted, sowing.sure) == ((5, 20), 0.9)
    rows = fitted.rows["course_sowing"]
    assert {(r["wanted"], r["sure"]) for r in rows} == {(5, 0.9), (20, 0.9)}
    assert len(fitted.rows["course_prediction"]) == sum(
        len(c.days) for c in fitted.drawing.groups[0].courses
    )


def test_no_prediction_along_a_course_from_a_base_that_is_a_bracket():
    steep = TrueSeries(
        temperatures=(10, 20, 25, 30), base=10.25, thermal_time_50=900, optimum=20, optimum_end=60
    )
    found = _fit(steep, steady=(HOURS, STEADY))
    told = [e for e in found.estimates if e.quantity in along.QUANTITIES]
    assert [e.status for e in told] == ["not_identified"] * 2
    assert all("base temperature" in e.needs and e.value is None for e in told)
    assert "course_prediction" not in found.rows


def test_a_long_course_of_many_readings_is_counted_as_fast():
    hours = np.arange(0, 24 * 365, 0.5)
    degrees = 12 + 8 * np.sin(2 * np.pi * hours / 24)
    fine = along._fine(Course(hours, degrees), np.array([100.0]))
    assert len(fine.hours) < 2010
    assert 2400.0 in fine.hours


def test_each_course_has_its_figure(fitted):
    figures = {f.name: f for f in chart.figures(fitted.drawing, [])}
    assert {"course-1-1", "course-1-2", "course-1-3", "course-1-4"} <= set(figures)
    assert "20.0 °C" in figures["course-1-1"].description
    assert len(figures["course-1-1"].spec["vconcat"]) == 2


def test_sowing_outdoors_brings_its_caution():
    assert hazards_of([], outdoors=True) == (RELEASE,)
    assert "permit" in RELEASE.short
    assert hazards_of([]) == ()


@pytest.fixture(scope="module")
def counted():
    ((_, rows),) = run.table(["straight line, ordinary spread"], studies=20, seed=3)
    return {row["quantity"]: row for row in rows}


@pytest.mark.parametrize("band", [predicted.CONSTANT, predicted.ALONG])
def test_bands_hold_the_truth(counted, band):
    row = counted[band]
    assert row["estimated"] == row["figures"]
    # cells of one study hold or miss together, so that studies are what is counted
    assert row["coverage"] >= 0.93 - 2 * np.sqrt(0.93 * 0.07 / row["studies"])


@pytest.mark.parametrize("promise", [predicted.TO_SOW, predicted.TO_SOW_ALONG])
def test_sowings_yield_what_they_promise(counted, promise):
    row = counted[promise]
    assert row["estimated"] > 0.9 * row["figures"]
    assert row["monte_carlo_error"] < 0.03
    assert row["coverage"] >= 0.95 - 2 * row["monte_carlo_error"]
    assert row["truth_below"] == 0
    # so many seeds are more than it takes on average
    assert 1 < row["median_width"] < 2


def test_the_truth_of_a_course_is_that_of_its_temperatures():
    response = Response(base=8.0, time=1500.0)
    truth = Predicted(response, series(response, (10.0, 20.0, 30.0)))
    # without spread between dishes half of the germinable seeds have germinated at a progress of 1
    assert truth.share(np.array([1.0]))[0] == pytest.approx(0.85 / 2, abs=0.005)
    assert truth.steady(18.0, 6.25) == pytest.approx(1.0)
    warm = np.maximum(predicted.COURSE_C - response.base, 0)
    roughly = np.trapezoid(warm, predicted.COURSE_H) / response.time
    assert truth.course(28.0) == pytest.approx(roughly, rel=0.01)


def test_a_sowing_takes_as_many_seeds_as_its_share_says():
    response = Response()
    truth = Predicted(response, series(response, (20.0,), fraction=0.5))
    rng = np.random.default_rng(2)
    took = np.array([truth.took(10, 100.0, rng) for _ in range(2000)])
    # seeds until the tenth of which every second germinates: a negative binomial, mean 20, variance 10·0.5/0.5²
    assert took.mean() == pytest.approx(20, abs=4 * np.sqrt(20 / 2000))
    assert truth.took(10, 0.0, rng) == np.inf


def test_hours_too_cold_to_move_do_not_count_among_fractions():
    # fewer seeds can germinate in the cold, so that each temperature has a germinable fraction of its own
    losing = TrueSeries(cold_below=15.0, cold_loss=0.12)
    cold_first = np.array([0.0, 671.9, 672.0, 1344.0]), np.array([4.0, 4.0, 20.0, 20.0])
    found = _fit(losing, steady=(HOURS, STEADY), waiting=cold_first)
    assert found.drawing.groups[0].free_fractions
    steady, waiting = (
        next(
            e.value
            for e in found.estimates
            if e.quantity == "predicted_germinated" and e.condition == f"along {name}"
        )
        for name in ("steady", "waiting")
    )
    assert waiting == pytest.approx(steady, abs=1e-3)
