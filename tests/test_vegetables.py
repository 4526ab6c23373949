"""Days to emergence of vegetables, taken as dishes of seeds through the temperature analysis and its page.

Harrington and Minges 1954, Vegetable Seed Germination (California mimeographed leaflet), days at whole °C; read in
reprints, of which some differ by a day. The spread of seeds about the printed day is invented.
"""

import re

import numpy as np
import pytest
from scipy.special import ndtri

from hilum.settings import Settings
from tests.test_dishes import counts, table
from tests.test_report_analyses import _page as page
from tests.test_report_analyses import _result as fitted_result

DAYS = {
    "onion": {5: 31, 10: 13, 15: 7, 20: 5, 25: 4},
    "parsnip": {5: 57, 10: 27, 15: 19, 20: 14, 25: 15},
    "lima bean": {15: 31, 20: 18, 25: 7},
}
HALF_DAYS = np.arange(0, 90.5, 0.5)


@pytest.fixture(scope="module")
def results():
    """Return the analysis of each crop, one dish of 50 seeds to a temperature."""
    return {crop: _result_of(days) for crop, days in DAYS.items()}


def _result_of(days):
    spread = np.exp(0.1 * ndtri((np.arange(45) + 0.5) / 45))
    dishes, seen = [], []
    for degrees, day in days.items():
        name = f"at {degrees}"
        dishes.append({"dish": name, "seeds": 50.0, "temperature_c": float(degrees)})
        newly = np.histogram(day * spread, HALF_DAYS)[0].astype(float)
        seen += counts(*zip(24 * HALF_DAYS[1:], newly, strict=True), dish=name)
    tables = {"dishes": table("dishes", *dishes), "counts": table("counts", *seen)}
    return fitted_result("temperature", tables, Settings(study="."))


def half(result):
    (line,) = (row for row in result.rows["lines"] if row["germinated_share"] == "0.5")
    return line


def test_onion_is_not_doubted_and_has_its_base(results):
    # 2.431 (0.460) °C, own arithmetic on the printed days; 2.5 °C in Brewster 2008, ch. 4, from other data
    line = half(results["onion"])
    assert float(line["base_c"]) == pytest.approx(2.431, abs=0.46)
    assert line["doubts"] == ""
    assert "below 0 °C" not in page(results["onion"])


def test_parsnip_is_flagged_on_its_page(results):
    # the line through all five days meets -3.495 °C; without 25 °C, which is past the optimum, still below 0
    line = half(results["parsnip"])
    assert float(line["base_c"]) < 0
    assert "below 0 °C" in line["doubts"]
    told = re.sub("<[^>]+>", " ", page(results["parsnip"])).replace("\N{NO-BREAK SPACE}", " ")
    assert "The base lies below 0 °C, where hydrated seeds freeze." in told


def test_lima_bean_has_no_finite_interval_on_its_page(results):
    line = half(results["lima bean"])
    assert line["fieller"] != "bounded"
    assert line["fieller_low_c"] == ""
    assert "the interval has no end" in line["doubts"]
    assert "the interval has no end" in page(results["lima bean"])
