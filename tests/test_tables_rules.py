"""Rules between rows and tables: each names file, line, column, value and what would be right."""

import numpy as np
import pytest

from tests import raw

COUNTS = "germ/counts.csv"
DISHES = "germ/dishes.csv"
OUTCOMES = "germ/outcomes.csv"
WEIGHINGS = "germ/weighings.csv"
EVENTS = "germ/events.csv"

# a change of the faultless study, and every fault that it must give
CASES = {
    "unknown dish": (
        raw.edited(COUNTS, ("d1,24,0", "dl,24,0")),
        ["germ/counts.csv, line 2: dish is dl, which dishes.csv does not list; perhaps you meant d1."],
    ),
    "unknown dish of an event": (
        raw.edited(EVENTS, ("d3", "d9")),
        ["germ/events.csv, line 2: dish is d9, which dishes.csv does not list."],
    ),
    "unknown lot": (
        raw.edited(DISHES, ("d3,lot #3", "d3,lot 3")),
        [
            'germ/dishes.csv, line 4: lot is "lot 3", which lots.csv does not list; perhaps you meant '
            '"lot #3".'
        ],
    ),
    "unknown treatment": (
        raw.edited("germ/viability.csv", ("intact", "Intact")),
        [
            "germ/viability.csv, line 2: treatment is Intact, which treatments.csv does not list; "
            "perhaps you meant intact."
        ],
    ),
    "more germinated than sown": (
        raw.edited(COUNTS, ("d2,48,5", "d2,48,15")),
        ["germ/counts.csv, line 5: germinated is 15, but only 10 seeds of dish d2 were left; if these are "
         "running totals, call the column germinated_so_far."],
    ),
    "more germinated than the one seed left": (
        raw.edited(COUNTS, ("d2,24,10", "d2,24,19"), ("d2,48,5", "d2,48,9")),
        ["germ/counts.csv, line 5: germinated is 9, but only 1 seed of dish d2 was left."],
    ),
    "more removed than left": (
        raw.edited(COUNTS, ("d1,48,3,1", "d1,48,3,23")),
        ["germ/counts.csv, line 3: removed is 23, but 22 seeds of dish d1 could still be removed."],
    ),
    "outcomes that do not add up": (
        raw.edited(OUTCOMES, ("hard,19", "hard,18")),
        [
            "germ/dishes.csv, line 2: seeds is 25, but 3 germinated and 1 removed in counts.csv, and 20 "
            "in outcomes.csv, make 24 in dish d1."
        ],
    ),
    "more seedlings than germinated": (
        raw.edited(OUTCOMES, ("normal,14", "normal,17")),
        [
            "germ/dishes.csv, line 3: seeds is 20, but of dish d2 16 germinated in counts.csv and 17 in "
            "outcomes.csv."
        ],
    ),
    "discarded with seeds of no known fate": (
        raw.with_rows(EVENTS, "d3,48,discarded,"),
        [
            "germ/dishes.csv, line 4: seeds is 20, but 2 germinated and 0 removed in counts.csv, and 0 in "
            "outcomes.csv, make 2 in dish d3; events.csv has it discarded: list the rest in outcomes.csv, as lost where nobody knows."
        ],
    ),
    "inspections out of order": (
        raw.edited(COUNTS, ("d2,24", "d2,60")),
        [
            "germ/counts.csv, line 5: elapsed_h is 48, but line 4 above has dish d2 at 60 h; the "
            "inspections of a dish stand in order of time."
        ],
    ),
    "the same inspection twice": (
        raw.edited(COUNTS, ("d3,24,2,,", "d3,24,2,,\nd3,24,2,,")),
        [
            "germ/counts.csv, line 8: elapsed_h is 24, which line 7 has already for the same dish; keep "
            "one, or name the wrong one under known_faults in experiment.yaml."
        ],
    ),
    "the same inspection twice with different numbers": (
        raw.edited(COUNTS, ("d3,24,2,,", "d3,24,2,,\nd3,24,7,,")),
        [
            "germ/counts.csv, line 8: elapsed_h is 24, which line 7 has already for the same dish, but "
            "with germinated 2 there and 7 here; keep one, or name the wrong one under known_faults in "
            "experiment.yaml."
        ],
    ),
    "germinated when sown": (
        raw.edited(COUNTS, ("d3,24,2,,", "d3,0,2,,")),
        ["germ/counts.csv, line 7: germinated is 2 at 0 h, when the dish was sown."],
    ),
    "removed for no reason": (
        raw.edited(COUNTS, ("1,dead", "1,")),
        [
            "germ/counts.csv, line 3: removed is 1, but removed_as does not say why: dead, mouldy, lost or "
            "sampled."
        ],
    ),
    "a reason for nothing": (
        raw.edited(COUNTS, ("d2,24,10,,", "d2,24,10,,lost")),
        ["germ/counts.csv, line 4: removed_as is lost, but `removed` names no seeds."],
    ),
    "no mass before soaking": (
        raw.edited(WEIGHINGS, ("s2,A,intact,d1,0,21.0", "s2,A,intact,d1,2,21.0")),
        [
            "germ/weighings.csv, line 5: soaked_h is 2, but seed s2 has no mass before soaking, which is the one at "
            "0 h."
        ],
    ),
    "a fall beyond blotting": (
        raw.edited(WEIGHINGS, ("48,42.0", "48,30.0")),
        [
            "germ/weighings.csv, line 4: mass_mg is 30.0, 11.5 mg less than at 24 h (line 3): more than "
            "blotting explains."
        ],
    ),
    "a seed shrinks tenfold": (
        raw.edited(WEIGHINGS, ("48,42.0", "48,4.20")),
        [
            "germ/weighings.csv, line 4: mass_mg is 4.20, about 10 times smaller than the 20 mg of seed "
            "s1 otherwise: another unit, or a point in the wrong place?"
        ],
    ),
    "grams among milligrams": (
        raw.edited(WEIGHINGS, ("24,21.4", "24,0.0214")),
        [
            "germ/weighings.csv, line 6: mass_mg is 0.0214, about 1000 times smaller than the 21 mg of "
            "seed s2 otherwise: another unit, or a point in the wrong place?"
        ],
    ),
    "a wrong mass before soaking is blamed itself": (
        raw.edited(WEIGHINGS, ("0,20.0", "0,2.00")),
        [
            "germ/weighings.csv, line 2: mass_mg is 2.00, about 10 times smaller than the 41.5 mg of seed "
            "s1 otherwise: another unit, or a point in the wrong place?"
        ],
    ),
    "a whole seed in another unit": (
        raw.with_rows(
            WEIGHINGS,
            *(f"x{i},A,acid,,0,20.5,," for i in range(5)),
            "y,A,acid,,0,2000,,",
            "y,A,acid,,24,4100,,",
        ),
        [
            "germ/weighings.csv, line 12: mass_mg is 2000, but seeds of lot A weigh about 20.5 mg each: "
            "another unit, or a point in the wrong place?"
        ],
    ),
    "a mass of nothing": (
        raw.edited(WEIGHINGS, ("48,42.0", "48,0")),
        ["germ/weighings.csv, line 4: mass_mg is 0; a seed weighs more than nothing."],
    ),
    "nothing observed": (
        raw.edited(WEIGHINGS, ("24,41.5,no,no", "24,,,")),  # the last row may be still to come
        [
            "germ/weighings.csv, line 3: seed s1 has neither a mass nor an entry for floats or radicle "
            "here."
        ],
    ),
    "one seed of two lots": (
        raw.edited(WEIGHINGS, ("s1,A,acid,,48", "s1,lot #3,acid,,48")),
        ['germ/weighings.csv, line 4: lot is "lot #3", but line 2 says A for the same seed.'],
    ),
    "a radicle that is gone": (
        raw.edited(WEIGHINGS, ("41.5,no,no", "41.5,no,yes"), ("42.0,no,yes", "42.0,no,no")),
        ["germ/weighings.csv, line 4: radicle is no, but it was out in line 3."],
    ),
    "the same weighing twice": (
        raw.with_rows(WEIGHINGS, "s2,A,intact,d1,24,22.0,,"),
        [
            "germ/weighings.csv, line 7: soaked_h is 24, which line 6 has already for the same seed, but "
            "with mass_mg 21.4 there and 22 here; keep one, or name the wrong one under known_faults in "
            "experiment.yaml."
        ],
    ),
    "sown in a dish of another treatment": (
        raw.edited(WEIGHINGS, ("s2,A,intact,d1,0", "s2,A,acid,d1,0"), ("s2,A,intact,d1,24", "s2,A,acid,d1,24")),
        [
            f"germ/weighings.csv, line {line}: treatment is acid, but it was sown in dish d1, whose "
            "treatment is intact."
            for line in (5, 6)
        ],
    ),
    "more weighed than sown": (
        raw.with_rows(WEIGHINGS, *(f"x{i},A,acid,d2,0,20.5,," for i in range(21))),
        [
            "germ/weighings.csv, line 27: dish is d2, but with this seed more are weighed for it than the "
            "20 sown."
        ],
    ),
    "an outcome of an unknown seed": (
        raw.with_rows(OUTCOMES, ",s9,dead,1,,"),
        [
            "germ/outcomes.csv, line 7: seed is s9, which weighings.csv does not list, and the row names "
            "no dish."
        ],
    ),
    "an outcome of nothing": (
        raw.with_rows(OUTCOMES, ",,dead,1,,"),
        [
            "germ/outcomes.csv, line 7: dish is empty, and so is seed; every row needs one of them."
        ],
    ),
    "an outcome in another dish": (
        raw.edited(OUTCOMES, ("d1,s2", "d2,s2")),
        [
            "germ/outcomes.csv, line 4: dish is d2, but weighings.csv says that seed s2 was sown in d1."
        ],
    ),
    "one seed with two fates": (
        raw.with_rows(OUTCOMES, ",s1,normal,1,,", ",s1,dead,1,,"),
        ["germ/outcomes.csv, line 8: seeds is 1, but s1 is 1 seed in weighings.csv."],
    ),
    "more alive than seeds": (
        raw.edited(OUTCOMES, ("19,12", "19,21")),
        ["germ/outcomes.csv, line 2: alive is 21, but the row has 19 seeds."],
    ),
    "dead and alive": (
        raw.edited(OUTCOMES, ("dead,1,,", "dead,1,1,")),
        ["germ/outcomes.csv, line 3: alive is 1, but the outcome is dead."],
    ),
    "viability that does not add up": (
        raw.edited("germ/viability.csv", ("42", "44")),
        [
            "germ/viability.csv, line 2: seeds is 50, but alive, dead and empty add up to 52."
        ],
    ),
    "a night without hours": (
        raw.edited(DISHES, ("15,5,12", "15,5,")),
        [
            "germ/dishes.csv, line 3: night_temperature_c is 5, but warm_h is empty; give both or neither."
        ],
    ),
    "hours without a night": (
        raw.edited(DISHES, ("15,5,12", "15,,12")),
        [
            "germ/dishes.csv, line 3: warm_h is 12, but night_temperature_c is empty; give both or "
            "neither."
        ],
    ),
    "a dish twice": (
        raw.with_rows(DISHES, "d3,lot #3,None,30,,,,20,"),
        [
            "germ/dishes.csv, line 5: dish is d3, which line 4 has already, but with temperature_c 25 "
            "there and 30 here; keep one, or name the wrong one under known_faults in experiment.yaml."
        ],
    ),
    "a lot twice": (
        raw.with_rows("lots.csv", "A,Strandia ficta,2024-03-01,2024-03-09,85,"),
        ["lots.csv, line 4: lot is A, which line 2 has already."],
    ),
    "received before collected": (
        raw.edited("lots.csv", ("2024-03-09", "2023-03-09")),
        [
            "lots.csv, line 2: received_on is 2023-03-09, before the lot was collected on 2024-03-01."
        ],
    ),
    "a step that is missing": (
        raw.edited("treatments.csv", ("acid,2,other", "acid,3,other")),
        ["treatments.csv, line 4: step is 3, but treatment acid has no step 2."],
    ),
    "a duration without unit": (
        raw.edited("treatments.csv", ("30,min", "30,")),
        [
            "treatments.csv, line 3: duration is 30, but duration_unit is empty; give both or neither."
        ],
    ),
    "nothing done for half an hour": (
        raw.edited("treatments.csv", ("NA,,none,,,,,", "NA,,none,,,,30,min")),
        ["treatments.csv, line 6: duration is 30, but the method of this step is none."],
    ),
    "moved nowhere": (
        raw.edited(EVENTS, ("moved,20", "moved,")),
        [
            "germ/events.csv, line 2: event is moved, but `to` does not say where: a temperature or a "
            "chamber."
        ],
    ),
    "inspected after the end": (
        raw.edited(EVENTS, ("d3,24,moved,20", "d3,12,discarded,"))
        | raw.with_rows(OUTCOMES, "d3,,lost,18,,"),
        ["germ/counts.csv, line 7: elapsed_h is 24, but dish d3 was discarded at 12 h."],
    ),
    "one seedling of two lots": (
        raw.with_rows("germ/stages.csv", "p1,lot #3,acid,12,2"),
        [
            'germ/stages.csv, line 4: lot is "lot #3", but line 2 says A for the same seedling.',
        ],
    ),
    "one seedling in two trays": (
        {
            "germ/stages.csv": "seedling,lot,treatment,tray,elapsed_d,leaves\n"
            "p1,A,acid,t1,3,0\np1,A,acid,,6,0\np1,A,acid,t2,9,1\n"
        },
        ["germ/stages.csv, line 4: tray is t2, but line 2 says t1 for the same seedling."],
    ),
    "a seedling that lives on after its death": (
        {
            "germ/stages.csv": "seedling,lot,treatment,elapsed_d,leaves,alive\n"
            "p1,A,acid,9,2,yes\np1,A,acid,3,0,no\n"
        },
        [
            "germ/stages.csv, line 2: alive is yes, but line 3 says that seedling p1 was dead by then."
        ],
    ),
    "a range upside down": (
        raw.edited("reference_traits.csv", ("6.8,8.1", "8.1,6.8")),
        ["reference_traits.csv, line 2: low is 8.1, above the upper end of 6.8."],
    ),
    "a trait in two units": (
        raw.edited("germ/traits.csv", ("mm", "cm")),
        [
            'germ/traits.csv, line 2: unit is cm, but line 2 of reference_traits.csv has seed length in mm.'
        ],
    ),
    "a trait in two units that no source names": (
        raw.with_rows("germ/traits.csv", "m1,A,seed width,5.2,mm", "m2,A,seed width,0.53,cm"),
        [
            "germ/traits.csv, line 4: unit is cm, but line 3 of traits.csv has seed width in mm.",
        ],
    ),
    "a trait that is a number and a state": (
        {
            "germ/traits.csv": "specimen,lot,trait,value,state,unit\n"
            "m1,A,seed length,7.2,,mm\nm2,A,seed length,,long,\nm3,A,seed shape,1,round,mm\n"
        },
        [
            "germ/traits.csv, line 3: state is long, but line 2 of reference_traits.csv has seed length as a number.",
            "germ/traits.csv, line 4: state is round, but value is 1; a trait is a number or a state.",
        ],
    ),
    "a published trait that is a range and a list": (
        {
            "reference_traits.csv": "taxon,trait,low,high,states,unit,source\n"
            "Strandia ficta,seed length,6.8,8.1,long,mm,Flora\nStrandia ficta,seed shape,,, ; ,,Flora\n"
            "Strandia mira,seed length,6.8,,,mm,Flora\nStrandia mira,seed margin,1,2,,,Flora\n"
        },
        [
            "reference_traits.csv, line 2: states is long, but low is 6.8; a row has a range or states.",
            "reference_traits.csv, line 3: states is \" ; \", which names no state.",
            "reference_traits.csv, line 4: low is 6.8, but high is empty; give both or neither.",
            "reference_traits.csv, line 5: low is 1, but unit is empty; give both or neither.",
        ],
    ),
    "a log of another chamber": (
        raw.edited("chamber_log.csv", ("15.1", "59.1"), ("14.9", "58.9"), ("15.0", "59.0")),
        [
            "germ/dishes.csv, line 2: temperature_c is 15, but chamber_log.csv has chamber c1 at 59.0 °C on average "
            "while the dish stood in it: another chamber, or another unit?"
        ],
    ),
    "a moment logged twice": (
        raw.with_rows("chamber_log.csv", "c1,2024-05-03T11:00+02:00,15.0"),
        [
            "chamber_log.csv, line 5: at is 2024-05-03T11:00+02:00, which line 4 has already for the same "
            "chamber."
        ],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_a_rule_is_broken(tmp_path, name):
    changes, told = CASES[name]
    assert raw.faults(tmp_path, changes) == told


def test_unfinished_dishes_are_no_fault(tmp_path):
    assert raw.faults(tmp_path, {OUTCOMES: None, EVENTS: None}) == []


def test_seedlings_listed_again_are_the_germinated_seeds(tmp_path):
    """Listed or not, the 16 germinated seeds of d2 are there once."""
    listed = raw.edited(OUTCOMES, ("normal,14", "normal,16"))
    unlisted = raw.edited(OUTCOMES, ("d2,,normal,14,,\n", ""))
    assert raw.faults(tmp_path / "a", listed) == raw.faults(tmp_path / "b", unlisted) == []


def test_abnormal_seedlings_are_not_germinated_where_normal_ones_are_counted(tmp_path):
    changes = raw.edited(OUTCOMES, ("fresh,4", "abnormal,4"))
    assert len(raw.faults(tmp_path / "radicle", changes)) == 1
    strict = raw.with_rows("germ/experiment.yaml", "germination_criterion: normal_seedling")
    assert raw.faults(tmp_path / "seedling", changes | strict) == []


def test_a_dish_without_counts_adds_up_by_its_outcomes(tmp_path):
    changes = raw.edited(OUTCOMES, ("d2,,normal,14", "d2,,normal,16"))
    lines = raw.FILES[COUNTS].splitlines(keepends=True)
    changes[COUNTS] = "".join(line for line in lines if not line.startswith("d2"))
    assert raw.faults(tmp_path, changes) == []


def test_a_fault_in_a_dish_keeps_its_sum_from_being_told_too(tmp_path):
    """The count cannot be read, so nobody knows whether the dish adds up."""
    told = raw.faults(tmp_path, raw.edited(COUNTS, ("d2,24,10", "d2,24,ten")))
    assert len(told) == 1
    told = raw.faults(tmp_path / "name", raw.edited(COUNTS, ("d2,24,10", "dd2,24,10")))
    assert [line.split(" is ")[0] for line in told] == ["germ/counts.csv, line 4: dish"]


def test_falls_within_film_and_balance_are_no_fault(tmp_path):
    assert raw.faults(tmp_path / "film", raw.edited(WEIGHINGS, ("48,42.0", "48,36.0"))) == []
    coarse = raw.edited("germ/experiment.yaml", ("0.1", "2"))
    changes = coarse | raw.edited(WEIGHINGS, ("48,42.0", "48,30.0"))
    assert raw.faults(tmp_path / "coarse", changes) == []


def test_what_a_coarse_balance_explains_is_no_slip(tmp_path):
    """A seed of 5 mg on a balance that reads 1 mg may well be read as 1 mg once."""
    text = "seed,lot,treatment,soaked_h,mass_mg\n"
    text += "t1,A,acid,0,5\nt1,A,acid,24,1\nt1,A,acid,48,5\n"
    changes = {WEIGHINGS: text} | raw.edited(OUTCOMES, ("d1,s2,hard,1", "d1,,fresh,1"))
    coarse = raw.edited("germ/experiment.yaml", ("0.1", "1"))
    assert raw.faults(tmp_path / "coarse", changes | coarse) == []
    assert len(raw.faults(tmp_path / "fine", changes)) == 1


def test_floating_seeds_need_no_mass(tmp_path):
    text = "seed,lot,treatment,soaked_h,floats\nf1,A,acid,1,yes\nf1,A,acid,24,no\n"
    changes = {WEIGHINGS: text} | raw.edited(OUTCOMES, ("d1,s2,hard,1", "d1,,fresh,1"))
    assert raw.faults(tmp_path, changes) == []


def test_a_measure_that_looks_like_a_slip_and_names_that_no_source_has_are_remarks(tmp_path):
    traits = "specimen,lot,trait,value,unit\n"
    traits += "".join(
        f"m{i},A,seed length,{v},mm\n" for i, v in enumerate((7.2, 7.4, 71.0, 7.0, 15))
    )
    traits += "m9,A,seed lenght,7.1,mm\n"
    lots = "lot,taxon\nA,Strandia fikta\nlot #3,Elsewhere\n"
    study = raw.write(tmp_path, {"germ/traits.csv": traits, "lots.csv": lots})
    assert raw.run(study) == []
    told = [n for n in raw.notes(study) if "traits" in n]
    assert sorted(told) == [
        "germ/traits.csv, line 4: 71 is about 10 times the 7.4 of seed length in the middle of lot A: another unit, or a "
        "point in the wrong place?",
        'germ/traits.csv: trait "seed lenght" is not in reference_traits.csv; perhaps it is "seed length" there.',
        'lots.csv: taxon "Strandia fikta" is not in reference_traits.csv; perhaps it is "Strandia ficta" there.',
    ]


def test_a_chamber_that_drifts_or_falls_silent_is_a_remark(tmp_path):
    rows = [
        f"c1,2024-05-0{1 + h // 24}T{h % 24:02d}:00Z,17.5" for h in range(9, 60) if not 20 < h < 41
    ]
    study = raw.write(
        tmp_path, {"chamber_log.csv": "\n".join(["chamber,at,temperature_c", *rows, ""])}
    )
    assert raw.run(study) == []
    told = raw.notes(study)
    assert (
        "chamber_log.csv: chamber c1, experiment germ: 2.5 °C off the temperature set while dish d1 stood in it."
        in told
    )
    assert "chamber_log.csv: chamber c1, experiment germ: no reading for 21.0 h from 2024-05-01T20:00:00Z." in told  # fmt: skip


def test_a_chamber_without_log_and_a_dish_without_time_are_remarks(tmp_path):
    changes = raw.edited(
        DISHES, ("25,,,,20,", "25,,,c9,20,"), (",c1,25,2024-05-01T09:00", ",c1,25,")
    )
    study = raw.write(tmp_path, changes)
    assert raw.run(study) == []
    assert "germ/dishes.csv: not in chamber_log.csv: chamber c9." in raw.notes(study)
    assert any("1 dish has a logged chamber but no sown_at" in n for n in raw.notes(study))


def test_the_alternating_temperature_is_averaged_before_it_is_held_against_the_log(tmp_path):
    """12 h at 15 °C and 12 h at 5 °C make 10 °C; a log of 10 °C needs no remark."""
    rows = [f"c2,2024-05-0{1 + h // 24}T{h % 24:02d}:00Z,10.0" for h in range(8, 100, 6)]
    changes = raw.with_rows("chamber_log.csv", *rows)
    changes |= raw.edited(DISHES, ("15,5,12,,", "15,5,12,c2,"))
    study = raw.write(tmp_path, changes)
    assert raw.run(study) == []
    assert not any("c2" in note for note in raw.notes(study))


def test_missing_tables_are_named_once(tmp_path):
    assert raw.faults(tmp_path / "a", {"lots.csv": None}) == [
        "lots.csv: is missing; it lists the seed lots, one row a lot."
    ]
    assert raw.faults(tmp_path / "b", {"treatments.csv": None}) == [
        "treatments.csv: is missing; it lists the treatments, also that of untreated seed (method none)."
    ]
    assert raw.faults(tmp_path / "c", {DISHES: None}) == [
        "germ/dishes.csv: is missing; counts.csv names dishes that it must list."
    ]


def test_the_order_of_rows_of_different_dishes_does_not_matter(tmp_path):
    rng = np.random.default_rng(3)
    head, *rows = raw.FILES[WEIGHINGS].splitlines()
    shuffled = {WEIGHINGS: "\n".join([head, *rng.permutation(rows), ""])}
    assert raw.faults(tmp_path, shuffled) == []


def test_a_seed_that_was_never_weighed_may_have_an_outcome_in_a_dish(tmp_path):
    strange = raw.edited(OUTCOMES, ("d1,s2", "d1,k77"))
    assert raw.faults(tmp_path / "strange", strange) == []
    typo = raw.edited(OUTCOMES, ("d1,s2", "d1,S2"))
    assert raw.faults(tmp_path / "typo", typo) == [
        "germ/outcomes.csv, line 4: seed is S2, which weighings.csv does not list; perhaps you meant s2."
    ]


def test_names_that_look_alike_are_a_remark(tmp_path):
    changes = raw.edited("chamber_log.csv", ("c1,2024-05-03", "C1,2024-05-03"))
    study = raw.write(tmp_path, changes)
    assert raw.run(study) == []
    assert "chamber_log.csv: chamber has names that look alike, taken as different: c1 and C1." in (
        raw.notes(study)
    )


def test_counts_that_never_fall_are_a_remark(tmp_path):
    rows = [f"d{d},{24 * t},{t}" for d in (1, 2, 3) for t in range(1, 5)]
    counts = {COUNTS: "\n".join(["dish,elapsed_h,germinated", *rows, ""]), OUTCOMES: None}
    study = raw.write(tmp_path, counts)
    assert raw.run(study) == []
    assert any("the counts fall in no dish" in note for note in raw.notes(study))
