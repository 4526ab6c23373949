"""Whether to go on inspecting: chances that come true in simulated tests."""

import numpy as np
import pytest

from hilum.analyses.dishes import assemble
from hilum.analyses.simulated import as_table
from hilum.plan.running import stopping
from hilum.stats import proportions
from tests import generator

DAYS = tuple(24.0 * day for day in range(1, 29))


def counted(fractions, t50_d, studies, seed):
    """Return newly germinated seeds (studies, treatments, dishes, days) from the independent generator."""
    truth = generator.Dishes(
        t50_h=tuple(24 * t for t in t50_d),
        fraction=fractions,
        sd_log=0.5,
        inspections_h=DAYS,
        dish_correlation=0.03,
    )
    return generator.counts(truth, studies=studies, rng=np.random.default_rng(seed))


def tables(counts, day):
    """Return the checked tables of one study as they are on a day: no dish is finished."""
    dishes, rows = [], []
    for treatment, of_treatment in enumerate(counts):
        for number, newly in enumerate(of_treatment):
            name = f"{treatment}-{number}"
            own = {"dish": name, "lot": "lot", "treatment": f"t{treatment}"}
            dishes.append(own | {"temperature_c": 25.0, "seeds": 25.0})
            rows += [
                {"dish": name, "elapsed_h": hour, "germinated": float(n)}
                for hour, n in zip(DAYS[:day], newly[:day], strict=True)
            ]
    return {"dishes": as_table("dishes", dishes), "counts": as_table("counts", rows)}


def outlook(counts, day, seed=1):
    return stopping.outlook(
        tables(counts, day),
        days=7,
        unknown=0.05,
        confidence=0.95,
        rng=np.random.default_rng(seed),
    )


def surely_differ(germinated):
    """Return whether two treatments surely differ, from seeds germinated in each dish, (2, dishes)."""
    groups = proportions.Groups(germinated.astype(float), np.full(germinated.shape, 25.0))
    rho = proportions.correlation(groups, unknown=0.05)
    threshold = proportions.spread(groups, rho).shared_threshold(0.95)
    low, high = proportions.wilson(groups.hits.sum(-1), groups.total, threshold)
    told = (groups.fraction, low, high)
    _, down, up = proportions.difference(*((x[0], x[1]) for x in told))
    return 1 if down > 0 else -1 if up < 0 else 0


def test_answers_change_as_often_as_foretold():
    studies = counted((0.55, 0.8), (9, 7), 40, seed=2)
    foretold, came, more = [], [], []
    for counts in studies:
        found = outlook(counts, 12)
        now, then = counts[..., :12].sum(-1), counts[..., :19].sum(-1)
        foretold.append(found.changes)
        came.append(surely_differ(now) != surely_differ(then))
        more += [
            (g.low <= a - b <= g.high, g.more - (a - b))
            for g, a, b in zip(found.groups, then.sum(-1), now.sum(-1), strict=True)
        ]
    # of 40 studies: a chance of 0.15 comes true within 0.06, twice that is allowed
    assert abs(np.mean(foretold) - np.mean(came)) < 0.12
    held, off = np.mean(more, axis=0)
    assert held > 0.85
    # seeds of 100
    assert abs(off) < 3


def test_a_test_that_is_over_is_not_worth_a_week():
    counts = counted((0.6, 0.9), (3, 3), 1, seed=3)[0]
    found = outlook(counts, 21)
    assert found.going
    assert found.changes < 0.05
    assert all(g.more < 1 for g in found.groups)


def test_early_in_a_test_much_is_still_to_come():
    counts = counted((0.9,), (9,), 1, seed=4)[0]
    found = outlook(counts, 7)
    assert found.groups[0].high > 30
    assert found.changes > 0.5


def test_nothing_can_be_said_before_the_first_inspection():
    counts = counted((0.9,), (9,), 1, seed=5)[0]
    assert outlook(counts, 0) is None


def test_counts_of_dishes_whose_seeds_are_alike_tell_less():
    """The log likelihood is divided by the design effect of dishes: 1 + (m − 1)·rho with m seeds germinated in each."""
    dishes = assemble(tables(counted((0.9,), (6,), 1, seed=6)[0], 12)).first_phase()
    one, alike = (stopping._told(dishes.cells, dishes, rho) for rho in (0.0, 0.3))
    each = dishes.cells.germinated.mean()
    # two points of the grid that differ in log t50 alone have the same prior
    first, second = (0, 10, 20), (40, 10, 20)
    assert one[second] - one[first] > 10
    apart = (one[second] - one[first]) / (alike[second] - alike[first])
    assert apart == pytest.approx(1 + (each - 1) * 0.3)


def test_a_single_seed_germinated_in_each_dish_is_not_alike_with_itself():
    dishes = assemble(tables(np.eye(28)[None, :4], 12)).first_phase()
    one, alike = (stopping._told(dishes.cells, dishes, rho) for rho in (0.0, 0.9))
    np.testing.assert_allclose(one, alike)
