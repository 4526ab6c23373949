"""Dishes, counts, events and outcomes put together."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from hilum.analyses.dishes import assemble

NAN = float("nan")
COLUMNS: dict[str, dict[str, Any]] = {
    "dishes": {
        "line": 2.0,
        "dish": "a",
        "lot": "bay",
        "treatment": "intact",
        "batch": "",
        "temperature_c": 25.0,
        "night_temperature_c": NAN,
        "warm_h": NAN,
        "chamber": "",
        "light": "",
        "medium": "",
        "seeds": 25.0,
        "sown_at": "",
        "stored_d": NAN,
        "stored_at_c": NAN,
        "stored_moisture_pct": NAN,
    },
    "counts": {
        "line": 2.0,
        "dish": "a",
        "elapsed_h": 24.0,
        "germinated": 0.0,
        "removed": NAN,
        "removed_as": "",
    },
    "events": {"line": 2.0, "dish": "a", "elapsed_h": 0.0, "event": "", "to": ""},
    "outcomes": {
        "line": 2.0,
        "dish": "a",
        "seed": "",
        "outcome": "",
        "seeds": 0.0,
        "alive": NAN,
        "assessed_by": "",
    },
    "weighings": {"line": 2.0, "seed": "", "dish": ""},
}


def table(name: str, *rows: dict[str, Any]) -> dict[str, np.ndarray]:
    """Return a checked table with these rows, every other column at its default."""
    full = [COLUMNS[name] | row for row in rows]
    return {column: np.array([row[column] for row in full]) for column in COLUMNS[name]}


def counts(*seen: tuple[float, float], dish: str = "a") -> list[dict[str, Any]]:
    return [{"dish": dish, "elapsed_h": h, "germinated": n} for h, n in seen]


def test_counts_become_cells_between_inspections_and_survivors_at_the_last() -> None:
    tables = {
        "dishes": table("dishes", {}, {"dish": "b", "seeds": 10.0}),
        "counts": table(
            "counts", *counts((24, 3), (48, 5), (96, 0)), *counts((24, 0), (72, 4), dish="b")
        ),
    }
    found = assemble(tables)
    assert found.cells.start_h.tolist() == [[0, 24, 48], [0, 24, 72]]
    assert found.cells.end_h.tolist() == [[24, 48, 96], [24, 72, 72]]
    assert found.cells.count.tolist() == [[3, 5, 0], [0, 4, 0]]
    assert found.cells.censor_h[:, 0].tolist() == [96, 72]
    assert found.cells.censored[:, 0].tolist() == [17, 6]
    assert found.finished.tolist() == [False, False]
    assert found.last.tolist() == [True, True]


def test_an_order_of_inspections_other_than_time_changes_nothing() -> None:
    rows = counts((24, 3), (48, 5), (96, 0))
    forth, back = (
        assemble({"dishes": table("dishes", {}), "counts": table("counts", *order)})
        for order in (rows, rows[::-1])
    )
    assert forth.cells.count.tolist() == back.cells.count.tolist()


def test_dead_seeds_stay_lost_seeds_are_censored_when_last_seen() -> None:
    rows = counts((24, 3), (48, 5), (96, 1))
    rows[1] |= {"removed": 2.0, "removed_as": "dead"}
    rows[2] |= {"removed": 4.0, "removed_as": "lost"}
    found = assemble({"dishes": table("dishes", {}), "counts": table("counts", *rows)})
    # 25 − 9 germinated − 4 lost = 12 survivors, the two dead among them; the lost were last seen at 48 h
    assert dict(zip(found.cells.censor_h[0], found.cells.censored[0], strict=True)) == {
        96: 12,
        48: 4,
    }
    assert found.early.tolist() == [4]
    assert found.cells.seeds.tolist() == [25]
    assert found.fates.dead.tolist() == [2]


def test_sampled_seeds_were_seen_at_the_inspection_that_took_them() -> None:
    rows = counts((24, 3), (48, 5))
    rows[0] |= {"removed": 6.0, "removed_as": "sampled"}
    found = assemble({"dishes": table("dishes", {}), "counts": table("counts", *rows)})
    assert dict(zip(found.cells.censor_h[0], found.cells.censored[0], strict=True)) == {
        48: 11,
        24: 6,
    }


def test_opening_starts_a_new_phase_with_the_seeds_that_were_left() -> None:
    tables = {
        "dishes": table("dishes", {"light": "dark"}),
        "counts": table("counts", *counts((24, 3), (48, 0), (72, 9), (96, 10))),
        "events": table("events", {"elapsed_h": 48.0, "event": "opened"}),
    }
    found = assemble(tables)
    assert found.phase.tolist() == [1, 2]
    assert found.seeds.tolist() == [25, 22]
    assert found.condition.tolist() == ["dark", "dark, after opening"]
    assert found.cells.end_h.tolist() == [[24, 48], [24, 48]]
    assert found.cells.count.tolist() == [[3, 0], [9, 10]]
    assert found.cells.censored[:, 0].tolist() == [22, 3]
    assert found.last.tolist() == [False, True]
    assert len(found.first_phase()) == 1


@pytest.mark.parametrize(
    ("to", "degrees", "words"),
    [
        ("30", 30, "after a move"),
        ("warm", 35, "after a move"),
        ("field", 25, "after a move to field"),
    ],
)
def test_a_move_changes_the_temperature_where_it_can_be_known(
    to: str, degrees: float, words: str
) -> None:
    tables = {
        "dishes": table("dishes", {}, {"dish": "b", "chamber": "warm", "temperature_c": 35.0}),
        "counts": table("counts", *counts((24, 3), (48, 1)), *counts((24, 0), dish="b")),
        "events": table("events", {"elapsed_h": 24.0, "event": "moved", "to": to}),
    }
    found = assemble(tables)
    assert found.temperature_c[1] == degrees
    assert found.condition[1] == words


def test_seeds_listed_again_as_seedlings_are_counted_once() -> None:
    tables = {
        "dishes": table("dishes", {}),
        "counts": table("counts", *counts((24, 3), (48, 5))),
        "outcomes": table(
            "outcomes",
            {"outcome": "normal", "seeds": 7.0},
            {"outcome": "abnormal", "seeds": 1.0},
            {"outcome": "hard", "seeds": 10.0, "alive": 9.0},
            {"outcome": "dead", "seeds": 4.0},
            {"outcome": "empty", "seeds": 2.0},
            {"outcome": "lost", "seeds": 1.0},
        ),
    }
    fates = assemble(tables).fates
    total = sum(fates.found.values())
    assert total.tolist() == [25]
    assert fates.germinated.tolist() == [8]
    assert fates.hard_alive.tolist() == [9]
    assert fates.fresh_alive.tolist() == [0]
    assert assemble(tables).finished.tolist() == [True]


def test_a_dish_in_which_every_seed_germinated_needs_no_outcomes() -> None:
    tables = {
        "dishes": table("dishes", {}, {"dish": "b"}),
        "counts": table("counts", *counts((24, 20), (48, 5)), *counts((24, 20), (48, 4), dish="b")),
    }
    assert assemble(tables).fates.known.tolist() == [True, False]


def test_outcomes_of_weighed_seeds_belong_to_the_dish_they_were_sown_in() -> None:
    tables = {
        "dishes": table("dishes", {"seeds": 2.0}),
        "counts": table("counts", *counts((24, 1))),
        "weighings": table("weighings", {"seed": "s1", "dish": "a"}, {"seed": "s1", "dish": "a"}),
        "outcomes": table("outcomes", {"dish": "", "seed": "s1", "outcome": "hard", "seeds": 1.0}),
    }
    fates = assemble(tables).fates
    assert fates.hard.tolist() == [1]
    assert np.isnan(fates.hard_alive).all()


def test_groups_keep_the_order_of_the_table_and_missing_temperatures() -> None:
    tables = {
        "dishes": table(
            "dishes", {"lot": "z"}, {"dish": "b", "temperature_c": NAN}, {"dish": "c", "lot": "z"}
        ),
        "counts": table("counts", *counts((24, 1)), *counts((24, 1), dish="c")),
    }
    groups = assemble(tables).groups()
    assert [key[0] for key in groups] == ["z", "bay"]
    assert [rows.tolist() for rows in groups.values()] == [[0, 2], [1]]
