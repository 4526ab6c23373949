"""What is allowed and yet looks like a mistake is remarked; what careful people do is not."""

import json

import pytest

from hilum.steps import report
from hilum.tables.sentences import looks
from tests import nursery, raw
from tests.faults import mistakes
from tests.faults.notebooks import draw

# a seed whose notebook has a place for the mistake, and what the remark then says
SAID = {
    "Masses of an experiment ten times too large, where the study knows the seeds or the balance": "mg",
    "Masses a thousand times too large, of seeds of 1 mg and more": "mg",
    "Grams typed as milligrams, of seeds up to 5 g": "mg",
    "Groups weighed together, entered as single seeds, where lots.csv has their mass": "thousand-seed mass",
    "Days of inspections typed as hours": "days? Days belong into elapsed_d",
    "Minutes of inspections typed as hours": "minutes? elapsed_h holds hours",
    "Hours of inspections typed as days, of dishes looked at once a day": "hours? Hours belong into elapsed_h",
    "Days of weighings typed as hours": "days? soaked_h holds hours",
    "Minutes of weighings typed as hours": "minutes? soaked_h holds hours",
    "Hours or minutes in acid in another unit": "duration_unit says which",
    "Temperatures of dishes in °F": "degrees Fahrenheit?",
    "The logger of a chamber in °F": "degrees Fahrenheit?",
    "A fraction in a column of per cent": "the column holds per cent",
    "A few dishes sown a year too early": "a year off?",
    "A few dishes sown a month too early": "a month off?",
    "Day and month of a few sowings exchanged": "day and month exchanged?",
    "All dishes of an experiment sown a month too early, inspected by the clock": "first inspected weeks after",
    "A lot collected after it was sown": "before it was collected",
    "One lot or treatment under two spellings": "look alike, taken as different",
    "A folder passed over, or copied": "",
    "A spreadsheet beside the tables": "is a spreadsheet, and not read",
    "One dish copied from another, with ten seeds and more at five looks and more": "have the same counts",
    "An inspection of one dish lost at which nothing germinated, among dishes looked at together": "has no inspection at",
    "Labels of two dishes exchanged between temperatures that differ clearly": "labels exchanged?",
}


@pytest.mark.parametrize("name", SAID)
def test_a_mistake_is_remarked_in_two_of_three_notebooks_and_more(name, seed=500):
    """How many of 200 of each are: `python -m tests.faults --mistakes 200`."""
    told = [notes for _, (notes, _) in zip(range(3), _judged(name, seed), strict=False)]
    assert len(told) == 3
    assert sum(any(SAID[name] in says for says in notes) for notes in told) >= 2


def _judged(name, seed):
    for _, damaged in mistakes.struck(name, iter(range(seed, seed + 400))):
        yield mistakes.judged(damaged)


@pytest.mark.parametrize("seed", range(600, 610))
def test_a_sound_notebook_has_neither_a_remark_nor_a_fault(seed):
    assert mistakes.judged(draw(seed)) == ([], [])


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("T15-a", "t15_a", True),
        ("acid – 30", "acid-30", True),
        ("A.b", "A b", True),
        ("lot 1", "lot l", True),
        ("t1.5", "t15", False),
        ("1-11", "11-1", False),
        ("kept -20", "kept 20", False),
        ("a-1", "a-2", False),
    ],
)
def test_names_look_alike_but_for_case_marks_and_look_alike_letters(one, other, same):
    assert (looks(one) == looks(other)) == same


def _notes(tmp_path, changes):
    study = raw.write(tmp_path, changes)
    assert raw.run(study) == []
    return raw.notes(study)


def test_the_mass_in_lots_settles_what_seeds_may_weigh(tmp_path):
    """Two seeds of 20 mg: a thousand of them weigh 20 g, and not 200 g."""
    head, own, *rest = raw.FILES["lots.csv"].splitlines()

    def told(folder, mass):
        rows = [f"{head},thousand_seed_mass_g", f"{own},{mass}", *(f"{r}," for r in rest), ""]
        return [n for n in _notes(tmp_path / folder, {"lots.csv": "\n".join(rows)}) if "weigh" in n]

    assert told("right", "20.4") == []
    (says,) = told("wrong", "204")
    assert says.startswith(
        "germ/weighings.csv: lines 2, 5: seeds of lot A weigh about 20.5 mg each"
    )
    assert "204 g, which is 204 mg a seed" in says


def test_a_seed_of_fifty_grams_is_doubted_until_its_mass_is_given(tmp_path):
    rows = [
        "seed,lot,treatment,soaked_h,mass_g",
        *(f"s{i},A,acid,0,{50 + i / 10}" for i in range(9)),
    ]
    changes = {"germ/weighings.csv": "\n".join([*rows, ""]), "germ/outcomes.csv": None}
    (says,) = [n for n in _notes(tmp_path / "bare", changes) if "weigh" in n]
    assert "thousand_seed_mass_g of lot A in lots.csv settles it" in says
    lots = "lot,taxon,thousand_seed_mass_g\nA,Strandia ficta,50000\nlot #3,Strandia ficta,\n"
    assert not any("weigh" in n for n in _notes(tmp_path / "given", changes | {"lots.csv": lots}))


@pytest.mark.parametrize(
    ("looks_h", "said"),
    [
        ((1, 2, 3, 5, 7, 10, 14, 21, 28), True),
        ((7, 14, 21, 28), True),
        ((6, 12, 18, 24, 30, 36), False),
        ((9, 15, 23, 33, 39, 47), False),
        ((24, 48, 72, 96), False),
    ],
)
def test_hours_are_doubted_where_nobody_would_have_slept(tmp_path, looks_h, said):
    counts = "dish,elapsed_h,germinated\n" + "".join(
        f"{dish},{hour},{int(i == len(looks_h) - 2)}\n"
        for dish in ("d1", "d2", "d3")
        for i, hour in enumerate(looks_h)
    )
    changes = {"germ/counts.csv": counts, "germ/outcomes.csv": None, "germ/events.csv": None}
    assert any("days?" in n for n in _notes(tmp_path, changes)) == said


def test_dishes_of_noughts_and_dishes_that_germinate_at_once_are_not_copies(tmp_path):
    dishes = "dish,lot,treatment,temperature_c,seeds\n"
    dishes += "".join(f"d{i},A,intact,15,25\n" for i in range(1, 9))
    counts = "dish,elapsed_h,germinated\n" + "".join(
        f"d{i},{24 * t},{25 if t == 1 and i > 4 else 0}\n"
        for i in range(1, 9)
        for t in range(1, 15)
    )
    changes = {"germ/dishes.csv": dishes, "germ/counts.csv": counts}
    changes |= dict.fromkeys(("germ/outcomes.csv", "germ/events.csv", "germ/weighings.csv"))
    assert not any("same counts" in n for n in _notes(tmp_path, changes))


def test_a_treatment_that_says_its_own_duration_is_held_to_it(tmp_path):
    steps = "treatment,method,duration,duration_unit\nintact,none,,\nNone,none,,\nNA,none,,\n"
    steps += "acid,acid,30,min\nacid 4h,acid,4,min\nacid-45 min,acid,45,min\n"
    told = [n for n in _notes(tmp_path, {"treatments.csv": steps}) if "duration" in n]
    assert told == [
        'treatments.csv, line 6: duration of "acid 4h: 4 min", its name says another: seconds, minutes, hours or days? duration_unit '
        "says which."
    ]


def test_remarks_are_handed_on_with_their_experiment(tmp_path):
    changes = raw.edited("germ/dishes.csv", ("d3,lot #3,None,25", "d3,lot #3,None,77"))
    study = raw.write(
        tmp_path, changes | raw.edited("lots.csv", ("2024-03-09,85", "2024-03-09,0.85"))
    )
    assert raw.run(study) == []
    remarks = json.loads((study.checked / "remarks.json").read_text(encoding="utf-8"))
    assert [
        r["experiment"] for r in remarks if "Fahrenheit" in r["says"] or "per cent" in r["says"]
    ] == ["germ", ""]
    assert any(r["says"].startswith("dishes.csv, line 4: temperature_c has 77") for r in remarks)


def test_pages_show_the_remarks_of_their_experiment_and_home_counts_them(tmp_path):
    study, settings = nursery.study(tmp_path)
    home = nursery.swelling(tmp_path / "analyses")
    remarks = [
        {"experiment": "soaking", "says": f"weighings.csv, line 3: {nursery.HOSTILE} *odd* | `a`."},
        {"experiment": "soaking", "says": "weighings.csv: second."},
        {"experiment": "", "says": f"lots.csv, line 2: {nursery.SEED} [x](y)."},
    ]
    (study.checked / "remarks.json").write_text(json.dumps(remarks), encoding="utf-8")
    nursery.register(home)
    try:
        report.run(study, settings)
    finally:
        nursery.forget(home)
    own, other, first = (
        (study.pages / name).read_text(encoding="utf-8")
        for name in ("experiments/soaking.md", "experiments/ñandú soak.md", "index.md")
    )
    assert '<a href="#remarks">2 remarks</a>' in own
    assert own.count("{ #remarks }") == 1
    assert own.count("weighings.csv: second.") == 1
    assert "#remarks" not in other
    assert 'experiments/soaking.html">' not in first
    assert '2 remarks on <a href="experiments/soaking.html#remarks">' in first
    assert "1 remark on the tables of the whole study" in first
    for page in (own, first):
        assert "<script>document" not in page
        assert nursery.HOSTILE not in page
        assert nursery.SEED not in page
        assert "*odd*" not in page
        assert "[x](y)" not in page
