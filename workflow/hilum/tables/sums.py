"""Seeds must add up: no dish has more than were sown, and a finished one has every seed in one place."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import SupportsIndex

import numpy as np

from hilum import fates
from hilum.tables import groups
from hilum.tables.ledger import NO_ROW, Array, Finding, Ledger, Rows


def _seeds(count: float) -> str:
    return "1 seed" if count == 1 else f"{count:g} seeds"


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


@dataclass(frozen=True)
class Account:
    """Where the seeds of each dish are, every array of shape (dishes,).

    `counted` germinated in counts.csv, `relisted` are germinated seeds among the outcomes, `others` are the
    other outcomes.
    """

    counted: Array
    relisted: Array
    removed: Array
    others: Array
    inspected: groups.Marks
    discarded: groups.Marks
    assessed: groups.Marks

    @property
    def germinated(self) -> Array:
        """Return the germinated seeds: seeds that are listed again are the same seeds."""
        return np.where(self.inspected, self.counted, self.relisted)


def _account(ledger: Ledger) -> Account:
    counts, outcomes, events = (ledger[t] for t in ("counts", "outcomes", "events"))
    every = np.arange(len(ledger["dishes"]))
    counted, found = ledger.dish_rows(counts), _outcome_dishes(ledger)
    again = _listed_again(ledger)
    end = events["event"] == ledger.names.code("discarded")
    return Account(
        counted=_sum(ledger, counts["germinated"], counted),
        relisted=_sum(ledger, np.where(again, outcomes["seeds"], 0.0), found),
        removed=_sum(ledger, counts["removed"], counted),
        others=_sum(ledger, np.where(again, 0.0, outcomes["seeds"]), found),
        inspected=np.isin(every, counted),
        discarded=np.isin(every, ledger.dish_rows(events)[end]),
        assessed=np.isin(every, found),
    )


def seeds_that_do_not_add_up(ledger: Ledger) -> Iterator[Finding]:
    """Yield each finished dish whose germinated, removed and otherwise found seeds are not those sown.

    A dish is finished when it has outcomes or was discarded.
    """
    dishes, seeds = ledger["dishes"], _account(ledger)
    fine = (seeds.assessed | seeds.discarded) & ~_doubtful(ledger)
    more = seeds.inspected & (seeds.relisted > seeds.counted)
    total = seeds.germinated + seeds.removed + seeds.others
    for row in np.flatnonzero(fine & (more | (total != dishes["seeds"]))):
        says = _relisted_words if more[row] else _sum_words
        yield Finding(dishes, row, "seeds", says(dishes, seeds, row))


def _relisted_words(dishes: Rows, seeds: Account, row: SupportsIndex) -> str:
    return (
        f", but of dish {dishes.text('dish', row)} {seeds.counted[row]:g} germinated in counts.csv and "
        f"{seeds.relisted[row]:g} in outcomes.csv"
    )


def _sum_words(dishes: Rows, seeds: Account, row: SupportsIndex) -> str:
    germinated, removed, others = seeds.germinated[row], seeds.removed[row], seeds.others[row]
    ended = ""
    if seeds.discarded[row] and not seeds.assessed[row]:
        ended = "; events.csv has it discarded: list the rest in outcomes.csv, as lost where nobody knows"
    # the mistake may be in the counts, so they are named
    where = " in counts.csv" if seeds.inspected[row] else ", with no inspection in counts.csv"
    return (
        f", but {germinated:g} germinated and {removed:g} removed{where}, and {others:g} in outcomes.csv, make "
        f"{germinated + removed + others:g} in dish {dishes.text('dish', row)}{ended}"
    )


def _listed_again(ledger: Ledger) -> groups.Marks:
    """Return which outcomes are of seeds that the counts hold as germinated already."""
    rows = ledger["outcomes"]
    seedlings = np.array([ledger.names.code(word) for word in fates.GERMINATED])
    again = np.isin(rows["outcome"], seedlings)
    # where only normal seedlings count as germinated, the counts do not hold the abnormal ones
    strict = [
        ledger.names.code(name)
        for name, about in ledger.experiments.items()
        if about.germination_criterion == "normal_seedling"
    ]
    abnormal = rows["outcome"] == ledger.names.code("abnormal")
    return np.asarray(again & ~(abnormal & np.isin(rows.experiment, strict)))


# sums are the last to be looked at: any fault in a dish makes its sum doubtful
RULES = (
    more_outcomes_than_seeds,
    more_weighed_than_sown,
    more_than_sown,
    seeds_that_do_not_add_up,
)
