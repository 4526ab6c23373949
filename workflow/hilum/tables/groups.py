"""Rows in groups: codes of several columns taken as one, repeats, sequences and sums."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Marks = NDArray[np.bool_]


def together(*columns: NDArray[Any]) -> Ints:
    """Return one code for each row, shape (n,), the same where all columns are the same."""
    code = np.zeros(len(columns[0]), dtype=np.int64)
    for column in columns:
        _, inverse = np.unique(column, return_inverse=True)
        code = code * (int(inverse.max(initial=0)) + 1) + inverse
        # codes stay small, however many columns there are
        code = np.unique(code, return_inverse=True)[1].astype(np.int64)
    return code


def earlier_twin(code: Ints) -> Ints:
    """Return for each row the first row with the same code, or -1 where it is that first row."""
    _, first, inverse = np.unique(code, return_index=True, return_inverse=True)
    twin = first[inverse].astype(np.int64)
    twin[twin == np.arange(len(code))] = -1
    return twin


def in_order(code: Ints, value: NDArray[Any]) -> tuple[Ints, Marks]:
    """Return the rows sorted by group and by value within it, and whether each one begins a group."""
    order = np.lexsort((value, code)).astype(np.int64)
    begins = np.ones(len(order), dtype=bool)
    begins[1:] = code[order][1:] != code[order][:-1]
    return order, begins


def running(values: Floats, begins: Marks) -> Floats:
    """Return running totals that start anew where a group begins."""
    total = np.cumsum(values)
    starts = np.flatnonzero(begins)
    before = (total - values)[starts]
    return np.asarray(total - np.repeat(before, np.diff([*starts, len(values)])), dtype=float)


def medians(code: Ints, values: Floats) -> Floats:
    """Return for each row the median of its group."""
    order, begins = in_order(code, values)
    starts = np.flatnonzero(begins)
    sizes = np.diff([*starts, len(order)])
    sorted_values = values[order]
    middle = (sorted_values[starts + (sizes - 1) // 2] + sorted_values[starts + sizes // 2]) / 2
    found = np.empty(len(order))
    found[order] = np.repeat(middle, sizes)
    return found


def find(codes: Ints, among: Ints) -> Ints:
    """Return for each code its first place in `among`, or -1 where it is not there."""
    if not len(among):
        return np.full(len(codes), -1, dtype=np.int64)
    order = np.argsort(among, kind="stable")
    place = np.minimum(np.searchsorted(among[order], codes), len(among) - 1)
    found = among[order][place] == codes
    return np.where(found, order[place], -1).astype(np.int64)
