"""Trueness to name from the tables to the page: a sentence for every named outcome, and how often a true taxon is accused."""

import html
import re
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binom

from hilum.analyses.naming import Naming
from hilum.analyses.simulated import as_table
from hilum.analyses.trueness_to_name import chart, model, truth
from hilum.report import pages
from hilum.settings import Settings
from hilum.stats import ranges
from hilum.steps import check, fit, report
from hilum.study import Study
from tests import named
from tests.calibration import labelled
from tests.demo import raw

SETTINGS = Settings(study=".")
PRIMA = {"seed length": (6.8, 8.1), "seed width": (5.0, 6.0), "seed shape": "kidney-shaped"}
ALTERA = {"seed length": (7.5, 9.0), "seed width": (5.1, 6.1), "seed shape": "round; oval"}


def _fit(tables, settings=SETTINGS):
    return model.fit(tables, settings=settings, rng=np.random.default_rng(1))


def _tables(measured, taxa, label="Fabula prima"):
    """Return tables of one lot: `measured` and `taxa` hold values or states by trait."""
    rows = [
        {"specimen": f"s{i}", "lot": "bag", "trait": trait}
        | ({"state": one} if isinstance(one, str) else {"value": one, "unit": "mm"})
        for trait, several in measured.items()
        for i, one in enumerate(several)
    ]
    told = [
        {"taxon": taxon, "trait": trait, "source": f"Flora {number}"}
        | ({"states": r} if isinstance(r, str) else {"low": r[0], "high": r[1], "unit": "mm"})
        for number, (taxon, ranges) in enumerate(taxa)
        for trait, r in ranges.items()
    ]
    made = {
        "traits": as_table("traits", rows),
        "lots": as_table("lots", [{"lot": "bag", "taxon": label}]),
    }
    return made | ({"reference_traits": as_table("reference_traits", told)} if told else {})


BOTH = (("Fabula prima", PRIMA), ("Fabula altera", ALTERA))


def _page(found):
    """Return the words of the page by macro, as a reader sees them."""
    module = (
        pages.environment()
        .get_template("trueness_to_name/page.md.jinja")
        .make_module(
            {
                "estimates": found.estimates,
                "drawing": found.drawing,
                "figures": {},
                "experiment": {},
                "seeds": Naming(found.estimates),
                "rows": found.rows,
            }
        )
    )
    told = {
        name: html.unescape(str(getattr(module, name)()))
        for name in ("answer", "limits", "next_step", "details", "headline")
    }
    return {k: " ".join(v.replace("\N{NO-BREAK SPACE}", " ").split()) for k, v in told.items()}


def _lot(found):
    (only,) = found.drawing.lots
    return only


def _standings(found):
    return {c.taxon: c.standing for c in _lot(found).candidates}


# --- the truth is found again


def test_fit_finds_what_simulate_put_in():
    known = model.TRUTH
    found = _fit(model.simulate(known, rng=np.random.default_rng(3)))
    verdicts = {lot.lot: lot.verdict for lot in found.drawing.lots}
    assert verdicts == {"first": "label_alone", "second": "label_excluded"}
    shares = [e for e in found.estimates if e.quantity == "outside_range"]
    lots = {lot.lot: lot for lot in known.lots}
    held = 0
    for e in shares:
        taxon, trait = e.versus.split(": ")
        held += e.low <= truth.outside(known, lots[e.lot], taxon, trait) <= e.high
    assert len(shares) == 18
    assert held >= binom.ppf(0.01, len(shares), 0.95)


# --- named outcomes


def test_a_lot_that_only_its_label_fits():
    found = _fit(_tables({"seed length": np.linspace(6.8, 8.0, 30)}, BOTH))
    assert _lot(found).verdict == "label_alone"
    answer = _page(found)["answer"]
    assert (
        "compatible with Fabula prima, the label, by 1 trait of 30 specimens".replace(
            "label,", "label**,"
        )
        in answer
    )
    # 7.5 is the lower end, rounded to a tenth: 16 of the 30 lie below 7.45
    assert (
        "Not compatible with Fabula altera (seed length: 53 % (34 to 72 %) of the lot lies below the published 7.5 to 9 mm)."
        in answer
    )
    assert " is Fabula" not in answer


def test_the_ends_of_a_range_belong_to_it_and_several_sources_are_taken_together():
    wider = ("Fabula prima", {"seed length": (6.0, 7.0), "seed shape": "Round"})
    found = _fit(
        _tables({"seed length": [6.0, 6.8, 8.1, 8.2], "seed shape": ["round"] * 4}, [*BOTH, wider])
    )
    rows = {(r["taxon"], r["trait"]): r for r in found.rows["ranges"]}
    one = rows["Fabula prima", "seed length"]
    assert (one["published"], one["outside"], one["above"]) == ("6 to 8.1 mm", 1, 1)
    assert one["source"] == "Flora 0; Flora 2"
    # capitals tell no states apart
    assert rows["Fabula prima", "seed shape"]["outside"] == 0


def _rounded(step):
    """Return a lot of 5.4 to 7.4 mm whose label's range was printed as 5 to 7."""
    tables = _tables(
        {"seed length": np.linspace(5.4, 7.4, 40)}, (("Fabula prima", {"seed length": (5.0, 7.0)}),)
    )
    return _fit(_changed(tables, step))


def _changed(tables, step):
    told = tables["reference_traits"]
    return tables | {"reference_traits": told | {"rounded_to": np.full(len(told["low"]), step)}}


def test_a_range_printed_without_decimals_accuses_no_lot_of_what_was_rounded_away():
    kept, exact = _rounded(np.nan), _rounded(0.0)
    assert _standings(kept) == {"Fabula prima": "compatible"}
    assert kept.rows["ranges"][0]["outside"] == 0
    # taken to the letter, a fifth of the lot lies above 7
    assert exact.rows["ranges"][0]["above"] == 8
    assert _standings(exact) == {"Fabula prima": "excluded"}
    limits = _page(kept)["limits"]
    said = "counts as outside only if it misses a limit by more than half the last digit"
    assert f"{said} (5 to 7 mm reads as 4.5 to 7.5 mm)." in limits
    assert said not in _page(exact)["limits"]
    assert _page(kept)["details"].count("5 to 7 mm"), "what was printed is shown as printed"


@pytest.mark.parametrize(
    ("ends", "step"),
    [((6.8, 7.0), 0.1), ((5.0, 7.0), 1.0), ((10.0, 20.0), 1.0), ((0.25, 3.0), 0.01)],
)
def test_the_decimals_of_both_ends_tell_to_what_step_they_were_printed(ends, step):
    assert ranges.printed_step(*ends) == pytest.approx(step)


def test_the_end_of_what_may_have_been_rounded_belongs_to_the_range():
    tables = _tables(
        {"seed length": (6.75, 8.15, 6.74, 8.16)}, (("Fabula prima", {"seed length": (6.8, 8.1)}),)
    )
    (row,) = _fit(tables).rows["ranges"]
    assert (row["below"], row["above"]) == (1, 1)
    (row,) = _fit(_changed(tables, 0.2)).rows["ranges"]
    assert (row["below"], row["above"]) == (0, 0)


def test_a_label_that_cannot_be_told_from_a_look_alike():
    rest = ("Fabula parva", {"seed length": (4.0, 5.0)})
    found = _fit(_tables({"seed length": np.linspace(7.6, 8.0, 20)}, [*BOTH, rest]))
    assert _lot(found).verdict == "not_told_apart"
    told = _page(found)
    assert "It cannot be told apart from Fabula altera by these traits." in told["answer"]
    assert "Not compatible with Fabula parva" in told["answer"]
    assert "cannot be told apart from Fabula altera" in told["headline"]


def test_where_the_traits_separate_nothing_the_page_names_the_trait_and_the_specimens_that_would():
    found = _fit(_tables({"seed length": np.linspace(7.6, 8.0, 6)}, BOTH))
    assert _lot(found).verdict == "all_compatible"
    told = _page(found)
    assert "The traits separate nothing" in told["answer"]
    (pair,) = _lot(found).separations
    # shapes that never occur in both: two of two would do for one trait of two at 0.1² = 0.01, but nine of ten are reckoned with
    assert pair.trait == "seed shape"
    assert 2 <= pair.excludes_other <= 6
    assert "measure **seed shape**: about" in told["next_step"]
    assert "on grown plants" not in told["next_step"], "seeds show the shape of seeds"
    leaves = [
        (
            taxon,
            {
                trait.replace("seed shape", "leaf margin"): told_of
                for trait, told_of in traits.items()
            },
        )
        for taxon, traits in BOTH
    ]
    of_leaves = _page(_fit(_tables({"seed length": np.linspace(7.6, 8.0, 6)}, leaves)))
    assert "**leaf margin** (on grown plants, if seeds do not show it)" in of_leaves["next_step"]
    assert "here none" in told["next_step"]


def test_a_trait_that_was_measured_often_enough_without_telling_is_not_asked_for_again():
    taxa = [(taxon, {"seed length": r["seed length"]}) for taxon, r in BOTH]
    found = _fit(_tables({"seed length": np.linspace(7.6, 8.0, 200)}, taxa))
    (pair,) = _lot(found).separations
    assert (pair.trait, pair.exhausted) == ("", ("seed length",))
    assert "the lot lies where the ranges of both overlap" in _page(found)["next_step"]


def test_ranges_that_overlap_too_far_ask_for_another_trait():
    alike = (
        ("Fabula prima", {"seed width": (5.0, 6.0)}),
        ("Fabula altera", {"seed width": (5.02, 6.02)}),
    )
    found = _fit(_tables({"seed width": np.linspace(5.1, 5.9, 20)}, alike))
    assert "overlaps too far for any number of specimens" in _page(found)["next_step"]


def test_a_lot_that_fits_no_taxon():
    found = _fit(_tables({"seed length": np.linspace(3, 4, 12)}, BOTH))
    assert _lot(found).verdict == "none_compatible"
    told = _page(found)
    assert "compatible with none of the taxa" in told["answer"]
    assert "Look again at the specimens that lie outside" in told["next_step"]
    assert len(found.rows["outside"]) == 12
    assert found.rows["outside"][0] == {
        "specimen": "s0",
        "lot": "bag",
        "trait": "seed length",
        "measured": "3 mm",
        "published": "6.8 to 8.1 mm",
    }


def test_a_lot_smaller_than_its_label_gets_the_reasons_of_a_botanist():
    shape = {"seed shape": ["kidney-shaped"] * 30}
    found = _fit(_tables({"seed length": np.linspace(6.0, 7.2, 30)} | shape, BOTH))
    told = _page(found)
    assert "The lot is smaller than its label suggests (seed length)" in told["answer"]
    assert told["headline"].endswith("It is smaller than its label suggests.")
    step = told["next_step"]
    for reason in (
        "unripe",
        "drier",
        "poor season",
        "another taxon, or a smaller form",
        "measured otherwise",
    ):
        assert f"**{reason}" in step
    assert "(common practice, no source)" in step
    assert "What does not speak against the label: seed shape." in step
    larger = _page(_fit(_tables({"seed length": np.linspace(8.5, 9.9, 30)}, BOTH)))
    assert "Larger than the label suggests" in larger["next_step"]
    assert "smaller than its label" not in larger["answer"]


def test_another_label_than_that_which_fits():
    found = _fit(_tables({"seed shape": ["oval"] * 15, "seed length": [8.0] * 15}, BOTH))
    assert _lot(found).verdict == "label_excluded"
    answer = _page(found)["answer"]
    assert (
        "**not compatible with Fabula prima, the label** (seed shape: 100 % (78 to 100 %) of the lot is not kidney-shaped)"
        in answer
    )
    assert "Compatible with Fabula altera." in answer


def test_one_specimen_excludes_nothing():
    found = _fit(_tables({"seed length": [2.0], "seed width": [1.0]}, BOTH))
    assert _lot(found).verdict == "one_specimen"
    assert set(_standings(found).values()) == {"too_few"}
    told = _page(found)
    assert "**one specimen excludes nothing**" in told["answer"]
    assert "Measure more specimens" in told["next_step"]
    compatible = [e for e in found.estimates if e.quantity == "compatible"]
    assert {e.status for e in compatible} == {"not_identified"}


def test_too_few_specimens_say_so_where_a_range_is_taken_to_cover_little():
    loose = SETTINGS.model_copy(update={"range_covers": 0.6})
    found = _fit(_tables({"seed length": [2.0, 2.1, 2.2]}, BOTH), loose)
    # 0.4³ = 0.064: three of three do not exclude
    assert _lot(found).verdict == "too_few"
    assert "**too few specimens to say**: 3 could not exclude" in _page(found)["answer"]
    assert set(_standings(_fit(_tables({"seed length": [2.0] * 4}, BOTH), loose)).values()) == {
        "excluded"
    }


def test_a_trait_without_a_reference_is_left_out_and_told():
    plain = _tables({"seed length": [7.0] * 12}, BOTH)
    more = _tables({"seed length": [7.0] * 12, "wing length": [3.0] * 12}, BOTH)
    one, two = _fit(plain), _fit(more)
    assert _standings(one) == _standings(two)
    assert [r["p_adjusted"] for r in one.rows["ranges"]] == [
        r["p_adjusted"] for r in two.rows["ranges"]
    ]
    assert "wing length was measured, but nothing is published of it here" in _page(two)["limits"]
    lost = next(e for e in two.estimates if e.versus == "wing length")
    assert (lost.status, lost.needs[:28]) == ("not_identified", "nothing is published of this")


def test_without_any_reference_nothing_is_said():
    found = _fit(_tables({"seed length": [7.0] * 12}, []))
    assert _lot(found).verdict == "no_references"
    told = _page(found)
    assert "nothing can be said: the study has no published ranges" in told["answer"]
    assert "enter them in reference_traits.csv" in told["next_step"]
    assert told["headline"] == ""
    assert chart.figures(found.drawing, found.estimates)


def test_where_no_measured_trait_is_published_nothing_is_said():
    found = _fit(_tables({"wing length": [3.0] * 12}, BOTH))
    assert _lot(found).verdict == "unreferenced"
    assert "of no trait measured here (wing length) is a range published" in _page(found)["answer"]


def test_a_label_that_the_references_do_not_have():
    found = _fit(_tables({"seed length": [7.0] * 12}, BOTH, label="Fabula ignota"))
    assert _lot(found).verdict == "label_unlisted"
    told = _page(found)
    assert "the label (Fabula ignota) cannot be judged" in told["answer"]
    assert "The lot is compatible with Fabula prima." in told["answer"]
    assert "Listed there now: Fabula prima and Fabula altera." in told["next_step"]


def test_a_label_whose_measured_traits_are_not_published():
    taxa = (("Fabula prima", {"seed width": (5.0, 6.0)}), ("Fabula altera", ALTERA))
    found = _fit(_tables({"seed length": [8.0] * 12}, taxa))
    assert _lot(found).verdict == "label_unreferenced"
    assert "of the traits measured here none is published of it" in _page(found)["answer"]


def test_a_label_without_look_alikes():
    found = _fit(_tables({"seed length": [7.0] * 12}, BOTH[:1]))
    assert _lot(found).verdict == "only_label"
    assert "cannot be told apart from any" in _page(found)["answer"]


def test_a_state_that_no_source_names_may_be_misspelt():
    found = _fit(_tables({"seed shape": ["kidney shaped"] * 9 + ["round"]}, BOTH))
    assert "no source names kidney shaped. Is it spelled otherwise there?" in _page(found)["limits"]


def _any_study(rng):
    """Return a study of any number of specimens, traits and taxa, whose label may be unknown."""
    names = ["seed length", "seed width", "seed shape", "wing length"]
    traits = [t for t in names if rng.random() < 0.7] or names[:1]
    shapes = ["round", "oval", "flat"]
    measured = {
        t: list(rng.choice(shapes, n)) if t == "seed shape" else list(rng.normal(7, 1, n).round(2))
        for t in traits
        for n in [int(rng.integers(1, 25))]
    }
    taxa = []
    for number in range(int(rng.integers(0, 7))):
        told = {
            t: (low, low + 3 * rng.random())
            for t in names
            if rng.random() < 0.6
            for low in [rng.normal(6, 1)]
        }
        if "seed shape" in told:
            told["seed shape"] = "; ".join(shapes[: int(rng.integers(1, 4))])
        taxa.append((f"Fabula {number}", told))
    return _tables(measured, taxa, label=f"Fabula {rng.integers(0, 4)}")


def test_whatever_was_measured_the_page_answers_and_never_says_that_a_lot_is_of_a_taxon():
    seen = set()
    for number in range(150):
        found = _fit(_any_study(np.random.default_rng([5, number])))
        told = _page(found)
        seen.add(_lot(found).verdict)
        words = " ".join(told.values())
        assert not re.search(r"\b(None|nan|inf|undefined)\b", words)
        assert not re.search(r"(lot|it|these|seeds) (is|are) Fabula", words)
        assert len(told["answer"]) > 40
        assert len(told["next_step"]) > 40
        if number % 15 == 0:
            assert chart.figures(found.drawing, found.estimates)
    assert len(seen) >= 9


# --- what is assumed of a range


def test_a_taxon_is_excluded_just_where_its_range_covers_more_than_the_page_says():
    tables = _tables({"seed length": [7.0] * 24 + [6.0] * 16, "seed width": [5.5] * 40}, BOTH[:1])
    (candidate,) = _lot(_fit(tables)).candidates
    assert candidate.standing == "excluded"
    for away, standing in ((-0.001, "compatible"), (0.001, "excluded")):
        covers = candidate.covers_less + away
        found = _fit(tables, SETTINGS.model_copy(update={"range_covers": covers}))
        assert _standings(found) == {"Fabula prima": standing}


# --- calibration

STUDIES = 300


def _excluded(design, taxon, studies=STUDIES):
    return labelled.excluded(design, taxon, studies=studies, seed=7)


@pytest.mark.parametrize("case", list(labelled.CASES)[:-1])
def test_a_true_taxon_is_excluded_in_no_more_than_a_twentieth_of_lots(case):
    """The ranges cover just the share that is assumed of them: nothing is easier to accuse."""
    wrong = _excluded(labelled.CASES[case], named.LABEL)
    assert wrong <= 0.05 + 2 * np.sqrt(0.05 * 0.95 / STUDIES)


def test_a_range_that_covers_less_than_assumed_accuses_true_taxa():
    """The assumption carries the promise: the page prints it, and from which coverage on the answer turns."""
    few = "ranges that cover 0.7 where 0.9 is assumed"
    assert _excluded(labelled.CASES[few], named.LABEL, studies=100) > 0.3


def test_a_look_alike_is_excluded_as_often_as_the_exact_test_says():
    design = named.Design(traits=1, specimens=30, away=1.5)
    share = named.outside_the_look_alike(design)
    enough = next(k for k in range(31) if binom.sf(k - 1, 30, 0.1) <= 0.05)
    expected = binom.sf(enough - 1, 30, share)
    assert abs(_excluded(design, named.LIKE) - expected) < 3 * np.sqrt(0.25 / STUDIES)
    assert expected > 0.8


def test_the_share_outside_is_held_by_its_interval():
    design, held = named.Design(traits=1, specimens=30, away=1.0), 0
    share = named.outside_the_look_alike(design)
    for n in range(STUDIES):
        found = _fit(named.tables(design, np.random.default_rng([9, n])))
        e = next(e for e in found.estimates if e.versus == f"{named.LIKE}: trait 0")
        held += e.low <= share <= e.high
    assert held / STUDIES >= 0.95 - 2 * np.sqrt(0.95 * 0.05 / STUDIES)


def test_as_many_specimens_as_the_page_asks_for_separate_in_four_samples_of_five():
    """The lot is spread evenly over the range of its label, as the page says that it assumes."""
    found = _fit(_tables({"seed length": np.linspace(7.6, 8.0, 6)}, [
        (taxon, {"seed length": r["seed length"]}) for taxon, r in BOTH
    ]))  # fmt: skip
    (pair,) = _lot(found).separations
    wanted, rng, excluded = int(pair.excludes_other), np.random.default_rng(4), 0
    for _ in range(300):
        inside = rng.random(wanted) < 0.9
        # the others may lie anywhere: here where they help least
        drawn = np.where(inside, rng.uniform(6.8, 8.1, wanted), 8.5)
        excluded += _standings(_fit(_tables({"seed length": drawn}, [
            (taxon, {"seed length": r["seed length"]}) for taxon, r in BOTH
        ])))["Fabula altera"] == "excluded"  # fmt: skip
    assert 0.8 - 3 * 0.023 < excluded / 300 < 0.95


# --- charts


def test_every_trait_has_a_figure_that_names_what_was_measured_and_published():
    known = replace(model.TRUTH, lots=model.TRUTH.lots[:1])
    found = _fit(model.simulate(known, rng=np.random.default_rng(3)))
    made = chart.figures(found.drawing, found.estimates)
    assert [re.sub(":.*", "", f.title) for f in made] == ["Seed length", "Seed width", "Seed shape"]
    for figure in made:
        for taxon in ("Fabula prima", "Fabula similis", "Fabula parva"):
            assert taxon in figure.caption


# --- a study that has nothing else


def test_a_study_of_measured_seeds_alone_goes_the_whole_way(tmp_path):
    study = Study(raw=tmp_path / "labels", results=tmp_path / "results")
    tables = model.simulate(model.TRUTH, rng=np.random.default_rng(3))
    raw.write(study.raw / "measured" / "traits.csv", *raw.table(tables["traits"]))
    for name in ("lots", "reference_traits"):
        raw.write(study.raw / f"{name}.csv", *raw.table(tables[name]))
    text = "title: Are these the seeds on the label?\nanalyses: [trueness_to_name]\n"
    (study.raw / "measured" / "experiment.yaml").write_text(text, encoding="utf-8")
    settings = Settings(study=study.raw)
    for step in (check, fit, report):
        step.run(study, settings)
    made = {p.name: p.read_text(encoding="utf-8") for p in study.pages.rglob("*.md")}
    assert {"index.md", "measured.md", "first.md", "second.md"} <= set(made)
    assert "compatible with Fabula prima, the label" in made["measured.md"]
    assert "not compatible with its label" in made["second.md"]
    assert "No seeds of this lot were sown or weighed yet" in made["second.md"]
    assert re.search('<a href="#rows-[^"]+">rows</a>', made["measured.md"])
