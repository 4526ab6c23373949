"""What must not matter does not: order of rows, names, units of time, and inspections that found nothing."""

import re
from datetime import UTC, datetime, timedelta
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hilum.analyses.imbibition import model as imbibition
from hilum.analyses.time_course import model as time_course
from hilum.stats import germination_curve
from hilum.stats.families import FAMILIES
from hilum.stats.interval_censored import Cells
from hilum.tables import checked
from tests import raw
from tests.faults import curves, nonsense
from tests.faults.fits import SETTINGS
from tests.faults.ground import written

FEW = settings(max_examples=10, deadline=None, derandomize=True)
SHUFFLE = st.randoms(use_true_random=False)
SEEDS = st.integers(0, 10**6)
SOWN = datetime(2024, 5, 1, 9, tzinfo=UTC)


def _estimates(found, names=lambda text: text):
    """Return every number of a fit by what it is, whatever the order."""
    return sorted(
        (e.lot, e.treatment, e.quantity, str(e.at), e.versus, e.status, names(e.needs), _numbers(e))
        for e in found.estimates
    )


def _numbers(e):
    return tuple("" if x is None else f"{x:.6g}" for x in (e.value, e.low, e.high))


def _renamed(table, column, rename):
    return table | {column: np.array([rename(name) for name in table[column].tolist()])}


def _taken(table, rows):
    return {name: values[rows] for name, values in table.items()}


@FEW
@given(seed=SEEDS, order=SHUFFLE)
def test_time_courses_do_not_hang_on_names_or_order_of_dishes(seed, order: Random):
    tables = nonsense.time_courses(np.random.default_rng(seed), 4)
    plain = time_course.fit(tables, settings=SETTINGS, rng=np.random.default_rng(1))
    other = {
        name: _renamed(table, "dish", lambda dish: f"dish no. {dish[::-1]}")
        if "dish" in table
        else table
        for name, table in tables.items()
    }
    rows = list(range(len(other["dishes"]["dish"])))
    order.shuffle(rows)
    # of two treatments the second is compared with the first
    rows.sort(key=lambda row: (other["dishes"]["lot"][row], other["dishes"]["treatment"][row]))
    other["dishes"] = _taken(other["dishes"], rows)
    again = time_course.fit(other, settings=SETTINGS, rng=np.random.default_rng(1))
    assert _estimates(again) == _estimates(plain)


@FEW
@given(seed=SEEDS)
def test_imbibition_does_not_hang_on_names(seed):
    tables = nonsense.weighings(np.random.default_rng(seed), 1)
    plain = imbibition.fit(tables, settings=SETTINGS, rng=np.random.default_rng(1))
    table = _renamed(tables["weighings"], "seed", lambda seed: f"№ {seed}")
    again = imbibition.fit({"weighings": table}, settings=SETTINGS, rng=np.random.default_rng(1))
    assert _estimates(again) == _estimates(plain)


def _counts(style, hours, newly):
    """Return counts.csv of one dish with its times in hours, days, or on the clock somewhere."""
    head = {"h": "elapsed_h", "d": "elapsed_d"}.get(style, "inspected_at")
    if style in ("h", "d"):
        times = [repr(hour / (24 if style == "d" else 1)) for hour in hours]
    else:
        zone = timedelta(hours=int(style))
        clock = [SOWN + timedelta(hours=hour) + zone for hour in hours]
        times = [f"{at:%Y-%m-%dT%H:%M:%S}{int(style):+03d}:00" for at in clock]
    return written(
        [["dish", head, "germinated"], *(["d1", t, n] for t, n in zip(times, newly, strict=True))]
    )


def _read(folder, changes):
    study = raw.write(folder, changes)
    assert raw.run(study) == []
    table = checked.read_checked(study.checked / "germ/counts.csv", "counts")
    return table["elapsed_h"].tolist(), table["germinated"].tolist()


@FEW
@given(
    hours=st.lists(st.integers(1, 2000), min_size=1, max_size=8, unique=True).map(sorted),
    style=st.sampled_from(["d", "0", "2", "-11", "14"]),
    seed=SEEDS,
)
def test_hours_days_and_clock_times_are_the_same_inspections(tmp_path_factory, hours, style, seed):
    alone = dict.fromkeys(f for f in raw.FILES if f.startswith("germ/") and f.endswith(".csv"))
    alone["germ/dishes.csv"] = (
        f"dish,lot,treatment,temperature_c,seeds,sown_at\nd1,A,intact,20,100,{SOWN:%FT%TZ}\n"
    )
    newly = np.random.default_rng(seed).multinomial(60, [1 / len(hours)] * len(hours)).tolist()
    read = [
        _read(tmp_path_factory.mktemp("s"), alone | {"germ/counts.csv": _counts(s, hours, newly)})
        for s in ("h", style)
    ]
    assert read[0] == read[1] == ([float(h) for h in hours], [float(n) for n in newly])


def _fitted(cells, family):
    found = germination_curve.fit(cells, family)
    return found.outcome, np.stack((found.log_t50, found.log_sigma, found.fraction, found.loglik))


@pytest.mark.parametrize("family", FAMILIES, ids=lambda family: re.sub(r"\W", "", family.label))
@FEW
@given(seed=SEEDS, times=st.floats(0.01, 100))
def test_another_unit_of_time_moves_a_curve_and_no_more(family, seed, times):
    cells = _plain_cells(seed)
    scaled = Cells(
        cells.start_h * times,
        cells.end_h * times,
        cells.count,
        cells.censor_h * times,
        cells.censored,
    )
    (outcome, point), (again, moved) = _fitted(cells, family), _fitted(scaled, family)
    assert outcome.tolist() == again.tolist()
    moved[0] -= np.log(times)
    np.testing.assert_allclose(moved, point, rtol=1e-4, atol=1e-4)


@pytest.mark.parametrize("family", FAMILIES, ids=lambda family: re.sub(r"\W", "", family.label))
@FEW
@given(seed=SEEDS, share=st.floats(0.1, 0.9))
def test_an_inspection_that_found_nothing_between_two_that_found_nothing_changes_no_curve(
    family, seed, share
):
    cells = _plain_cells(seed)
    place = cells.count.shape[1] // 2
    cells.count[:, place] = 0
    start, end = cells.start_h[:, place], cells.end_h[:, place]
    middle = start + share * (end - start)
    split = Cells(
        np.insert(cells.start_h, place + 1, middle, axis=1),
        np.insert(cells.end_h, place, middle, axis=1),
        np.insert(cells.count, place, 0, axis=1),
        cells.censor_h,
        cells.censored,
    )
    (outcome, point), (again, same) = _fitted(cells, family), _fitted(split, family)
    assert outcome.tolist() == again.tolist()
    np.testing.assert_allclose(same, point, rtol=1e-9, atol=1e-9)


def _plain_cells(seed):
    """Return curves of ordinary inspections: every day for twelve days."""
    rng = np.random.default_rng(seed)
    cells = curves.draw(rng, 30)
    K = cells.count.shape[1]
    end = np.broadcast_to(24.0 * np.arange(1, K + 1), cells.count.shape).copy()
    look = np.broadcast_to(end[:, -1:], cells.censor_h.shape)
    return Cells(end - 24, end, cells.count.copy(), look, cells.censored)
