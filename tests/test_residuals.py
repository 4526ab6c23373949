"""Residuals of dishes: by hand, and on simulated dishes whose curve is known."""

import numpy as np
import pytest
from scipy.stats import binom, norm

from hilum.analyses import dish_chart
from hilum.stats import residuals
from hilum.stats.interval_censored import Cells
from hilum.stats.residuals import Leverage
from tests import generator

DAYS = tuple(24.0 * d for d in range(1, 15))


def _cells(count, seeds):
    """Return dishes (J, K) inspected daily."""
    J, K = count.shape
    edges = np.broadcast_to(24.0 * np.arange(K + 1), (J, K + 1))
    left = seeds - count.sum(-1, keepdims=True)
    return Cells(edges[:, :-1], edges[:, 1:], count.astype(float), edges[:, -1:], left)


def _chance(hours, truth):
    """Return the log-logistic curve that the generator draws its times from."""
    with np.errstate(divide="ignore"):
        z = (np.log(hours) - np.log(truth.t50_h[0])) / truth.sd_log
    # a logistic distribution of standard deviation 1 has scale √3/π
    return truth.fraction[0] / (1 + np.exp(-z * np.pi / np.sqrt(3)))


def _of(count, seeds, truth, leverage=0.0):
    cells, part = _cells(count, seeds), np.full(len(count), leverage)
    before, after = _chance(cells.start_h, truth), _chance(cells.end_h, truth)
    return residuals.of_dishes(cells, before, after, Leverage(part, part))


def _drawn(truth, dishes, rng):
    made = generator.counts(truth, studies=dishes // truth.dishes, rng=rng)
    return made.reshape(-1, len(truth.inspections_h))


def test_the_number_is_the_middle_of_its_binomial_chance():
    after = np.array([[0.2, 0.6], [0.2, 0.6]])
    cells = _cells(np.array([[2, 9], [0, 3]]), 20.0)
    alone = Leverage(np.array([0.0, 0.75]), np.zeros(2))
    found = residuals.of_dishes(cells, after - 0.2, after, alone)
    by_hand = [norm.ppf(binom.cdf(k - 1, 20, 0.6) + binom.pmf(k, 20, 0.6) / 2) for k in (11, 3)]
    # a dish that takes up three quarters of its curve lies half as far from it as from the truth
    assert found.number == pytest.approx([by_hand[0], 2 * by_hand[1]])


def test_the_time_is_the_mean_place_of_the_seeds_that_germinated():
    # cells of chance ½, ¼, ¼: places ¼, ⅝, ⅞; variance of one seed by hand
    before, after = np.array([[0.0, 0.4, 0.6]]), np.array([[0.4, 0.6, 0.8]])
    cells = _cells(np.array([[1, 0, 3]]), 10.0)
    found = residuals.of_dishes(cells, before, after, Leverage(np.zeros(1), np.zeros(1)))
    mean, places, chance = (0.25 + 3 * 0.875) / 4, np.array([0.25, 0.625, 0.875]), [0.5, 0.25, 0.25]
    assert places @ chance == pytest.approx(0.5)
    variance = ((places - 0.5) ** 2) @ chance
    assert found.time[0] == pytest.approx((mean - 0.5) / np.sqrt(variance / 4))


def test_by_chance_alone_one_dish_in_twenty_lies_outside_the_limit():
    truth = generator.Dishes(inspections_h=DAYS)
    found = _of(_drawn(truth, 2000, np.random.default_rng(1)), truth.seeds, truth)
    for values in (found.number, found.time):
        assert abs(values.mean()) < 0.08
        assert 0.93 < values.std() < 1.05
        assert 0.030 < (np.abs(values) > residuals.LIMIT).mean() < 0.060


def test_dishes_that_differ_lie_outside_more_often():
    truth = generator.Dishes(inspections_h=DAYS, dish_sd_log_time=0.1, dish_sd_logit=0.6)
    found = _of(_drawn(truth, 1000, np.random.default_rng(2)), truth.seeds, truth)
    assert (np.abs(found.number) > residuals.LIMIT).mean() > 0.15
    assert (np.abs(found.time) > residuals.LIMIT).mean() > 0.15


def test_what_the_data_cannot_tell_is_no_number():
    after = np.array([[0.2, 0.4], [0.2, 0.4], [0.0, 0.0]])
    cells = _cells(np.array([[0, 0], [2, 3], [0, 0]]), 10.0)
    found = residuals.of_dishes(
        cells, after / 2, after, Leverage(np.array([0.5, 1.0, 0.5]), np.array([0.5, 1.0, 0.5]))
    )
    assert np.isnan(found.time).tolist() == [True, True, True]  # none came; alone on its curve; 0
    assert np.isnan(found.number).tolist() == [False, True, False]
    assert found.number[2] == 0  # none was expected, and none came


def _dish(name, number, time=0.0):
    seen = {"hours": [24.0, 48.0], "seen": [0.1, 0.5], "fitted": [0.2, 0.4]}
    return {"dish": name, "chamber": "", "seeds": 20.0, "number": number, "time": time, **seen}


def test_the_caption_counts_the_dishes_outside_and_says_whether_that_is_many():
    few = [_dish(f"d{i}", 0.1 * i) for i in range(20)]
    (made,) = dish_chart.figures(few, lambda _: "all")
    assert made.caption.startswith("0 of 20 dishes lie outside ±2 in how many germinated, 0 of 20")
    assert "no more than chance alone leaves there" in made.caption
    (made,) = dish_chart.figures([*few, *(_dish(f"x{i}", -3.0) for i in range(5))], lambda _: "all")
    assert made.caption.startswith("5 of 25")
    assert "is more than chance alone leaves there" in made.caption
    assert made.spec["params"][0]["value"] == [{"dish": "x0"}]
    assert len(made.rows) == 2 * 25
    assert len(made.table) == 25


def test_a_dish_alone_on_its_curve_is_not_drawn():
    assert dish_chart.figures([_dish("a", None, None)], lambda _: "all") == []


def test_a_chamber_of_many_dishes_takes_several_rows_of_the_map():
    dishes = [_dish(f"d{i}", 0.5) | {"chamber": "C1"} for i in range(10)]
    (made,) = dish_chart.figures(dishes, lambda _: "all")
    held = next(rows for rows in made.spec["datasets"].values() if "row" in rows[0])
    assert [row["row"] for row in held] == ["C1"] * 8 + ["C1 (2)"] * 2
