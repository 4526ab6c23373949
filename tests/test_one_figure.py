"""Small and ordinary studies of which the first page was wrong, or said two things of the same seeds."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest

from hilum.tables.sentences import Faults
from tests.consistency.built import Built, build
from tests.consistency.studies import Raw

DAYS = (2, 4, 6, 8, 12, 16, 21)
TREATMENTS = [
    {"treatment": "intact", "method": "none"},
    {"treatment": "chipped", "method": "chipping"},
    {"treatment": "acid-5", "method": "acid", "duration": "5", "duration_unit": "min"},
    {"treatment": "acid-15", "method": "acid", "duration": "15", "duration_unit": "min"},
    {"treatment": "acid-30", "method": "acid", "duration": "30", "duration_unit": "min"},
    {"treatment": "acid-60", "method": "acid", "duration": "60", "duration_unit": "min"},
    {"treatment": "cold-12wk", "method": "cold_moist", "duration": "84", "duration_unit": "d"},
]


class Bench:
    """Tables of one experiment, written dish by dish."""

    def __init__(self, *analyses: str) -> None:
        self.analyses = analyses
        self.tables: dict[str, list[dict[str, str]]] = {}

    def row(self, table: str, **cells: object) -> None:
        """Write a row of a table."""
        self.tables.setdefault(table, []).append({k: str(v) for k, v in cells.items()})

    def dish(
        self,
        name: str,
        treatment: str,
        seeds: int,
        *,
        germinated: dict[int, int] | None,
        left: dict[str, tuple[int, object]] | None = None,
        degrees: float = 25,
        until: int = 21,
        assessed_by: str = "",
    ) -> None:
        """Write a dish: seeds newly germinated by day, None where nobody counted, and outcomes with those shown alive."""
        self.row(
            "dishes", dish=name, lot="bag", treatment=treatment, seeds=seeds, temperature_c=degrees
        )
        for day in DAYS if germinated is not None else ():
            if day <= until:
                new = (germinated or {}).get(day, 0)
                self.row("counts", dish=name, elapsed_d=day, germinated=new)
        for outcome, (number, alive) in (left or {}).items():
            cells = {"dish": name, "outcome": outcome, "seeds": number, "alive": alive}
            self.row("outcomes", **cells, assessed_by=assessed_by)


def _built(folder: Path, **benches: Bench) -> Built:
    columns = sorted({name for row in TREATMENTS for name in row})
    study = {
        "lots": [{"lot": "bag", "taxon": "Strandia ficta (invented)"}],
        "treatments": [{name: row.get(name, "") for name in columns} for row in TREATMENTS],
    }
    tables = {"": study} | {name: bench.tables for name, bench in benches.items()}
    analyses = {name: bench.analyses for name, bench in benches.items()}
    return build(Raw(seed=1, features=frozenset(), tables=tables, analyses=analyses), folder)


def _estimates(built: Built, experiment: str, analysis: str, quantity: str, **chosen: str):
    path = built.study.estimates / experiment / f"{analysis}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["quantity"] == quantity]
    return [row for row in rows if all(row[name] == value for name, value in chosen.items())]


def _groups(built: Built, **chosen: object):
    groups = json.loads(built.study.diagnosis.with_suffix(".json").read_text(encoding="utf-8"))[
        "groups"
    ]
    return [g for g in groups if all(g[name] == value for name, value in chosen.items())]


def _text(built: Built, page: str) -> str:
    text = re.sub(r"<[^>]+>", " ", built.pages[page])
    return re.sub(r"\s+", " ", text.replace("\N{NO-BREAK SPACE}", " "))


def _left(seeds: int, unscored: bool) -> dict[str, tuple[int, object]]:
    return {} if unscored else {"dead": (seeds, "")}


def test_dishes_that_were_complete_count_to_the_end(tmp_path: Path) -> None:
    """Three of four dishes, complete on day 8, were dropped: 92 % (50 to 99) on the page, 98 % on home."""
    bench = Bench("time_course")
    for name in "abc":
        bench.dish(name, "chipped", 25, germinated={4: 15, 8: 10}, until=8)
    bench.dish("d", "chipped", 25, germinated={4: 10, 8: 8, 12: 5})
    built = _built(tmp_path, germ=bench)
    (told,) = _estimates(built, "germ", "time_course", "germinated")
    assert float(told["value"]) == pytest.approx(98 / 100)
    assert float(told["at"]) == 21 * 24
    (group,) = _groups(built)
    seen = group["fates"]["germinated"]
    assert seen["least"] == pytest.approx(0.98)
    assert (seen["low"], seen["high"]) == pytest.approx(
        (float(told["low"]), float(told["high"])), rel=1e-4
    )


def test_cups_of_one_seed_that_germinated_are_not_taken_for_unwatched(tmp_path: Path) -> None:
    """Looking stops at a cup when its seed is out: "none germinated by 21 d" stood where 15 of 24 had."""
    bench = Bench("time_course")
    for i in range(24):
        day = DAYS[i % 4]
        out = {day: 1} if i < 15 else {}
        bench.dish(f"c{i}", "chipped", 1, germinated=out, until=day if out else 21)
    built = _built(tmp_path, germ=bench)
    (told,) = _estimates(built, "germ", "time_course", "germinated")
    assert (float(told["value"]), float(told["at"])) == (pytest.approx(15 / 24), 21 * 24)
    assert "none germinated" not in _text(built, "experiments/germ")


def test_single_seeds_are_independent_and_told_so(tmp_path: Path) -> None:
    """One seed a dish: a likelihood divided by 4.26, a tolerated range of 223 %, "1 dish, 8 seeds" for 30 single seeds."""
    bench = Bench("time_course")
    for i in range(30):
        out = {DAYS[i % 5]: 1} if i < 22 else {}
        bench.dish(
            f"c{i}", "chipped", 1, germinated=out, until=21, left=None if out else {"dead": (1, "")}
        )
    built = _built(tmp_path, germ=bench)
    drawing = json.loads(
        (built.study.estimates / "germ/time_course.json").read_text(encoding="utf-8")
    )
    assert drawing["scale"] == 1
    assert drawing["groups"][0]["replicates"] is None
    (told,) = _estimates(built, "germ", "time_course", "germinated")
    assert "30 single seeds, independent" in told["method"]
    # Wilson's limits of 22 of 30 at t with 60 degrees of freedom (scipy.stats.t.ppf(0.975, 60) = 2.0003)
    assert (float(told["low"]), float(told["high"])) == pytest.approx((0.553, 0.860), abs=2e-3)
    (group,) = _groups(built)
    assert group["replicates"] == []
    assert "30 single seeds: 22 germinated" in group["evidence"][0]["says"]
    assert "running totals" not in built.study.check_notes.read_text(encoding="utf-8")
    assert "stand alone" in _text(built, "experiments/germ")


def test_seeds_that_share_a_batch_are_its_replicates(tmp_path: Path) -> None:
    """Seeds are independent unless a batch holds several: then the batches are what was replicated."""
    bench = Bench("time_course")
    for i in range(30):
        out = {DAYS[i % 5]: 1} if i < 22 else {}
        bench.dish(f"c{i}", "chipped", 1, germinated=out, until=21)
    for row in bench.tables["dishes"]:
        row["batch"] = f"tray {int(row['dish'][1:]) // 10}"
    built = _built(tmp_path, germ=bench)
    (told,) = _estimates(built, "germ", "time_course", "germinated")
    assert float(told["value"]) == pytest.approx(22 / 30)
    # trays of 10, 10 and 2 of 10 differ: no interval of independent seeds is as wide
    assert "3 dishes" in told["method"]
    assert float(told["high"]) - float(told["low"]) > 0.5


def _unscored(*germinated: int) -> Bench:
    bench = Bench("time_course")
    for i, n in enumerate(germinated):
        bench.dish(f"c{i}", "chipped", 25, germinated={4: n - 5, 8: 5})
    for i in range(4):
        bench.dish(f"i{i}", "intact", 25, germinated={6: 1}, left={"hard": (24, "")})
    return bench


def test_a_dish_is_never_chosen_by_its_result(tmp_path: Path) -> None:
    """25, 15, 14 and 16 of 25, the others unscored, was "100 % (63 to 100 %), nothing to mend", and the lot's reference."""
    built = _built(tmp_path, germ=_unscored(25, 15, 14, 16))
    (chipped,) = _groups(built, treatment="chipped")
    assert chipped["fates"]["germinated"]["least"] == pytest.approx(0.70)
    assert chipped["unscored"] == pytest.approx(0.30)
    assert not chipped["assessed"]
    assert chipped["next_action"].startswith("Score the seeds that are left")
    (intact,) = _groups(built, treatment="intact")
    assert not any("100 %" in e["says"] for e in intact["evidence"])
    assert "100 %" not in _text(built, "index")
    assert "Nothing to mend" not in _text(built, "index")
    assert _estimates(built, "germ", "time_course", "hard", treatment="chipped") == []


def test_what_was_scored_of_some_dishes_only_is_a_bracket(tmp_path: Path) -> None:
    bench = Bench("time_course")
    for i, n in enumerate((25, 15, 14, 16)):
        left = {"hard": (25 - n, 25 - n)} if i == 1 else None
        bench.dish(f"c{i}", "chipped", 25, germinated={4: n}, left=left)
    built = _built(tmp_path, germ=bench)
    (hard,) = _estimates(built, "germ", "time_course", "hard")
    assert (hard["status"], hard["value"]) == ("bracketed", "")
    assert float(hard["low"]) < 0.10 < 0.30 < float(hard["high"])
    (group,) = _groups(built)
    assert group["fates"]["hard"]["least"] == pytest.approx(0.10)
    assert group["fates"]["hard"]["most"] == pytest.approx(0.30)
    assert sum(group["fates"][name]["least"] for name in group["fates"]) + group[
        "unscored"
    ] == pytest.approx(1)
    assert "not scored 20 %" in _text(built, "lots/bag")


def test_home_names_no_place_for_figures_of_another(tmp_path: Path) -> None:
    """Of five temperatures, each tried once, "At 10 °C, where nothing else is said" stood over figures of 25 °C."""
    bench = Bench("time_course")
    for degrees, out in ((10, 0), (15, 6), (20, 20), (25, 24), (30, 21)):
        for name in "ab":
            bench.dish(
                f"t{degrees}{name}",
                "chipped",
                25,
                degrees=degrees,
                germinated={8: out},
                left={"dead": (25 - out, "")},
            )
    home = _text(_built(tmp_path, germ=bench), "index")
    assert "At 10 °C, where nothing else is said" not in home
    told = re.search(r"At (\d+) °C, where nothing else is said", home)
    assert "chipped at 25 °C" in home or (told and told[1] == "25")


def test_no_advice_is_given_for_what_was_done(tmp_path: Path) -> None:
    germ = Bench("time_course")
    for i in range(2):
        germ.dish(
            f"i{i}", "intact", 25, germinated={8: 2}, left={"hard": (3, ""), "dead": (20, "")}
        )
        germ.dish(f"c{i}", "chipped", 25, germinated={8: 22}, left={"dead": (3, "")})
        fresh = {"fresh": (20, 20)}
        germ.dish(f"w{i}", "cold-12wk", 25, germinated={8: 5}, left=fresh, assessed_by="cutting")
        cut = {"fresh": (9, "")}
        germ.dish(f"a{i}", "acid-5", 25, germinated={8: 16}, left=cut, assessed_by="cutting")
    water = Bench("imbibition", "buoyancy")
    for treatment, gain in (("intact", 1.02), ("chipped", 1.9)):
        for i in range(12):
            mass = 30 + i
            for hour, factor in ((0, 1.0), (24, gain), (48, gain * 1.01)):
                cells = {
                    "seed": f"{treatment}{i}",
                    "lot": "bag",
                    "treatment": treatment,
                    "soaked_h": hour,
                }
                water.row("weighings", **cells, mass_mg=round(mass * factor, 2), floats="no")
    built = _built(tmp_path, germ=germ, water=water)
    said = " ".join(_text(built, page) for page in built.pages)
    assert "erminate opened seeds" not in said
    assert "Unless another experiment" not in said
    assert "unless another experiment" not in said
    assert "look earlier" not in said
    assert "twenty of the hard" not in said
    (cold,) = _groups(built, treatment="cold-12wk")
    assert "give some of the seeds a dormancy break" not in " ".join(
        [cold["next_action"], *cold["missing"]]
    )
    (acid,) = _groups(built, treatment="acid-5")
    assert not any(re.match(r"Cut or stain the (fresh|hard)", needs) for needs in acid["missing"])
    assert any("Fill in `alive`" in needs for needs in acid["missing"])
    (viable,) = _estimates(built, "germ", "time_course", "viability", treatment="acid-5")
    assert viable["needs"].startswith("Fill in `alive`")


def test_no_more_hard_seeds_are_to_be_opened_than_there_are(tmp_path: Path) -> None:
    bench = Bench("time_course")
    for i in range(2):
        bench.dish(
            f"i{i}", "acid-5", 25, germinated={8: 14}, left={"hard": (3, ""), "dead": (8, "")}
        )
    (group,) = _groups(_built(tmp_path, germ=bench))
    assert any(needs.startswith("Open the 6 hard seeds") for needs in group["missing"])


def test_outcomes_are_enough_for_doses_and_for_the_diagnosis(tmp_path: Path) -> None:
    """An experiment with final outcomes and no counts was refused, though outcomes are all that is needed."""
    bench = Bench("scarification")
    for treatment, normal, dead in (
        ("intact", 3, 1),
        ("acid-5", 8, 1),
        ("acid-15", 16, 2),
        ("acid-30", 21, 2),
        ("acid-60", 13, 10),
    ):
        for i in range(4):
            hard = 25 - normal - dead
            ends = {"normal": (normal, ""), "dead": (dead, ""), "hard": (hard, hard)}
            bench.dish(f"{treatment}{i}", treatment, 25, germinated=None, left=ends)
    try:
        built = _built(tmp_path, acid=bench)
    except Faults as faults:  # pragma: no cover
        pytest.fail(" ".join(faults.sentences))
    assert not built.refused
    (best,) = _estimates(built, "acid", "scarification", "best_duration")
    assert 15 < float(best["value"]) < 45
    (group,) = _groups(built, treatment="acid-30")
    assert group["fates"]["germinated"]["least"] == pytest.approx(21 / 25)


def test_the_coats_of_a_lot_have_one_verdict(tmp_path: Path) -> None:
    """Home said "Closed coats hold water out", and next to it "The coat is not what keeps them from germinating"."""
    germ = Bench("time_course")
    for i in range(4):
        germ.dish(
            f"i{i}", "intact", 25, germinated={8: 2}, left={"hard": (21, 21), "dead": (2, "")}
        )
        germ.dish(f"c{i}", "chipped", 25, germinated={8: 23}, left={"dead": (2, "")})
    water = Bench("imbibition")
    for treatment in ("intact", "chipped"):
        for i in range(20):
            for hour, factor in ((0, 1.0), (24, 1.8), (48, 1.9)):
                cells = {
                    "seed": f"{treatment}{i}",
                    "lot": "bag",
                    "treatment": treatment,
                    "soaked_h": hour,
                }
                water.row("weighings", **cells, mass_mg=round((30 + i) * factor, 2))
    built = _built(tmp_path, germ=germ, water=water)
    home = _text(built, "index")
    assert "Whether coats hold water out is not settled" in home
    for said in (
        "Closed coats hold water out (",
        "The coats let water in",
        "is not what keeps them",
    ):
        for page in built.pages:
            assert said not in _text(built, page)


def test_seeds_of_two_experiments_are_said_to_be_told_together(tmp_path: Path) -> None:
    """Home pooled two experiments (5 %) where the page of one says 8 %, without a word."""
    first, second = Bench("time_course"), Bench("time_course")
    for i in range(4):
        for bench, out in ((first, 2), (second, 12)):
            bench.dish(f"i{i}", "intact", 25, germinated={8: out}, left={"hard": (25 - out, "")})
    built = _built(tmp_path, one=first, two=second)
    home = _text(built, "index")
    assert "28 %" in home
    assert "2 experiments together: 8 % in one , 48 % in two" in home
    assert "2 experiments together" in _text(built, "lots/bag")


def test_a_seed_has_one_fate_and_mould_is_told_apart(tmp_path: Path) -> None:
    """A new outcome in 95 of 100 seeds passed the check and vanished from every page."""
    bench = Bench("time_course")
    for i in range(4):
        bench.dish(
            f"i{i}", "intact", 25, germinated={8: 1}, left={"mouldy": (23, ""), "dead": (1, "")}
        )
    built = _built(tmp_path, germ=bench)
    (group,) = _groups(built)
    assert group["fates"]["mouldy"]["least"] == pytest.approx(0.92)
    assert sum(fate["least"] for fate in group["fates"].values()) == pytest.approx(1)
    assert "mouldy 92 %" in _text(built, "lots/bag")
    (dead,) = _estimates(built, "germ", "time_course", "dead")
    assert float(dead["value"]) == pytest.approx(0.96)
