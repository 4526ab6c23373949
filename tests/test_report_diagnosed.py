"""The diagnosis as home and the pages of lots tell it."""

from types import SimpleNamespace

import pytest

from hilum.analyses.estimate import Estimate
from hilum.diagnosis import chart
from hilum.report import diagnosed as told
from hilum.report.elsewhere import told_elsewhere
from tests.test_diagnosis import UNKNOWN, _dish, _tables, diagnosed


def _drawing(*dishes):
    return diagnosed(_tables(*dishes)).drawing


def _chipped(name, degrees, germinated, dead, seeds=50):
    left = [("dead", dead, UNKNOWN), ("fresh", seeds - germinated - dead, UNKNOWN)]
    return [_dish(f"{name}{i}", "chipped", seeds, germinated, left, degrees) for i in range(4)]


def test_home_passes_over_places_that_did_about_as_well_as_the_best():
    """85 of 100 at 20 °C beside 90 at 25 °C were told as "dead seed: use other seed"."""
    best, alike, cold = (
        _chipped(name, t, n, dead)
        for name, t, n, dead in (("a", 25.0, 46, 3), ("b", 20.0, 43, 7), ("c", 10.0, 0, 3))
    )
    groups = _drawing(*best, *alike, *cold)["groups"]
    by_place = {g["temperature_c"]: g for g in groups}
    assert by_place[20.0]["named"] == ["nonviable"]
    assert by_place[20.0]["next_action"].startswith("Nothing to mend")
    table = told.home_table(groups, "lot")
    assert "at 20 °C" not in table.replace("\N{NO-BREAK SPACE}", " ")
    assert "0 %" in table.replace("\N{NO-BREAK SPACE}", " ")


def test_a_lot_that_falls_short_is_told_with_what_held_the_others_back():
    drawing = _drawing(*_chipped("a", 25.0, 24, 25))
    said = " ".join(told.lot_words(drawing["lots"][0], drawing["groups"]))
    assert "it surely falls short" in said
    assert "What held most of the others back: dead seed, 51" in said


def test_a_bar_is_as_long_as_its_seeds_and_its_labels_are_the_figures_of_the_table():
    acid = [
        _dish(f"a{i}", "acid-short", 25, 21, [("hard", 3, 3.0), ("dead", 1, UNKNOWN)])
        for i in range(4)
    ]
    groups = _drawing(*acid, *_chipped("c", 25.0, 44, 6))["groups"]
    for group in groups:
        parts = chart._parts(group)
        assert parts[-1]["end"] == pytest.approx(1.0)
        for part in parts:
            own = next(c for c, title in chart.TITLES.items() if title == part["part"])
            if own in group["causes"] and part["share"] and own != "unresolved":
                bounds = group["causes"][own]
                middle = 50 * (bounds["least"] + bounds["most"])
                assert float(part["label"].rstrip("%")) == pytest.approx(middle, abs=0.51)


def test_figures_that_add_up_to_more_than_the_seeds_make_no_longer_bar():
    """84 germinated, 10 behind closed coats, 9 dead as the lot's reference has them: 103 of 100 were drawn."""
    group = _drawing(*_chipped("c", 25.0, 42, 8))["groups"][0]
    causes = group["causes"] | {
        name: {"least": share, "most": share, "low": 0.0, "high": 0.3}
        for name, share in (("impermeable_coat", 0.10), ("nonviable", 0.09))
    }
    parts = chart._parts(group | {"causes": causes})
    assert sum(part["share"] for part in parts) > 1.02
    assert parts[-1]["end"] == pytest.approx(1.0)
    assert [part["label"] for part in parts if part["share"]] == [
        f"{figure}\N{NO-BREAK SPACE}%" for figure in (84, 10, 9)
    ]


def _experiment(name, **estimates):
    own = [
        Estimate(
            lot="L",
            treatment="chipped",
            quantity=quantity,
            value=value,
            low=1.0,
            high=200.0,
            unit="°C",
            status="bracketed" if value is None else "estimated",
            method="m",
            needs="more" if value is None else "",
        )
        for quantity, value in estimates.items()
    ]
    result = SimpleNamespace(estimates=own)
    return SimpleNamespace(name=name, title=name.title(), results=(result,))


def test_what_another_experiment_of_the_study_settled_is_said_beside_what_stayed_open():
    coarse = _experiment("coarse", base_temperature=None, t50=None)
    fine = _experiment("fine", base_temperature=10.4, t50=100.0)
    assert told_elsewhere(coarse, [coarse]) == []
    open_as_well = _experiment("twin", base_temperature=None)
    assert told_elsewhere(coarse, [coarse, open_as_well]) == []
    assert told_elsewhere(fine, [coarse, fine]) == []
    (said,) = told_elsewhere(coarse, [coarse, fine])
    assert said.startswith('Told by <a href="experiments/fine.html">Fine</a>: base temperature of')
    assert "10" in said
    assert "t50" not in said
