"""Whether dishes of a germination test agree: the sentence, and the picture with a dot for each dish."""

import itertools
import re
from dataclasses import asdict

import numpy as np
import pytest

from hilum.analyses.estimate import Estimate
from hilum.analyses.rounding import percent
from hilum.diagnosis import agreement, agreement_chart
from hilum.diagnosis.counted import Group
from hilum.diagnosis.gather import Dish
from hilum.report import lot_sheet, render
from hilum.stats import tolerance

NARROW = 340  # px of a plot on a screen of 390


def _group(*germinated, seeds=100.0, treatment="intact", experiment="germ", at=20.0):
    """Return a group of a diagnosis as read back: its dishes stood at 20 °C."""
    dishes = tuple(
        Dish(
            experiment=experiment,
            name=f"d{i}",
            key=("bag", treatment, at, ""),
            storage=(np.nan, np.nan),
            scored=True,
            ends={"germinated": float(n), "dead": seeds - n},
        )
        for i, n in enumerate(germinated)
    )
    found = agreement.agreements(Group(0, dishes[0].key, dishes))
    about = {"lot": "bag", "treatment": treatment, "temperature_c": at, "condition": ""}
    return about | {"sown": True, "replicates": [asdict(one) for one in found]}


def _finding(*groups):
    return agreement.finding(agreement.germination_tests(groups))


def _drawn(*groups):
    """Return the figure of a lot with the rows of its dots and of its tests."""
    (figure,) = agreement_chart.figures(groups)
    data = {layer["mark"]["type"]: layer["data"]["name"] for layer in figure.spec["layer"]}
    return figure, *(figure.spec["datasets"][data[mark]] for mark in ("point", "rect"))


# --- what is tolerated


def test_dishes_are_held_against_the_published_tolerance():
    # 90 % allows a range of 12 between four dishes of 100: 7 CFR 201.55(a)
    for counts, within in (((84, 96, 90, 90), True), ((83, 96, 91, 90), False)):
        (one,) = _group(*counts)["replicates"]
        assert (one["published"], one["within"]) == (True, within)
        assert one["tolerated"] == 0.12
        assert one["germinated"] == pytest.approx([n / 100 for n in counts])


def test_dishes_of_other_sizes_take_theory_and_unequal_or_single_ones_none():
    (one,) = _group(20, 21, 19, 20, seeds=25.0)["replicates"]
    assert not one["published"]
    # q·√(p q/n) with q = 3.984: Miles (1963)
    assert one["tolerated"] == pytest.approx(3.984 * 0.4 / 5, abs=1e-3)
    assert _group(20, seeds=25.0)["replicates"] == []
    assert agreement.agreements(None) == []


def test_dishes_of_few_seeds_have_no_tolerance_and_are_not_told_of():
    """A range of 223 points was printed as tolerated between dishes of one seed each."""
    single = _group(0, 1, 1, 0, 1, 0, seeds=1.0, treatment="single")
    assert single["replicates"] == []
    assert tolerance.tolerated(0.5, 4, 9) is None
    assert tolerance.tolerated(0.5, 4, 10).largest < 1
    other = _group(90, 91, 90, 90)
    assert _finding(single, other) == _finding(other)
    figure, *_ = _drawn(single, other)
    assert "single" not in render.as_json(figure.spec) + figure.description
    assert agreement_chart.figures([single]) == []


# --- the sentence


def test_a_sentence_says_how_many_tests_agree_and_which_does_not():
    fine, off = _group(90, 91, 90, 90), _group(60, 100, 90, 90, treatment="chipped", at=25.0)
    allows = "lie as close together as chance allows"
    assert _finding(fine) == f"The dishes of the germination test {allows}."
    assert _finding(fine, fine) == f"The dishes of both germination tests {allows}."
    assert _finding(fine, fine, fine) == f"The dishes of all 3 germination tests {allows}."
    # 85 %: 14 points between four dishes of 100, 7 CFR 201.55(a)
    assert _finding(fine, off) == (
        f"The dishes of 1 of 2 germination tests {allows}; those of chipped at 25 °C lie further apart: "
        "40 points where 14 are tolerated."
    )
    assert _finding(off) == (
        "The dishes of the germination test lie further apart than chance allows: 40 points where 14 are tolerated."
    )


def test_of_several_that_disagree_the_farthest_are_named_and_the_rest_counted():
    off = [_group(90 - n, 90 + n, 90, 90, treatment=f"t{n}") for n in (7, 8, 9, 10)]
    said = _finding(_group(90, 91, 90, 90), *off)
    assert "The dishes of 1 of 5 germination tests" in said
    assert re.findall(r"t\d+", said) == ["t10", "t9", "t8"]
    assert said.endswith("t8 at 20 °C (16 points where 12 are tolerated) and 1 more.")
    assert "t9 at 20 °C (18 points where 12 are tolerated) and t8" in _finding(off[1], off[2])


def test_a_range_just_beyond_the_tolerance_does_not_read_like_it():
    group = _group(60, 100, 90, 90)
    # as such figures could come from dishes of other sizes: both round to 34
    group["replicates"][0] |= {"range": 0.34, "tolerated": 0.3353}
    assert _finding(group).endswith(": 34.0 points where 33.5 are tolerated.")


def test_tests_of_the_same_seeds_are_told_apart_by_their_experiments():
    tests = agreement.germination_tests(
        [_group(90, 91, 90, 90), _group(60, 99, 90, 90, experiment="again"), _group(90, 90, at=5.0)]
    )
    assert [test.name for test in tests] == [
        "intact at 20 °C (experiment germ)",
        "intact at 20 °C (experiment again)",
        "intact at 5 °C",
    ]
    # the place of most tests is said once
    assert [test.label for test in tests] == ["intact (germ)", "intact (again)", "intact at 5 °C"]


# --- the picture


def test_all_dots_lie_in_the_shaded_range_where_dishes_agree_and_else_not():
    rng = np.random.default_rng(1)
    seen = set()
    for _ in range(60):
        seeds, dishes = rng.choice([10.0, 25, 50, 100]), rng.integers(2, 9)
        counts = rng.binomial(int(seeds), rng.beta(6, 3, dishes))
        figure, dots, (shaded,) = _drawn(_group(*counts, seeds=seeds))
        (one,) = _group(*counts, seeds=seeds)["replicates"]
        low, high = shaded["from"] - 1e-9, shaded["to"] + 1e-9
        assert all(low <= dot["share"] <= high for dot in dots) == one["within"]
        assert shaded["to"] - shaded["from"] == pytest.approx(min(one["tolerated"], 1.0))
        assert 0 <= shaded["from"] <= shaded["to"] <= 1
        assert ("further apart" in figure.title) == (not one["within"])
        seen.add(one["within"])
    assert seen == {True, False}


@pytest.mark.parametrize(
    "counts", [(90, 90, 90, 90), (0, 0, 0, 3), (90, 92, 94, 96), (50, 51, 51, 52, 90, 91)]
)
def test_no_dot_hides_another_on_a_narrow_screen(counts):
    _, dots, (shaded,) = _drawn(_group(*counts))
    row = agreement_chart._ROW
    across = 2 * np.sqrt(agreement_chart._DOT / np.pi)
    for one, other in itertools.combinations(dots, 2):
        away = np.hypot(NARROW * (one["share"] - other["share"]), row * (one["y"] - other["y"]))
        assert away > 0.6 * across
    for dot in dots:
        assert shaded["top"] * row <= dot["y"] * row - across / 2
        assert dot["y"] * row + across / 2 <= shaded["bottom"] * row


def test_the_picture_is_told_in_words_and_in_numbers():
    groups = [_group(84, 96, 90, 90), _group(10, 20, 10, 8, seeds=25.0, treatment="chipped")]
    figure, dots, _ = _drawn(*groups)
    for test in agreement.germination_tests(groups):
        shares = ", ".join(percent(share) for share in test.about["germinated"])
        assert f"{test.name}: {shares}" in figure.description
    assert "12 points apart, 12 tolerated" in figure.description
    # none is tolerated by theory where every seed germinated, or none: that says nothing
    assert _drawn(_group(0, 0, 0))[2][0]["figures"] == "all alike"
    assert [dot["told"] for dot in dots][:2] == [
        "dish d0 of intact at 20 °C: 84 % germinated",
        "dish d1 of intact at 20 °C: 96 % germinated",
    ]
    assert [row["germinated"] for row in figure.rows] == [84, 96, 90, 90, 40, 80, 40, 32]
    assert [(line["dishes"], line["by"], line["agree"]) for line in figure.table] == [
        ("4 × 100 seeds", "7 CFR 201.55(a)", True),
        ("4 × 25 seeds", "theory", False),
    ]
    assert len(figure.caption.split()) <= 45
    picture = render.picture(render.specification(figure))
    assert picture.count('aria-roledescription="point"') == len(dots)
    assert "NaN" not in picture


def test_of_many_tests_only_those_that_disagree_are_drawn_and_the_rest_counted():
    fine = [_group(90, 91, 90, 90, treatment=f"t{n}") for n in range(14)]
    figure, _, ranges = _drawn(*fine, _group(60, 100, 90, 90))
    assert [row["label"] for row in ranges] == ["intact"]
    assert "The dishes of 14 of 15 germination tests" in figure.title
    assert "Not drawn: tests whose dishes agree (14)." in figure.caption
    assert agreement_chart.figures(fine) == []
    assert len(_drawn(*fine[:10])[2]) == 10


def test_the_sheet_says_what_no_picture_does_and_leads_to_the_experiment():
    names = ("thousand_seed_mass", "mass_variation", "moisture_wet", "moisture_dry")
    about = {"lot": "bag", "status": "not_identified", "method": "weighings", "needs": "Weigh."}
    nothing = dict.fromkeys(("mass", "moisture", "given", "typed_apart"))
    estimates = [Estimate(quantity=name, **about) for name in names]
    sheets = lot_sheet.Sheets(estimates, {"bag": nothing})
    few, many = [_group(90, 91)] * 3, [_group(90, 91)] * 11
    assert sheets.of_lot("bag", few)["dishes"] is None
    assert sheets.of_lot("bag", many)["dishes"] == _finding(*many)
    assert sheets.of_lot("bag", many)["remarks"] == []
    off = _group(60, 100, 90, 90, experiment="sand & peat")
    (said,) = sheets.of_lot("bag", [off])["remarks"]
    assert '<a href="../experiments/sand%20%26%20peat.html">intact at 20' in said
