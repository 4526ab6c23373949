"""Rules between rows and between tables: names that must exist, seeds that must add up, order, repeats.

Each rule is a function from the ledger to findings; `RULES` are run in their order, and rows in which an
earlier rule found a fault are marked, so that one mistake is told once.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Sequence
from typing import SupportsIndex

import numpy as np

from hilum.tables import groups
from hilum.tables.ledger import NO_ROW, Array, Finding, Ledger, Rows
from hilum.tables.sentences import looks

_REPAIR = "; keep one, or name the wrong one under known_faults in experiment.yaml"
_SEEDLINGS = ("germinated", "normal", "abnormal")


class _Listed(dict[int, list[str]]):
    """The names that a table lists, by experiment, gathered where they are asked for."""

    def __init__(self, rows: Rows, column: str) -> None:
        super().__init__()
        self._rows, self._column = rows, column

    def __missing__(self, experiment: int) -> list[str]:
        rows = self._rows
        codes = np.unique(rows[self._column][rows.experiment == experiment])
        self[experiment] = [rows.names.texts[code] for code in codes.tolist() if code]
        return self[experiment]


def unknown_names(ledger: Ledger) -> Iterator[Finding]:
    """Yield each lot, treatment or dish that its own table does not list."""
    for rows in ledger.rows.values():
        for column in (c for c in rows.table.columns if c.refers):
            yield from _unknown(ledger, rows, column.name, ledger[column.refers])


def _unknown(ledger: Ledger, rows: Rows, column: str, listed: Rows) -> Iterator[Finding]:
    whole_study = listed.table.level == "study"
    names = rows[column] if whole_study else rows.key(column)
    found = groups.find(names, listed[column] if whole_study else listed.key(column))
    unknown = (found == NO_ROW) & (rows[column] > 0)
    unsure, known = _unsure(ledger, listed, column), _Listed(listed, column)
    for row in np.flatnonzero(unknown):
        home = ledger.names.code("") if whole_study else int(rows.experiment[row])
        if home not in unsure:
            says = f", which {listed.table.file} does not list"
            yield Finding(rows, row, column, says, known[home])


def _unsure(ledger: Ledger, listed: Rows, column: str) -> set[int]:
    """Return the experiments in which the listing table is missing or could not be read whole."""
    study = [ledger.names.code("")]
    every = study if listed.table.level == "study" else map(ledger.names.code, ledger.experiments)
    present = {ledger.names.code(s.source.experiment) for s in listed.sheets}
    nameless = set(listed.experiment[listed[column] == 0].tolist())
    return (set(every) - present) | listed.torn() | nameless


def repeats(ledger: Ledger) -> Iterator[Finding]:
    """Yield each row that has the same key as an earlier one."""
    for rows in ledger.rows.values():
        known = np.logical_and.reduce([rows.given(c) for c in _must(rows)])
        fine = np.flatnonzero(known & ~rows.bad)
        if len(fine):
            keys = [_comparable(rows[c][fine]) for c in rows.table.key]
            twin = groups.earlier_twin(groups.together(rows.experiment[fine], *keys))
            for i in np.flatnonzero(twin >= 0):
                yield _repeat(rows, fine[i], fine[twin[i]])


def _must(rows: Rows) -> list[str]:
    """Return the parts of the key that every row has; an outcome has a dish or a seed."""
    always = {c for g in rows.table.one_of if not g.together for c in g.columns}
    columns = [rows.table.column(c) for c in rows.table.key]
    return [c.name for c in columns if c.required or c.default is not None or c.name in always]


def _comparable(values: Array) -> Array:
    return np.nan_to_num(values, nan=-1.0) if values.dtype == float else values


def _repeat(rows: Rows, row: SupportsIndex, first: SupportsIndex) -> Finding:
    """Return the finding of a row that is there twice, told by the last given part of its key."""
    key = [c for c in rows.table.key if rows.given(c)[row]]
    other = [
        c.name
        for c in rows.table.stored
        if c.name not in key and _differs(rows, c.name, row, first)
    ]
    same = f" for the same {' and '.join(key[:-1])}" if len(key) > 1 else ""
    says = f", which line {rows.lines[first]} has already{same}"
    if other:
        pairs = " and ".join(
            f"{c} {_cell(rows, c, first)} there and {_cell(rows, c, row)} here" for c in other
        )
        says += f", but with {pairs}"
    return Finding(rows, row, key[-1], says + (_REPAIR if rows.table.level == "experiment" else ""))


def _differs(rows: Rows, column: str, row: SupportsIndex, first: SupportsIndex) -> bool:
    values = _comparable(rows[column])
    return bool(values[row] != values[first])


def _cell(rows: Rows, column: str, row: SupportsIndex) -> str:
    if not rows.given(column)[row]:
        return "empty"
    values = rows[column]
    return f"{values[row]:.10g}" if values.dtype == float else rows.text(column, row)


def half_given(ledger: Ledger) -> Iterator[Finding]:
    """Yield each cell that means nothing without another one that is empty."""
    for rows in ledger.rows.values():
        for column, needed in rows.table.needs:
            lonely = rows.given(column) & ~rows.given(needed) & ~rows.bad
            for row in np.flatnonzero(lonely):
                yield Finding(rows, row, column, f", but {needed} is empty; give both or neither")


def unknown_seed(ledger: Ledger) -> Iterator[Finding]:
    """Yield each outcome of a seed that was never weighed and has no dish either.

    With a dish it may be a seed that nobody weighed, unless a weighed one is called nearly the same.
    """
    rows, weighings = ledger["outcomes"], ledger["weighings"]
    found = groups.find(rows.key("seed"), weighings.key("seed"))
    nameless = weighings.experiment[weighings["seed"] == 0].tolist()
    unsure = weighings.torn() | set(nameless)
    known = _Listed(weighings, "seed")
    shapes: dict[int, set[str]] = {}
    for row in np.flatnonzero((rows["seed"] > 0) & (found == NO_ROW)):
        experiment = int(rows.experiment[row])
        names = known[experiment]
        if experiment not in shapes:
            shapes[experiment] = set(map(looks, names))
        dishless = "" if rows["dish"][row] else ", and the row names no dish"
        if experiment not in unsure and (
            dishless or looks(rows.text("seed", row)) in shapes[experiment]
        ):
            says = f", which weighings.csv does not list{dishless}"
            yield Finding(rows, row, "seed", says, names)


def seed_in_another_dish(ledger: Ledger) -> Iterator[Finding]:
    """Yield each outcome whose seed was sown in another dish than the row says."""
    rows, weighings = ledger["outcomes"], ledger["weighings"]
    at = groups.find(rows.key("seed"), weighings.key("seed"))
    sown = np.where(at != NO_ROW, np.append(weighings["dish"], 0)[at], 0)
    told = (rows["seed"] > 0) & (rows["dish"] > 0) & (sown > 0)
    for row in np.flatnonzero(told & (sown != rows["dish"])):
        other = ledger.names.texts[sown[row]]
        says = f", but weighings.csv says that seed {rows.text('seed', row)} was sown in {other}"
        yield Finding(rows, row, "dish", says)


def more_outcomes_than_seeds(ledger: Ledger) -> Iterator[Finding]:
    """Yield the outcome with which a seed, or a group weighed together, has more fates than seeds."""
    rows, weighings = ledger["outcomes"], ledger["weighings"]
    at = groups.find(rows.key("seed"), weighings.key("seed"))
    fine = np.flatnonzero((at != NO_ROW) & (rows["seed"] > 0) & rows.given("seeds"))
    order, begins = groups.in_order(rows.key("seed")[fine], fine)
    row = fine[order]
    total = groups.running(rows["seeds"][row], begins)
    weighed = np.nan_to_num(weighings["seeds"][at[row]], nan=1.0)
    for i in np.flatnonzero((total > weighed) & (total - rows["seeds"][row] <= weighed)):
        noun = _seeds(weighed[i])
        says = f", but {rows.text('seed', row[i])} is {noun} in weighings.csv"
        yield Finding(rows, row[i], "seeds", says)


def sown_unlike_weighed(ledger: Ledger) -> Iterator[Finding]:
    """Yield each weighed seed whose dish has another lot or treatment."""
    rows, dishes = ledger["weighings"], ledger["dishes"]
    dish = ledger.dish_rows(rows)
    for column in ("lot", "treatment"):
        there = np.where(dish != NO_ROW, np.append(dishes[column], 0)[dish], 0)
        both = (there > 0) & (rows[column] > 0)
        for row in np.flatnonzero(both & (there != rows[column])):
            name = ledger.names.texts[there[row]]
            says = f", but it was sown in dish {rows.text('dish', row)}, whose {column} is {name}"
            yield Finding(rows, row, column, says)


def more_weighed_than_sown(ledger: Ledger) -> Iterator[Finding]:
    """Yield each seed said to be sown in a dish that is full already."""
    rows, dishes = ledger["weighings"], ledger["dishes"]
    dish = ledger.dish_rows(rows)
    fine = np.flatnonzero((dish != NO_ROW) & (rows["seed"] > 0))
    # each seed counts once, however often it was weighed
    _, first = np.unique(rows.key("seed")[fine], return_index=True)
    fine = fine[np.sort(first)]
    order, begins = groups.in_order(dish[fine], fine)
    row = fine[order]
    seeds = np.nan_to_num(rows["seeds"][row], nan=1.0)
    total = groups.running(seeds, begins)
    sown = dishes["seeds"][dish[row]]
    for i in np.flatnonzero((total > sown) & (total - seeds <= sown)):
        says = f", but with this seed more are weighed for it than the {sown[i]:g} sown"
        yield Finding(rows, row[i], "dish", says)


def more_than_sown(ledger: Ledger) -> Iterator[Finding]:
    """Yield the inspection at which more seeds of a dish have germinated or gone than were sown."""
    rows, dishes = ledger["counts"], ledger["dishes"]
    dish = ledger.dish_rows(rows)
    known = (dish != NO_ROW) & rows.given("elapsed_h") & rows.given("germinated")
    fine = np.flatnonzero(known & ~np.isnan(np.append(dishes["seeds"], np.nan)[dish]) & ~rows.bad)
    order, begins = groups.in_order(dish[fine], rows["elapsed_h"][fine])
    row = fine[order]
    gone = rows["germinated"][row] + np.nan_to_num(rows["removed"][row])
    total = groups.running(gone, begins)
    sown = dishes["seeds"][dish[row]]
    rising = rows["germinated"][row] >= np.roll(rows["germinated"][row], 1)
    for i in np.flatnonzero((total > sown) & (total - gone <= sown)):
        left = sown[i] - total[i] + gone[i]
        if rows.given("germinated_so_far")[row[i]]:
            yield _total_too_high(rows, row[i], total[i], sown[i])
        elif rows["germinated"][row[i]] <= left:
            yield _too_many_removed(rows, row[i], left - rows["germinated"][row[i]])
        else:
            yield _too_many(rows, row[i], left, rising=bool(rising[i] and not begins[i]))


def _seeds(count: float) -> str:
    return "1 seed" if count == 1 else f"{count:g} seeds"


def _too_many(rows: Rows, row: SupportsIndex, left: float, *, rising: bool) -> Finding:
    were = "was" if left == 1 else "were"
    says = f", but only {_seeds(left)} of dish {rows.text('dish', row)} {were} left"
    if rising:
        says += "; if these are running totals, call the column germinated_so_far"
    return Finding(rows, row, "germinated", says)


def _too_many_removed(rows: Rows, row: SupportsIndex, left: float) -> Finding:
    says = f", but {_seeds(left)} of dish {rows.text('dish', row)} could still be removed"
    return Finding(rows, row, "removed", says)


def _total_too_high(rows: Rows, row: SupportsIndex, total: float, sown: float) -> Finding:
    says = f", but dish {rows.text('dish', row)} had {_seeds(sown)}"
    if total > rows["germinated_so_far"][row]:
        says += f"; with those removed it comes to {total:g}"
    return Finding(rows, row, "germinated", says)


def _sum(ledger: Ledger, values: Array, dish: groups.Ints) -> Array:
    """Return the sum of the values for each dish, shape (dishes,)."""
    fine = (dish != NO_ROW) & ~np.isnan(values)
    sums = np.bincount(dish[fine], weights=values[fine], minlength=len(ledger["dishes"]))
    return np.asarray(sums, dtype=float)


def _dishes_of_seeds(ledger: Ledger) -> groups.Ints:
    """Return for each outcome the row of the dish in which weighings.csv says its seed was sown, or -1."""
    rows, weighings = ledger["outcomes"], ledger["weighings"]
    at = groups.find(rows.key("seed"), weighings.key("seed"))
    sown = np.append(ledger.dish_rows(weighings), NO_ROW)[at]
    return np.where((rows["seed"] > 0) & (at != NO_ROW), sown, NO_ROW)


def _outcome_dishes(ledger: Ledger) -> groups.Ints:
    """Return for each outcome the row of its dish, also where only its seed is named."""
    own = ledger.dish_rows(ledger["outcomes"])
    return np.where(own != NO_ROW, own, _dishes_of_seeds(ledger))


def _doubtful(ledger: Ledger) -> groups.Marks:
    """Return the dishes with a fault in one of their rows; their sums would only repeat it."""
    dishes, outcomes = ledger["dishes"], ledger["outcomes"]
    doubtful = dishes.bad.copy()
    for table in ("counts", "outcomes", "events"):
        rows = ledger[table]
        dish = _outcome_dishes(ledger) if table == "outcomes" else ledger.dish_rows(rows)
        doubtful[dish[(dish != NO_ROW) & rows.bad]] = True
        nowhere = rows.bad & (dish == NO_ROW) & (rows["dish"] == 0)
        lost = rows.torn() | set(rows.experiment[nowhere].tolist())
        doubtful |= np.isin(dishes.experiment, sorted(lost))
        doubtful |= _nearly(ledger, rows, dish)
    by_seed = _dishes_of_seeds(ledger)
    doubtful[by_seed[(by_seed != NO_ROW) & outcomes.bad]] = True
    return doubtful


def _nearly(ledger: Ledger, rows: Rows, dish: groups.Ints) -> groups.Marks:
    """Return the dishes that a misspelt name may have meant."""
    dishes = ledger["dishes"]
    near = np.zeros(len(dishes), dtype=bool)
    stray = np.flatnonzero((rows["dish"] > 0) & (dish == NO_ROW))
    for key in np.unique(rows.key("dish")[stray])[:50]:
        here = np.flatnonzero(dishes.experiment == key >> 32)
        names = [dishes.text("dish", row) for row in here]
        close = difflib.get_close_matches(ledger.names.texts[key & 0xFFFFFFFF], names, n=5)
        near[here] |= np.isin(names, close)
    return near


def seeds_that_do_not_add_up(ledger: Ledger) -> Iterator[Finding]:
    """Yield each finished dish whose germinated, removed and otherwise found seeds are not those sown.

    A dish is finished when it has outcomes or was discarded. Germinated seeds that are listed again among
    the outcomes are the same seeds.
    """
    dishes, counts, outcomes, events = (
        ledger[t] for t in ("dishes", "counts", "outcomes", "events")
    )
    counted, found, listed = (
        ledger.dish_rows(counts),
        _outcome_dishes(ledger),
        ledger.dish_rows(events),
    )
    again = _listed_again(ledger)
    germinated = _sum(ledger, counts["germinated"], counted)
    removed = _sum(ledger, counts["removed"], counted)
    relisted = _sum(ledger, np.where(again, outcomes["seeds"], 0.0), found)
    others = _sum(ledger, np.where(again, 0.0, outcomes["seeds"]), found)
    inspected = np.isin(np.arange(len(dishes)), counted)
    discarded = np.isin(
        np.arange(len(dishes)), listed[events["event"] == ledger.names.code("discarded")]
    )
    finished = np.isin(np.arange(len(dishes)), found) | discarded
    fine = finished & ~_doubtful(ledger)
    for row in np.flatnonzero(fine & inspected & (relisted > germinated)):
        says = f", of which {germinated[row]:g} germinated in counts.csv but {relisted[row]:g} in outcomes.csv"
        yield Finding(dishes, row, "seeds", says)
    total = np.where(inspected, germinated, relisted) + removed + others
    wrong = fine & ~(inspected & (relisted > germinated)) & (total != dishes["seeds"])
    for row in np.flatnonzero(wrong):
        parts = (total[row] - removed[row] - others[row], removed[row], others[row])
        yield Finding(dishes, row, "seeds", _sum_words(dishes, row, parts, bool(discarded[row])))


def _listed_again(ledger: Ledger) -> groups.Marks:
    """Return which outcomes are of seeds that the counts hold as germinated already."""
    rows = ledger["outcomes"]
    seedlings = np.array([ledger.names.code(word) for word in _SEEDLINGS])
    again = np.isin(rows["outcome"], seedlings)
    # where only normal seedlings count as germinated, the counts do not hold the abnormal ones
    strict = [
        ledger.names.code(name)
        for name, about in ledger.experiments.items()
        if about.germination_criterion == "normal_seedling"
    ]
    abnormal = rows["outcome"] == ledger.names.code("abnormal")
    return np.asarray(again & ~(abnormal & np.isin(rows.experiment, strict)))


def _sum_words(dishes: Rows, row: SupportsIndex, parts: Sequence[float], discarded: bool) -> str:
    germinated, removed, others = parts
    ended = ""
    if discarded and others == 0:
        ended = "; it was discarded: list the rest in outcomes.csv, as lost where nobody knows"
    return (
        f", but {germinated:g} germinated, {removed:g} removed and {others:g} in outcomes.csv make "
        f"{sum(parts):g} in dish {dishes.text('dish', row)}{ended}"
    )


def after_the_end(ledger: Ledger) -> Iterator[Finding]:
    """Yield each inspection and event of a dish that was discarded before."""
    events = ledger["events"]
    end = events["event"] == ledger.names.code("discarded")
    last = np.flatnonzero(end & events.given("elapsed_h") & (events["dish"] > 0))
    for table in ("counts", "events"):
        rows = ledger[table]
        at = groups.find(rows.key("dish"), events.key("dish")[last])
        ended = np.append(events["elapsed_h"][last], np.nan)[at]
        late = (rows["dish"] > 0) & (at != NO_ROW) & (rows["elapsed_h"] > ended)
        for row in np.flatnonzero(late):
            says = f", but dish {rows.text('dish', row)} was discarded at {ended[row]:g} h"
            yield Finding(rows, row, "elapsed_h", says)


def traits_in_two_units(ledger: Ledger) -> Iterator[Finding]:
    """Yield each value of a trait in another unit than that of its published range, or its first."""
    traits, published = ledger["traits"], ledger["reference_traits"]
    for rows in (published, traits):
        first = groups.find(rows["trait"], published["trait"])
        home = published
        if not len(published):
            first, home = groups.find(rows["trait"], rows["trait"]), rows
        for row in np.flatnonzero((first != NO_ROW) & (rows["trait"] > 0) & (rows["unit"] > 0)):
            there = int(home["unit"][first[row]])
            if there and there != rows["unit"][row]:
                place = f"line {home.lines[first[row]]} of {home.table.file}"
                says = f", but {place} has {rows.text('trait', row)} in {home.names.texts[there]}"
                yield Finding(rows, row, "unit", says)


RULES = (
    unknown_names,
    repeats,
    half_given,
    unknown_seed,
    seed_in_another_dish,
    more_outcomes_than_seeds,
    sown_unlike_weighed,
    more_weighed_than_sown,
    more_than_sown,
    after_the_end,
    traits_in_two_units,
)
# sums are the last to be looked at: any fault in a dish makes its sum doubtful
SUMS = (seeds_that_do_not_add_up,)
