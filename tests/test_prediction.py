"""What to expect: the fitted curve with a band that holds the truth, and sowings that yield what they promise."""

import json
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import betabinom

from hilum.analyses.rounding import GAP, shown
from hilum.analyses.temperature import answers, chart, choice, model, prediction
from hilum.analyses.temperature.choice import Certainty
from hilum.analyses.temperature.model import TemperatureTruth, TrueSeries
from hilum.analyses.temperature.prediction import Wish
from hilum.analyses.temperature.view import View
from hilum.report import render
from hilum.settings import Settings
from hilum.stats import sowing
from hilum.stats.expectation import constant
from hilum.stats.families import LOG_LOGISTIC
from hilum.steps import written
from tests import generator, warmth

SETTINGS = Settings(study=".")
WISH = Wish((10, 50, 100), 0.95)
CERTAINTY = Certainty(confidence=0.95, correlation=0.05)
TESTED = (10.0, 12.5, 15.0, 20.0, 25.0, 30.0)
TRUTH = {"fraction": 0.85, "sd_log": 0.29, "dish_sd_log_time": 0.1, "dish_sd_logit": 0.4}


def _group(*chosen, seed=1, **truth):
    tables = model.simulate(
        TemperatureTruth(series=chosen, **truth), rng=np.random.default_rng(seed)
    )
    found = model.fit(tables, settings=SETTINGS, rng=np.random.default_rng(0))
    json.dumps(written.rounded(found.drawing), allow_nan=False)
    return found, found.drawing.groups[0]


def _cells(found, name="germinated"):
    return np.array(getattr(found, name))


@pytest.fixture(scope="module")
def predicted():
    _, group = _group(TrueSeries())
    return group


def test_the_prediction_is_the_fitted_curve(predicted):
    found = predicted.prediction
    for degrees in (10, 15, 20, 25, 30):
        row = _cells(found)[found.temperatures.index(degrees)]
        curve = [r for r in predicted.germination if r.regime == f"{degrees} °C"]
        drawn = {r.hours: r.germinated for r in curve if r.kind == "fitted"}
        both = [
            (share, drawn[24 * d])
            for share, d in zip(row, found.days, strict=True)
            if 24 * d in drawn
        ]
        assert len(both) == 4  # the days on which the curve has a point too
        np.testing.assert_allclose(*zip(*both, strict=True), atol=1e-4)


def test_a_cold_that_was_not_watched_long_enough_may_have_the_fraction_of_the_rest():
    """At 11 °C a fraction of its own that few seeds of 10 °C told put the band too low in every third such study."""
    found = warmth.studies(
        TESTED,
        number=12,
        rng=np.random.default_rng(9),
        **{**TRUTH, "fraction": 0.99, "dish_sd_logit": 0.0},
    )
    # 28 days at 3 °C above the base, of the 1500 °C h that half of the seeds need
    truth = 0.99 / (1 + np.exp(-np.log(28 * 24 * 3 / 1500) * np.pi / np.sqrt(3) / 0.29))
    held = apart = 0
    for study in found:
        chosen = choice.choose(study, CERTAINTY, families=(LOG_LOGISTIC,), shapes=("linear",))
        place, day = np.array([11.0]), np.array([28 * 24.0])
        grid = constant(place, day, prediction.mixing(chosen, place))
        low, high = prediction.band_of_all(chosen, CERTAINTY, grid)
        apart += chosen.sharing == "cold apart"
        held += bool(low <= truth <= high)
    assert apart >= 9
    assert held >= 11


def test_the_band_holds_its_curve_and_neither_falls(predicted):
    found = predicted.prediction
    low, share, high = (_cells(found, name) for name in ("low", "germinated", "high"))
    assert (low <= share).all()
    assert (share <= high).all()
    assert low.min() >= 0
    assert high.max() <= 1
    for curve in (low, share, high):
        assert (np.diff(curve, axis=1) >= 0).all()


def test_at_the_coolest_temperatures_the_base_is_part_of_the_doubt():
    # two dishes of ten seeds at five temperatures leave the base uncertain by two degrees
    few = TrueSeries(base=8.4, thermal_time_50=500, temperatures=(12.5, 15, 20, 25, 30))
    _, group = _group(few, dishes=2, seeds=10)
    found, base = group.prediction, group.base
    at_8 = found.temperatures.index(8)
    assert base.low < 8 < base.value
    assert max(found.germinated[at_8]) == 0
    assert max(found.high[at_8]) > 0.2


def _marginal(temperatures, days):
    """Return the share that germinates over all dishes: the mean over what dishes do, by simulation."""
    hours = tuple(warmth.median_hours(t, base=8.0, time=1500.0) for t in temperatures)
    many = {**TRUTH, "fraction": (TRUTH["fraction"],) * len(hours), "t50_h": hours}
    drawn = generator.Dishes(**many, dishes=4000, inspections_h=tuple(24 * d for d in days))
    counts = generator.counts(drawn, studies=1, rng=np.random.default_rng(9))[0]
    return counts.cumsum(-1).sum(1) / (4000 * drawn.seeds)


def _outlooks(number, seed):
    rng = np.random.default_rng(seed)
    for series in warmth.studies(TESTED, rng=rng, number=number, **TRUTH):
        chosen = choice.choose(series, CERTAINTY, families=(LOG_LOGISTIC,), shapes=("linear",))
        base = answers.answers(chosen, CERTAINTY).base
        assert base.status == "estimated"
        yield prediction.predict(chosen, base, CERTAINTY, WISH)


@pytest.fixture(scope="module")
def outlooks():
    return list(_outlooks(36, seed=5))


def test_the_band_covers_the_truth_in_dishes_that_differ(outlooks):
    degrees, days = (10, 15, 20, 25, 30), np.arange(1, 29)
    truth = _marginal(degrees, days)
    told = (truth > 0.03) & (truth < 0.999)
    held = []
    for found in outlooks:
        rows = np.searchsorted(found.temperature, degrees)
        inside = (found.low[rows] <= truth) & (truth <= found.high[rows])
        held.append(inside[told].mean())
    # cells of one study hold or miss together, so the studies' own scatter tells the error
    error = np.std(held) / np.sqrt(len(held))
    assert np.mean(held) >= 0.93 - 2 * error
    assert error < 0.04


def test_a_sowing_yields_what_it_promises(outlooks):
    rng = np.random.default_rng(6)
    reached = []
    for found in outlooks:
        at, by = list(found.sown_at).index(20.0), list(found.sown_by).index(7.0)
        hours = warmth.median_hours(20.0, base=8.0, time=1500.0)
        for wanted, seeds in zip(WISH.wanted, found.seeds[:, at, by], strict=True):
            dishes = int(np.ceil(seeds / 25))
            sown = {**TRUTH, "fraction": (TRUTH["fraction"],), "t50_h": (hours,), "dishes": dishes}
            times = generator.times(generator.Dishes(**sown), studies=20, rng=rng)
            germinated = (times.reshape(20, -1)[:, : int(seeds)] <= 7 * 24).sum(1)
            reached.append((germinated >= wanted).mean())
    error = np.std(reached) / np.sqrt(len(outlooks))
    assert np.mean(reached) >= 0.93 - 2 * error


def test_more_seedlings_and_earlier_days_need_more_seeds(predicted):
    table = predicted.prediction.sowing
    seeds = np.array([[[s or np.inf for s in row] for row in k] for k in table.seeds])
    wanted = np.array(table.wanted)[:, None, None]
    assert (seeds[1:] >= seeds[:-1]).all()
    assert (seeds[..., 1:] <= seeds[..., :-1]).all()
    assert (seeds >= wanted).all()
    # at 30 °C and to the end of the test nearly every germinable seed is up
    assert wanted[1, 0, 0] / 0.85 < seeds[1, -1, -1] < 1.6 * wanted[1, 0, 0]


@pytest.mark.parametrize("wanted", [1, 10, 50])
def test_the_chance_of_enough_is_that_of_a_beta_binomial(wanted):
    p, rho, n = 0.4, 0.1, 120
    one = sowing.Chances(np.array([p]), np.array([rho]), np.array([1.0]))
    # one dish holds all seeds, so the correlation is that of the dish
    alike = 1 / rho - 1
    expected = betabinom.sf(wanted - 1, n, p * alike, (1 - p) * alike)
    assert sowing.surely(np.array(n), wanted, one, dish=n) == pytest.approx(expected, rel=1e-9)


def test_the_fewest_seeds_are_the_fewest():
    chances = sowing.Chances(
        np.array([[0.5], [0.7]]), np.array([[0.05], [0.05]]), np.array([0.5, 0.5])
    )
    seeds = sowing.needed(20, chances, dish=25, confidence=0.95)
    assert sowing.surely(seeds, 20, chances, 25)[0] >= 0.95
    assert sowing.surely(seeds - 1, 20, chances, 25)[0] < 0.95


def test_no_number_of_seeds_is_named_where_none_is_enough():
    # with a chance of one in ten the seeds do not germinate at all
    doubt = sowing.Chances(np.array([[0.0], [0.9]]), np.zeros((2, 1)), np.array([0.1, 0.9]))
    assert np.isnan(sowing.needed(10, doubt, dish=25, confidence=0.95)).all()


def test_one_seed_from_seeds_that_all_germinate_is_one():
    sure = sowing.Chances(np.array([[1.0]]), np.zeros((1, 1)), np.array([1.0]))
    assert sowing.needed(1, sure, dish=25, confidence=0.95).tolist() == [1]


def test_where_all_seeds_germinated_the_band_still_allows_for_some_that_do_not():
    _, group = _group(TrueSeries(germinable=1.0), dish_sd_logit=0.0)
    found = group.prediction
    assert found.germinated[-1][-1] == pytest.approx(1, abs=1e-3)
    assert 0.97 < found.low[-1][-1] < 0.999


def test_no_prediction_from_a_base_that_is_a_bracket():
    steep = TrueSeries(
        temperatures=(10, 20, 25, 30), base=10.25, thermal_time_50=900, optimum=20, optimum_end=60
    )
    found, group = _group(steep)
    assert group.base.status == "bracketed"
    assert group.prediction is None
    assert "base temperature" in group.no_prediction
    assert not {"prediction", "sowing"} & set(found.rows)


def test_no_prediction_from_alternating_temperatures():
    nights = TrueSeries(temperatures=(15, 20, 25, 30), nights=(10.0, 12.0, 15.0, 20.0))
    _, group = _group(nights)
    assert "alternating" in group.no_prediction


def test_where_each_temperature_has_its_fraction_the_prediction_stays_between_them():
    lossy = replace(TrueSeries(), cold_below=16.0, cold_loss=0.08)
    _, group = _group(lossy, seed=3)
    assert group.free_fractions
    found = group.prediction
    assert min(found.temperatures) >= 10
    late = _cells(found)[:, -1]
    assert late[found.temperatures.index(30)] > late[found.temperatures.index(12)] + 0.1


def test_every_cell_is_a_row_of_its_table(predicted):
    found, _ = _group(TrueSeries())
    shape = _cells(predicted.prediction).shape
    assert len(found.rows["prediction"]) == shape[0] * shape[1]
    assert len(found.rows["sowing"]) == np.array(predicted.prediction.sowing.seeds).size


def test_the_figures_in_the_picture_follow_the_slider(predicted):
    """The slider moved to 14 °C, and the only figures were those of the caption, at 20 °C."""
    drawing = View(groups=(predicted,), confidence=0.95)
    figure = next(f for f in chart.figures(drawing, []) if f.name == "prediction-1")
    found, warm = predicted.prediction, 17
    spec = json.loads(json.dumps(figure.spec, default=float))
    next(p for p in spec["params"] if p["name"] == "at")["value"] = warm
    row, day = found.temperatures.index(warm), found.sowing.days[-1]
    at = found.days.index(day)
    value, low, high = (
        shown(100 * getattr(found, name)[row][at]) for name in ("germinated", "low", "high")
    )
    drawn = render.picture(render.specification(replace(figure, spec=spec)))
    assert f">17 °C: {value}{GAP}% by day {day:g} ({low} to {high}{GAP}%)<" in drawn


def test_the_slider_starts_at_a_tested_temperature(predicted):
    drawing = View(groups=(predicted,), confidence=0.95)
    figure = next(f for f in chart.figures(drawing, []) if f.name == "prediction-1")
    slider = next(p for p in figure.spec["params"] if p["name"] == "at")
    assert slider["value"] == 20
    assert figure.caption.startswith("As printed, at 20 °C: ")
    assert slider["bind"]["input"] == "range"
    assert slider["bind"]["min"] == predicted.prediction.temperatures[0]
    assert "20 °C" in figure.description
