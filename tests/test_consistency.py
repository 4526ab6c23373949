"""Whole reports of random studies say one thing of the same seeds: figures, sentences and advice agree with each other and the tables."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from tests.consistency import advice, agree, said
from tests.consistency.built import build
from tests.consistency.figures import Reader
from tests.consistency.recount import count
from tests.consistency.studies import FEATURES, MORE, Raw, draw

SEEDS = range(20)
_COUNTS = 6  # of a kind, told in full


@pytest.mark.parametrize("seed", SEEDS)
def test_a_report_says_one_thing_of_the_same_seeds(seed, tmp_path):
    reader = Reader(build(draw(seed), tmp_path))
    wrong = [*agree.violations(reader), *said.violations(reader), *advice.violations(reader)]
    kinds = {
        kind: [v.says for v in wrong if v.kind == kind] for kind in sorted({v.kind for v in wrong})
    }
    told = "\n".join(
        f"{kind} ({len(all_of)}):\n  " + "\n  ".join(all_of[:_COUNTS])
        for kind, all_of in kinds.items()
    )
    assert not wrong, f"study {seed}, {', '.join(sorted(draw(seed).features))}:\n{told}"


# what the tables of a study hold where it has a feature, by the tables alone


def _dishes(raw: Raw):
    return count(raw).dishes


def _groups(raw: Raw):
    own = {}
    for dish in _dishes(raw):
        own.setdefault((dish.experiment, dish.seeds), []).append(dish)
    return [[d for d in dishes if d.inspected] for dishes in own.values()]


def _any_group(holds: Callable[[list], bool]):
    return lambda raw: any(dishes and holds(dishes) for dishes in _groups(raw))


def _outcomes(raw: Raw):
    return [row for _, row in raw.rows("outcomes") if row["outcome"] in ("hard", "fresh")]


def _methods(raw: Raw):
    return {row["method"] for row in raw.tables[""]["treatments"]}


def _ended_early(dishes: list) -> bool:
    last = max(d.end_h or 0 for d in dishes)
    return any(d.up(None) == d.of and d.end_h and d.end_h < last / 2 for d in dishes)


THERE: dict[str, Callable[[Raw], bool]] = {
    "finished early": _any_group(_ended_early),
    "one-seed cups": _any_group(
        lambda d: len(d) > 4 and all(x.sown == 1 for x in d) and _ended_early(d)
    ),
    "unscored": _any_group(
        lambda d: not any(x.outcomes for x in d) and not all(x.scored for x in d)
    ),
    "partly scored": _any_group(
        lambda d: any(x.outcomes for x in d) and any(not x.scored for x in d)
    ),
    "never inspected": lambda raw: any(not d.inspected for d in _dishes(raw)),
    "cut, alive blank": lambda raw: any(
        r.get("assessed_by") == "cutting" and not r.get("alive") for r in _outcomes(raw)
    ),
    "leftovers pressed": lambda raw: any(
        r.get("assessed_by") == "pressing" for r in _outcomes(raw)
    ),
    "opened afterwards": lambda raw: any(r["event"] == "opened" for _, r in raw.rows("events")),
    "moved afterwards": lambda raw: any(r["event"] == "moved" for _, r in raw.rows("events")),
    "ends differ": _any_group(
        lambda d: len({x.end_h for x in d}) > 1 and any(x.outcomes for x in d)
    ),
    "seeds lost": lambda raw: any(d.lost for d in _dishes(raw)),
    "mouldy taken out": lambda raw: any(d.taken_dead for d in _dishes(raw)),
    "one dish": _any_group(lambda d: len(d) == 1 and d[0].sown > 1),
    "unequal dishes": _any_group(lambda d: len({x.sown for x in d}) > 1),
    "all dead": _any_group(
        lambda d: all(x.left("dead", "empty", "insect_damaged") + x.taken_dead == x.of for x in d)
    ),
    "all germinated": _any_group(lambda d: all(x.up(None) == x.of for x in d)),
    "none germinated": _any_group(lambda d: not any(x.up(None) for x in d)),
    "temperature series": lambda raw: "warmth" in raw.analyses,
    "outcomes only": _any_group(lambda d: all(not x.looks and x.outcomes for x in d)),
    "same seeds again": lambda raw: any(
        len(count(raw).experiments(s)) > 1 for s in count(raw).seeds
    ),
    "weighed": lambda raw: bool(raw.rows("weighings")),
    "floats at 0 h": lambda raw: any(
        r.get("floats") and r["soaked_h"] == "0" for _, r in raw.rows("weighings")
    ),
    "stored": lambda raw: any(r.get("stored_d") for _, r in raw.rows("dishes")),
    "acid durations": lambda raw: "doses" in raw.analyses,
    "opened by hand beside": lambda raw: {"none", "chipping"} <= _methods(raw),
    "moist cold": lambda raw: "cold_moist" in _methods(raw),
    "viability test": lambda raw: bool(raw.rows("viability")),
    "alternating": lambda raw: any(r.get("night_temperature_c") for _, r in raw.rows("dishes")),
}


def test_every_feature_of_a_bench_occurs():
    studies = [draw(seed) for seed in SEEDS]
    assert set(THERE) == set(FEATURES)
    missing = [name for name, there in THERE.items() if not any(there(raw) for raw in studies)]
    assert not missing


def test_a_seed_draws_the_same_study_again():
    assert draw(3) == draw(3)
    assert draw(3).tables != draw(3 + len(MORE)).tables


# what would be missed if the reader missed it


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    return build(_plain(), tmp_path_factory.mktemp("plain"))


def _plain() -> Raw:
    """Return a study of few dishes, all of them scored and looked at to one end."""
    row = {"lot": "Alder bay", "temperature_c": "20", "seeds": "20"}
    dishes = [
        {"dish": f"d{i}"} | row | {"treatment": t}
        for i, t in enumerate(["intact"] * 3 + ["chipped"] * 3)
    ]
    counts = [
        {"dish": d["dish"], "elapsed_h": f"{24 * day}", "germinated": str(n)}
        for d in dishes
        for day, n in (
            (3, 2 if d["treatment"] == "intact" else 9),
            (7, 1 if d["treatment"] == "intact" else 8),
            (14, 0),
        )
    ]
    left = [{"dish": d["dish"], "outcome": "dead", "seeds": "1"} for d in dishes]
    left += [
        {"dish": d["dish"], "outcome": "hard" if d["treatment"] == "intact" else "fresh"}
        | (
            {"seeds": "16", "alive": "15"}
            if d["treatment"] == "intact"
            else {"seeds": "2", "alive": "2"}
        )
        for d in dishes
    ]
    study = {
        "lots": [{"lot": "Alder bay", "taxon": "Litorivolva ficta"}],
        "treatments": [
            {"treatment": "intact", "method": "none"},
            {"treatment": "chipped", "method": "chipping"},
        ],
    }
    return Raw(
        -1,
        frozenset(),
        {"": study, "first": {"dishes": dishes, "counts": counts, "outcomes": left}},
        {"first": ("time_course",)},
    )


def _with_page(built, name, old, new):
    page = built.pages[name].replace("\N{NO-BREAK SPACE}", " ")
    assert old in page, f"{old!r} is not on {name}"
    changed = replace(built)
    object.__setattr__(changed, "pages", {**built.pages, name: page.replace(old, new)})
    return Reader(changed)


def _kinds(found):
    return {violation.kind.partition(":")[0] for violation in found}


def test_a_figure_of_home_that_differs_is_told(built):
    reader = _with_page(built, "index", "85 %", "84 %")
    told = [v for v in agree.violations(reader) if "index" in v.says and "84 %" in v.says]
    assert _kinds(told) >= {"germinated not as counted", "two figures of germinated"}


def test_a_fate_of_a_lot_page_that_differs_is_told(built):
    reader = _with_page(built, "lots/alder-bay", "hard 80 %", "hard 70 %")
    assert any("hard 70 %" in v.says for v in agree.violations(reader))


def test_a_figure_of_an_experiment_that_differs_is_told(built):
    reader = _with_page(built, "experiments/first", "germinated by 14 d", "germinated by 3 d")
    assert any("by 72 h" in v.says for v in agree.violations(reader))


def test_coats_that_are_open_and_closed_are_told(built):
    assert "Closed coats hold water out" in built.pages["index"]
    reader = _with_page(
        built,
        "index",
        "## Experiments",
        "The coats let water in: no physical dormancy was found.\n\n## Experiments",
    )
    assert "coat said to be closed and open" in _kinds(said.violations(reader))


def test_another_place_than_the_usual_one_is_told(built):
    reader = _with_page(
        built,
        "index",
        "At 20 °C, where nothing else is said",
        "At 10 °C, where nothing else is said",
    )
    assert "home tells a figure without its place" in _kinds(said.violations(reader))


def test_no_germination_where_some_was_is_told(built):
    reader = _with_page(
        built,
        "experiments/first",
        "- **intact**:",
        "- intact: nothing germinated. Cut some.\n- **intact**:",
    )
    assert "none germinated, where some did" in _kinds(said.violations(reader))


def test_advice_for_work_that_is_done_is_told(built):
    before = _done(Reader(built))
    asks = "- intact: open the hard seeds (chip or file them) and germinate them.\n- **intact**:"
    after = _done(_with_page(built, "experiments/first", "- **intact**:", asks))
    assert after - before == {"advice: open hard seeds, where seeds opened by hand are there"}


def _done(reader):
    return {v.kind for v in advice.violations(reader)}
