"""Rows in groups, held against plain loops."""

import numpy as np
import pytest

from hilum.tables import groups


@pytest.fixture(params=[1, 2, 3])
def rows(request):
    """Return group codes and values of some rows."""
    rng = np.random.default_rng(request.param)
    return rng.integers(0, 6, 40), rng.integers(1, 30, 40).astype(float)


def test_columns_taken_together_are_the_same_where_all_are(rows):
    code, values = rows
    made = groups.together(code, values, code)
    pairs = list(zip(code.tolist(), values.tolist(), strict=True))
    for i in range(len(code)):
        for j in range(len(code)):
            assert (made[i] == made[j]) == (pairs[i] == pairs[j])


def test_the_earlier_twin_is_the_first_of_its_kind(rows):
    code, _ = rows
    seen = {}
    for i, twin in enumerate(groups.earlier_twin(code)):
        assert twin == seen.get(code[i], -1)
        seen.setdefault(code[i], i)


def test_running_totals_start_anew_in_each_group(rows):
    code, values = rows
    order, begins = groups.in_order(code, np.arange(len(code)))
    totals = groups.running(values[order], begins)
    sums = {}
    for i, row in enumerate(order):
        sums[code[row]] = sums.get(code[row], 0) + values[row]
        assert totals[i] == sums[code[row]]


def test_medians_are_those_of_the_groups(rows):
    code, values = rows
    for i, median in enumerate(groups.medians(code, values)):
        assert median == np.median(values[code == code[i]])


def test_what_is_found_is_its_first_place(rows):
    code, _ = rows
    listed = code.tolist()
    asked = np.arange(-1, 8)
    found = [listed.index(c) if c in listed else -1 for c in asked]
    assert groups.find(asked, code).tolist() == found


def test_no_rows_make_no_groups():
    none = np.zeros(0, dtype=np.int64)
    order, begins = groups.in_order(none, none)
    assert len(groups.together(none, none)) == len(groups.earlier_twin(none)) == 0
    assert len(groups.running(none.astype(float), begins)) == len(order) == 0
    assert len(groups.medians(none, none.astype(float))) == 0
    assert groups.find(np.array([3]), none).tolist() == [-1]
