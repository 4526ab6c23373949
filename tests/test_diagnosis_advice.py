"""What the diagnosis advises: opened seeds that may have been hurt, what is left where nearly all germinated, and where to sow."""

from dataclasses import replace

import numpy as np

from tests import sown_lots
from tests.calibration.causes import ACID, CHIPPED, INTACT
from tests.sown_lots import Lot, Trial
from tests.test_diagnosis import UNKNOWN, _dish, _tables, diagnosed, margin, simulated

HURT = replace(CHIPPED, kills=0.45)


def test_seeds_hurt_when_they_were_opened_are_not_called_dead_seed_alone():
    truth, groups = simulated(Trial(lot=Lot(), sowings=(HURT, INTACT)), seed=1, studies=40)
    assert truth["harmed"] > 0.3
    both = [{"nonviable", "harmed"} <= set(group["named"]) for group in groups]
    assert np.mean(both) > 0.9
    for group in (g for g, told in zip(groups, both, strict=True) if told):
        for cause in ("nonviable", "harmed"):
            low, high = (group["causes"][cause][end] for end in ("low", "high"))
            assert low <= truth[cause] <= high
        assert "Opened and untreated seeds disagree" in group["disagreement"]
        assert "take up water slowly" in group["next_action"]


def test_hand_opened_seeds_of_a_poor_lot_are_seldom_disputed():
    trial = Trial(lot=Lot(dead=0.4), sowings=(CHIPPED, INTACT))
    _, groups = simulated(trial, seed=2)
    disputed = [bool(group["disagreement"]) for group in groups]
    assert np.mean(disputed) <= 0.025 + margin(0.025, len(disputed))
    assert np.mean([group["named"] == ["nonviable"] for group in groups]) > 0.9


def test_an_acid_is_not_acquitted_by_seeds_that_were_hurt_when_they_were_opened():
    deadly = replace(ACID, kills=0.45)
    _, groups = simulated(Trial(lot=Lot(), sowings=(deadly, HURT, INTACT)), seed=3, studies=24)
    assert np.mean([{"nonviable", "harmed"} <= set(group["named"]) for group in groups]) > 0.9


def _first(*dishes):
    return diagnosed(_tables(*dishes)).drawing["groups"][0]


def test_where_nearly_all_living_seeds_germinated_what_is_left_decides_the_advice():
    chipped = [_dish(f"c{i}", "chipped", 50, 45, [("dead", 5, UNKNOWN)]) for i in range(4)]

    def advice(left):
        acid = [_dish(f"a{i}", "acid-short", 50, 42, left) for i in range(4)]
        return _first(*acid, *chipped)["next_action"]

    hard = advice([("hard", 4, 4.0), ("dead", 4, UNKNOWN)])
    assert (
        "8 % stayed hard: open the coats by hand, or a little further if that does no harm" in hard
    )
    fresh = advice([("fresh", 4, UNKNOWN), ("dead", 4, UNKNOWN)])
    assert "8 % stayed fresh: sow the same treatment at another temperature" in fresh
    assert "brings the few dead ones to life" in advice([("dead", 8, UNKNOWN)])
    poor = [_dish(f"p{i}", "chipped", 50, 30, [("dead", 20, UNKNOWN)]) for i in range(4)]
    assert "other seed is all that could do better" in _first(*poor)["next_action"]


def test_of_a_lot_with_many_dead_seeds_the_way_that_opens_the_others_is_named_first():
    """Closed coats hid the dead: "use other seed" alone would have thrown away the half that lives."""
    chipped = [_dish(f"c{i}", "chipped", 25, 10, [("dead", 15, UNKNOWN)]) for i in range(4)]

    def told(alive):
        intact = [_dish(f"i{i}", "intact", 25, 1, [("hard", 24, alive)]) for i in range(4)]
        return diagnosed(_tables(*intact, *chipped)).drawing["groups"]

    poor, opened = told(alive=7.0)
    assert poor["named"] == opened["named"] == ["nonviable"]
    assert poor["next_action"].startswith("Treat them as chipped: 40 % germinated there.")
    assert "use other seed" in poor["next_action"]
    assert "as chipped" not in opened["next_action"]
    close, _ = told(alive=9.0)
    assert set(close["named"]) == {"nonviable", "impermeable_coat"}
    assert "as chipped: 40 % germinated there. Sow more seeds" in close["next_action"]


def test_a_few_seeds_that_stayed_fresh_send_nobody_to_a_dormancy_break():
    """Four of 100, beside 80 that germinated, were told to be stored moist, though the lot needs none of it."""
    left = [("hard", 1, 1.0), ("fresh", 2, 2.0), ("dead", 7, UNKNOWN)]
    acid = [_dish(f"a{i}", "acid-short", 50, 40, left) for i in range(4)]
    chipped = [_dish(f"c{i}", "chipped", 50, 46, [("dead", 4, UNKNOWN)]) for i in range(4)]
    told = _first(*acid, *chipped)
    assert "other_dormancy" in told["named"]
    assert told["next_action"].endswith(
        "Sow more seeds: the causes are too close to be told apart."
    )


def test_what_may_wait_in_a_lot_has_the_limit_that_its_seeds_have_on_the_page():
    left = [("fresh", 2, 2.0), ("dead", 2, UNKNOWN)]
    drawn = diagnosed(_tables(*[_dish(f"c{i}", "chipped", 50, 46, left) for i in range(4)])).drawing
    assert drawn["lots"][0]["waiting_at_most"] == drawn["groups"][0]["fates"]["fresh"]["high"] > 0.1


def test_of_places_that_do_alike_the_one_with_most_seeds_is_advised():
    """The highest of six like shares stood on home, at 15 °C where germination is slow."""

    def dishes(degrees, many, germinated):
        left = [("fresh", 25 - germinated, UNKNOWN)]
        names = [f"{degrees}-{i}" for i in range(many)]
        return [_dish(n, "chipped", 25, germinated, left, float(degrees)) for n in names]

    cold, cool, warm = dishes(10, 4, 0), dishes(15, 4, 23), dishes(25, 8, 22)
    drawn = diagnosed(_tables(*cold, *cool, *warm)).drawing
    assert "Sow at 25 °C" in drawn["groups"][0]["next_action"]
    assert [g["temperature_c"] for g in drawn["groups"] if g["at_its_best"]] == [25.0]
    assert drawn["lots"][0]["shortfall"]["place"][0] == "25"


def test_a_place_with_fewer_seeds_is_advised_where_it_is_surely_better():
    rng = np.random.default_rng(4)
    bad, good = (replace(CHIPPED, temperature_c=t, ready=r) for t, r in ((10.0, 0.3), (25.0, 1.0)))
    trial = Trial(lot=Lot(), sowings=(replace(bad, dishes=8), good))
    drawn = diagnosed(sown_lots.tables(trial, rng=rng)).drawing
    assert [g["temperature_c"] for g in drawn["groups"] if g["at_its_best"]] == [25.0]


def test_seeds_found_dead_in_hard_coats_are_counted_once_in_the_evidence():
    group = _first(_dish("a", "intact", 100, 8, [("hard", 89, 84.0), ("dead", 3, UNKNOWN)]))
    says = group["evidence"][0]["says"]
    assert "8 germinated, 89 hard (5 of them dead inside), 0 fresh, 3 dead or empty" in says
