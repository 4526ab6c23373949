"""The straight line through germination rates gives what was published, and says when it gives nothing."""

import numpy as np
import pytest

from hilum.stats import regression

# Harrington & Minges (1954), Vegetable Seed Germination, days to emergence at whole °C
ONION = ([5, 10, 15, 20, 25], [31, 13, 7, 5, 4])
TOMATO = ([10, 15, 20, 25], [43, 14, 8, 6])
PARSNIP = ([5, 10, 15, 20, 25], [57, 27, 19, 14, 15])
LIMA_BEAN = ([15, 20, 25], [31, 18, 7])


def _line(data):
    temperature, days = (np.array(column, dtype=float) for column in data)
    return regression.rate_line(temperature, 1 / days)


def test_beetle_threshold_as_published():
    # Honek, Jarosik & Martinkova (2003), Eur. J. Entomol. 100:295-300: 7.1 °C and 304.6 day-degrees
    line = _line(([18, 21.5, 25, 28], [28.2, 21.6, 16.1, 15.0]))
    assert line.base == pytest.approx(7.1, abs=0.05)
    assert line.thermal_time == pytest.approx(304.6, abs=0.05)
    # the abstract was read in a library catalogue, volume and pages are from memory; the data give these digits
    assert line.base == pytest.approx(7.0951, abs=6e-5)
    assert line.thermal_time == pytest.approx(304.555, abs=6e-4)
    # own arithmetic on the published data
    assert line.base_error == pytest.approx(1.8949, abs=5e-5)
    assert line.thermal_time_error == pytest.approx(35.056, abs=5e-4)
    assert line.r_squared == pytest.approx(0.97419, abs=5e-6)
    assert (line.low, line.high) == pytest.approx((-8.848, 12.619), abs=5e-4)


def test_teaching_example_as_printed():
    # L. Coop, Oregon State University, Ent 442/542 Lab 1 (2006), °F; the page rounds on the way
    line = _line(([50, 60, 70, 80], [40, 20, 13, 9]))
    assert line.base == pytest.approx(41.96, abs=0.05)
    assert line.thermal_time == pytest.approx(350.8, abs=0.5)
    assert line.slope == pytest.approx(0.00285, abs=5e-6)
    # own arithmetic on the printed data, not rounded on the way
    assert line.base == pytest.approx(41.9476, abs=6e-5)
    assert line.thermal_time == pytest.approx(350.562, abs=6e-4)
    assert line.base_error == pytest.approx(1.3482, abs=6e-5)
    assert line.r_squared == pytest.approx(0.994492, abs=6e-7)
    assert (line.low, line.high) == pytest.approx((34.618, 46.786), abs=5e-4)


@pytest.mark.parametrize(
    ("crop", "base", "error", "time", "low", "high"),
    [
        (ONION, 2.431, 0.460, 89.52, 0.822, 3.778),
        (TOMATO, 7.518, 0.378, 103.35, 5.656, 8.968),
        (PARSNIP, -3.495, 3.870, 376.97, -34.76, 4.42),
    ],
)
def test_vegetable_table(crop, base, error, time, low, high):
    # regression values by own arithmetic on the published table
    line = _line(crop)
    assert line.base == pytest.approx(base, abs=6e-4)
    assert line.base_error == pytest.approx(error, abs=6e-4)
    assert line.thermal_time == pytest.approx(time, abs=6e-3)
    assert line.low == pytest.approx(low, abs=6e-3)
    assert line.high == pytest.approx(high, abs=6e-3)
    assert line.region == "bounded"


def test_onion_agrees_with_the_published_threshold():
    # Brewster (2008), Onions and Other Vegetable Alliums, ch. 4: Tb 2.5 °C from other data of the crop
    line = _line(ONION)
    assert abs(line.base - 2.5) < line.base_error


def test_parsnip_is_doubted_and_onion_is_not():
    assert regression.doubts(_line(ONION)) == ()
    below_zero, loose = regression.doubts(_line(PARSNIP))
    assert "below 0 °C" in below_zero
    assert "10 %" in loose


def test_lima_bean_has_no_finite_interval():
    line = _line(LIMA_BEAN)
    # own arithmetic on the published table
    assert line.base == pytest.approx(13.05, abs=6e-3)
    assert line.base_error == pytest.approx(2.69, abs=6e-3)
    assert line.region == "unbounded"
    assert line.low is None
    assert line.high is None
    assert any("no end" in sentence for sentence in regression.doubts(line))


def test_two_points_have_a_base_but_no_interval():
    line = _line(([10, 20], [20, 5]))
    assert line.base == pytest.approx(20 / 3)
    assert line.region == "unknown"
    assert line.base_error is None


def test_a_falling_rate_has_no_base():
    line = _line(([10, 20, 30], [4, 5, 7]))
    assert line.base is None
    assert line.region == "unbounded"
    assert "meets no base" in regression.doubts(line)[0]


def test_fieller_ends_satisfy_their_equation():
    temperature, days = (np.array(column, dtype=float) for column in TOMATO)
    line = _line(TOMATO)
    x, y = temperature - temperature.mean(), 1 / days
    noise = ((y - y.mean() - line.slope * x) ** 2).sum() / 2
    t2 = 4.302652729911275**2  # t quantile 0.975 with 2 df, from any table
    for end in (line.low, line.high):
        u = end - temperature.mean()
        height = (y.mean() + line.slope * u) ** 2
        assert height == pytest.approx(t2 * noise * (1 / 4 + u**2 / (x**2).sum()), rel=1e-9)


def test_an_open_end_where_the_slope_is_unsure():
    line = regression.rate_line(
        np.array([10.0, 15, 20, 25]), np.array([0.102, 0.108, 0.106, 0.112])
    )
    assert line.region == "open below"
    assert line.low is None
    assert line.high < line.base + 1e3


def test_crossing_time_is_even_between_inspections():
    times, counts = np.array([24.0, 48, 72]), np.array([2.0, 4, 0])
    assert regression.crossing_time(times, counts, 1) == pytest.approx(12)
    assert regression.crossing_time(times, counts, 4) == pytest.approx(36)
    assert regression.crossing_time(times, counts, 6) == pytest.approx(48)
    assert regression.crossing_time(times, counts, 6.5) is None
