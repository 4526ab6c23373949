"""Raw files as tired people and spreadsheets leave them: refused with a sentence, or surely harmless."""

import numpy as np
import pytest

from hilum.tables import checked
from tests import raw

COUNTS = "germ/counts.csv"


def _checked_counts(study):
    return checked.read_checked(study.checked / COUNTS, "counts")


def _same(one, other):
    assert one.keys() == other.keys()
    for name in one:
        np.testing.assert_array_equal(one[name], other[name])


def test_the_faultless_study_has_no_fault(tmp_path):
    assert raw.run(raw.write(tmp_path)) == []


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("1.9", "germinated is 1.9; allowed is a whole number from 0 to 100000 seeds."),
        ("many", "germinated is many, which is not a number; allowed is a whole number from 0"),
        ('"1,5"', 'germinated is "1,5"; write the decimals after a point: 1.5.'),
        ('"1,234"', 'germinated is "1,234"; write a point before the decimals and nothing between'),
        ("1 234", 'germinated is "1 234"; write a point before the decimals and nothing between'),
        ("1'234", "write a point before the decimals and nothing between thousands."),
        ("NA", "germinated is NA; leave the cell empty where nothing was observed."),
        ("-", "germinated is -; leave the cell empty where nothing was observed."),
        ("-3", "germinated is -3; allowed is a whole number from 0 to 100000 seeds."),
        ("−3", 'germinated is "−3", whose first sign is not a minus; write -3.'),
        ("3 seeds", 'germinated is "3 seeds"; write the number alone; allowed is'),
        ("#DIV/0!", 'germinated is "#DIV/0!", which is a spreadsheet\'s word for an error.'),
        ("=A1+2", 'germinated is "=A1+2", which is a formula; save the values instead.'),
        ("1e999", "germinated is 1e999, which is more than any number that is kept."),
        ("inf", "germinated is inf, which is not a number"),
        ("nan", "germinated is nan; leave the cell empty"),
        ("0x10", "germinated is 0x10; write the number alone"),
        ("1_000", "germinated is 1_000; write the number alone"),
        ("٣", "germinated is ٣, which is not a number"),
        ("", "germinated is empty, but every row needs it; where nobody looked"),
    ],
)
def test_a_count_that_is_no_count(tmp_path, typed, says):
    told = raw.faults(tmp_path, raw.edited(COUNTS, ("d2,24,10,,", f"d2,24,{typed},,")))
    assert len(told) == 1
    assert told[0].startswith("germ/counts.csv, line 4: ")
    assert says in told[0]


@pytest.mark.parametrize("typed", ["10.0", "1e1", "+10", " 10 ", "10.", "010"])
def test_other_spellings_of_the_same_count_change_nothing(tmp_path, typed):
    plain = raw.write(tmp_path / "plain")
    other = raw.write(tmp_path / "other", raw.edited(COUNTS, ("d2,24,10", f"d2,24,{typed}")))
    assert raw.run(plain) == raw.run(other) == []
    _same(_checked_counts(plain), _checked_counts(other))


@pytest.mark.parametrize(
    "change",
    [
        lambda text: b"\xef\xbb\xbf" + text,
        lambda text: text.replace(b"\n", b"\r\n"),
        lambda text: text.replace(b"\n", b"\r"),
        lambda text: text.rstrip(b"\n"),
        lambda text: text.replace(b"d1,", b" d1 ,"),
        lambda text: text.replace(b"d1,", b'"d1",'),
        lambda text: text.replace(b"dish,", b" dish ,"),
        lambda text: text + b"\n\n,,,,\n",
        lambda text: b"".join(line + b",,\n" for line in text.splitlines()),
    ],
    ids=[
        "BOM",
        "CRLF",
        "CR",
        "no line break at the end",
        "spaces around names",
        "quotes",
        "spaces in the header",
        "empty rows at the end",
        "empty columns without a name",
    ],
)
def test_harmless_ways_of_writing_change_nothing(tmp_path, change):
    plain = raw.write(tmp_path / "plain")
    other = raw.write(tmp_path / "other", {COUNTS: change(raw.FILES[COUNTS].encode())})
    assert raw.run(plain) == raw.run(other) == []
    _same(_checked_counts(plain), _checked_counts(other))


@pytest.mark.parametrize(
    ("change", "note"),
    [
        (lambda text: text.rstrip("\n"), "does not end with a line break"),
        (lambda text: text.replace("d1,", "d1 ,"), "spaces around cells were not read in dish."),
        (lambda text: text + "\n,,,,\n", "2 empty lines passed over: 8 to 9."),
    ],
)
def test_what_is_read_in_another_way_is_noted(tmp_path, change, note):
    study = raw.write(tmp_path, {COUNTS: change(raw.FILES[COUNTS])})
    assert raw.run(study) == []
    assert any(line.startswith("germ/counts.csv: ") and note in line for line in raw.notes(study))


def test_lines_count_rows_as_a_spreadsheet_does(tmp_path):
    lots = 'lot,taxon,notes\nA,Strandia ficta,"first\nsecond\nthird"\n\nlot #3,,x\n'
    told = raw.faults(tmp_path, {"lots.csv": lots})
    assert told == ["lots.csv, line 4: taxon is empty, but every row needs taxon; if cells were merged in a spreadsheet, only the first of them kept its value."]  # fmt: skip


def test_a_merged_cell_is_suspected_where_names_stop(tmp_path):
    told = raw.faults(tmp_path, raw.edited(COUNTS, ("d2,48", ",48"), ("d2,72", ",72")))
    assert [line.split(":")[0] for line in told] == [
        "germ/counts.csv, line 5",
        "germ/counts.csv, line 6",
    ]
    assert "dish is empty, but every row needs dish; if cells were merged" in told[0]


def test_a_comment_sign_in_a_name_and_names_that_look_missing_stay_names(tmp_path):
    study = raw.write(tmp_path)
    assert raw.run(study) == []
    dishes = checked.read_checked(study.checked / "germ/dishes.csv", "dishes")
    assert dishes["lot"].tolist() == ["A", "A", "lot #3"]
    assert dishes["treatment"].tolist() == ["intact", "acid", "None"]
    treatments = checked.read_checked(study.checked / "treatments.csv", "treatments")
    assert treatments["treatment"].tolist() == ["intact", "acid", "acid", "None", "NA"]


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("d1,48,3,1,dead", "d1,48,3,1,dead,", "the row has 6 cells, but the header names 5"),
        ("d1,48,3,1,dead", "d1,4,8,3,1,dead", "the row has 6 cells, but the header names 5: an un"),
        ("d1,48,3,1,dead", "d1,48,3", "the row has 3 cells, but the header names 5: a comma too"),
        ("d1,48,3,1,dead", 'd1,48,3,1,"dead', "a quotation mark opens in this row and is never"),
        ("d1,48,3,1,dead", 'd1,48,3,1,"de"ad', "a quotation mark stands inside a quoted cell"),
    ],
)
def test_a_row_that_is_too_long_too_short_or_torn(tmp_path, old, new, says):
    told = raw.faults(tmp_path, raw.edited(COUNTS, (old, new)))
    assert len(told) == 1
    assert told[0].startswith(f"germ/counts.csv, line 3: {says}")


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "germ/counts.csv: is empty; its first line must hold the names of the columns."),
        (b"\n\n", "germ/counts.csv, line 1: the first line must hold the names of the columns"),
        (b",,,\na,b,c,d\n", "germ/counts.csv, line 1: the first line must hold the names"),
        (
            b"dish;elapsed_h;germinated\nd1;24;1,5\n",
            "line 1: separates its columns with semicolons",
        ),
        (b"dish\telapsed_h\tgerminated\nd1\t24\t1\n", "line 1: separates its columns with tabs"),
        (b"dish,elapsed_h,germinated\nd1,24,\x001\n", "line 2: holds a NUL byte"),
        (
            "dish,elapsed_h,germinated\nd\xe9,24,1\n".encode("latin-1"),
            "line 2: holds a letter that",
        ),
        ("dish,elapsed_h,germinated\nd1,24,1\n".encode("utf-16"), "is UTF-16, not CSV in UTF-8"),
        (b"PK\x03\x04 a spreadsheet", "is a spreadsheet file, not CSV in UTF-8; save it as CSV"),
        (
            b'dish,elapsed_h\n"' + b"x" * 140_000 + b'",1\n',
            "a cell is longer than 131072 characters",
        ),
    ],
)
def test_a_file_that_is_no_table_is_one_sentence(tmp_path, content, says):
    told = raw.faults(tmp_path, {COUNTS: content})
    mine = [line for line in told if line.startswith("germ/counts.csv")]
    assert says in mine[-1]
    assert told == mine


def test_a_header_without_rows_is_an_empty_table(tmp_path):
    study = raw.write(tmp_path, {"germ/events.csv": "dish,elapsed_h,event\n"})
    assert raw.run(study) == []
    assert "germ/events.csv: has no rows below its header." in raw.notes(study)
    assert not (study.checked / "germ/events.csv").exists()


@pytest.mark.parametrize(
    ("header", "says"),
    [
        (
            "dish,elapsed_h,Germinated",
            "the column Germinated is not one of counts.csv; perhaps you",
        ),
        ("dish,elapsed_h,germnated", "the column germnated is not one of counts.csv; perhaps you"),
        (
            "dish,elapsed_h,germinated,colour",
            "the column colour is not one of counts.csv; known are",
        ),
        ("dish,elapsed_h,germinated,dish", "the column dish is there twice"),
        ("dish,elapsed_h", "the column germinated or germinated_so_far is missing"),
        ("elapsed_h,germinated", "the column dish is missing"),
        ("dish,germinated", "the column elapsed_h, elapsed_d or inspected_at is missing"),
        (
            "dish,elapsed_h,elapsed_d,germinated",
            "the columns elapsed_h and elapsed_d say the same thing; keep one of them",
        ),
        ("dish,elapsed_h,germinated,removed,removed_as,,x", "the column x is not one of counts"),
    ],
)
def test_a_header_with_a_fault(tmp_path, header, says):
    row = ",".join("1" for _ in header.split(","))
    told = raw.faults(tmp_path, {COUNTS: f"{header}\n{row}\n", "germ/outcomes.csv": None})
    assert any(line.startswith(f"germ/counts.csv, line 1: {says}") for line in told)
    assert len([line for line in told if ", line 1:" in line]) == 1


def test_a_cell_below_no_name_is_told(tmp_path):
    told = raw.faults(tmp_path, {COUNTS: "dish,elapsed_h,germinated,\nd1,24,0,\nd1,48,3,mould\n"})
    assert told[0] == "germ/counts.csv, line 3: column 4 has no name, but holds mould."


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("05/01/2024", "which may be 2024-01-05 or 2024-05-01; write the year first: 2024-03-31"),
        ("31.03.2024", "; allowed is a date such as 2024-03-31"),
        ("2024-02-30", ", and there is no such day"),
        ("2024-3-1", "; allowed is a date such as 2024-03-31"),
        ("0024-03-01", "; the year 24 cannot be meant"),
        ("20240301", "; allowed is a date such as 2024-03-31"),
        ("March", "; allowed is a date such as 2024-03-31"),
    ],
)
def test_a_date_that_is_not_iso(tmp_path, typed, says):
    told = raw.faults(tmp_path, raw.edited("lots.csv", ("2024-03-01", typed)))
    assert len(told) == 1
    assert told[0].startswith("lots.csv, line 2: collected_on is ")
    assert typed in told[0]
    assert says in told[0]


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("x" * 101, f'"{"x" * 60}…", 101 characters long; allowed are 100.'),
        ("d\u200b1", '"d\\u200b1", with an invisible character (zero width space) after 1'),
        ("d\u00a01", '"d\\u00a01", with an invisible character (no-break space) after 1 others'),
        ('"d\n1"', '"d\\u000a1", with an invisible character (U+000A) after 1 others'),
        ("=d1", '"=d1", which is a formula; save the values instead.'),
        ("d\x1b[31m1", '"d\\u001b[31m1", with an invisible character (U+001B)'),
    ],
)
def test_a_name_that_nobody_can_read(tmp_path, typed, says):
    told = raw.faults(tmp_path, raw.edited("germ/dishes.csv", ("d3,lot #3", f"{typed},lot #3")))
    assert told[0].startswith(f"germ/dishes.csv, line 4: dish is {says}")
    assert all(line.isprintable() for line in told)


def test_letters_that_look_the_same_are_the_same(tmp_path):
    changes = raw.edited("germ/dishes.csv", ("d3,lot #3", "de\u0301,lot #3"))
    changes |= raw.edited(COUNTS, ("d3,24", "d\u00e9,24"))
    changes |= raw.edited("germ/events.csv", ("d3", "d\u00e9"))
    assert raw.faults(tmp_path, changes) == []


def test_every_fault_of_the_study_is_told_at_once_and_each_cell_once(tmp_path):
    changes = raw.edited("lots.csv", ("2024-03-01", "soon"), ("85", "850"))
    changes |= raw.edited("treatments.csv", ("acid,sulphuric", "acyd,sulphuric"))
    changes |= raw.edited(COUNTS, ("d1,48,3", "d1,48,1.9"), ("d2,24,10", "d2,24,100000000"))
    changes |= raw.edited("germ/viability.csv", ("42", "44"))
    told = raw.faults(tmp_path, changes)
    assert [line.split(" is ")[0] for line in told] == [
        "germ/counts.csv, line 3: germinated",
        "germ/counts.csv, line 4: germinated",
        "germ/viability.csv, line 2: seeds",
        "lots.csv, line 2: collected_on",
        "lots.csv, line 2: expected_germination_pct",
        "treatments.csv, line 3: method",
    ]


def test_a_column_of_the_same_fault_is_told_by_its_lines(tmp_path):
    rows = "".join(f'd1,{h},"0,5",,\n' for h in range(1, 101))
    told = raw.faults(
        tmp_path,
        {COUNTS: raw.FILES[COUNTS].splitlines()[0] + "\n" + rows, "germ/outcomes.csv": None},
    )
    assert len(told) == 21
    assert told[-1] == (
        "germ/counts.csv, line 22: and 80 more lines have the same fault in germinated: 22 to 101."
    )


def test_a_wide_file_can_be_of_any_size(tmp_path):
    """Rows are read in chunks, and a fault keeps its line across them."""
    rows = [f"d1,{h},0,," for h in range(1, 45_001)]
    rows[44_000] = "d1,x,0,,"
    text = raw.FILES[COUNTS].splitlines()[0] + "\n" + "\n".join(rows) + "\n"
    told = raw.faults(tmp_path, {COUNTS: text, "germ/outcomes.csv": None})
    assert told == [
        "germ/counts.csv, line 44002: elapsed_h is x, which is not a number; allowed is a number from 0 to 200000 h."
    ]
