"""Columns are described once: checks, sentences, dictionary and Table Schema all say the same."""

import re

import pytest

from hilum.tables import TABLES, dictionary
from hilum.tables.cells import reader
from hilum.tables.column import Column, Table, allowed
from hilum.tables.ledger import Names
from hilum.tables.schema import schema
from hilum.tables.sentences import Fault, meant, once_each, quoted, ranges, sentence
from tests import raw

# what other parts of the workflow rely on
STORED = {
    "lots": "lot taxon origin collected_on received_on storage expected_germination_pct moisture_pct thousand_seed_mass_g notes",
    "treatments": "treatment step method position agent concentration concentration_unit duration "
    "duration_unit temperature_c notes",
    "chamber_log": "chamber at temperature_c",
    "temperature_courses": "course elapsed_h temperature_c",
    "reference_traits": "taxon trait low high rounded_to states unit source",
    "moisture": "lot sample container_g before_g after_g notes",
    "weighings": "seed lot treatment batch dish seeds soaked_h mass_mg floats radicle",
    "dishes": "dish lot treatment batch temperature_c night_temperature_c warm_h chamber shelf "
    "position light medium seeds sown_at stored_d stored_at_c stored_moisture_pct",
    "counts": "dish elapsed_h germinated removed removed_as",
    "outcomes": "dish seed outcome seeds alive assessed_by",
    "viability": "sample lot treatment method seeds alive dead empty stored_d stored_at_c "
    "stored_moisture_pct",
    "events": "dish elapsed_h event to",
    "stages": "seedling lot treatment tray elapsed_d leaves alive roots height_mm petiole",
    "traits": "specimen lot trait value state unit",
}
COLUMNS = [
    (t, c) for t in TABLES.values() for c in {c.name: c for c in (*t.columns, *t.stored)}.values()
]


def _name(value):
    return value.name if isinstance(value, (Table, Column)) else None


def test_the_stored_columns_are_those_that_the_analyses_take():
    assert {name: " ".join(c.name for c in t.stored) for name, t in TABLES.items()} == STORED


@pytest.mark.parametrize("column", [column for _, column in COLUMNS], ids=_name)
def test_a_column_is_described(column):
    assert column.title
    assert column.title[0].isupper()
    assert column.description.endswith(".")
    assert column.refers in ("", *TABLES)
    assert (column.kind == "choice") == bool(column.choices)
    assert not (column.required and column.default is not None)


@pytest.mark.parametrize(("table", "column"), COLUMNS, ids=_name)
def test_its_example_is_allowed(table, column):
    typed = column.example
    if column.kind == "moment" and table.level == "experiment":
        typed += "Z"
    values, complaints = reader(column, Names(), None)([typed])
    assert complaints == []
    if column.numeric:
        assert column.low is None or values[0] >= column.low
        assert column.high is None or values[0] <= column.high
    assert not column.choices or column.example in column.choices


def test_the_file_of_every_table_lies_beside_its_module():
    for name in TABLES:
        module = __import__(f"hilum.tables.{name}", fromlist=["TABLE"])
        assert module.TABLE.name == name
        assert module.__doc__.startswith(f"{name}.csv: ")


@pytest.mark.parametrize("name", TABLES)
def test_keys_and_needs_name_columns(name):
    table = TABLES[name]
    stored = {c.name for c in table.stored}
    assert set(table.key) <= stored
    for pair in table.needs:
        assert all(table.has(column) for column in pair)
    for group in table.one_of:
        assert all(table.has(column) for column in group.columns)


@pytest.mark.parametrize("name", TABLES)
def test_the_pandera_schema_has_every_column_and_coerces_none(name):
    made = schema(TABLES[name])
    assert list(made.columns) == [c.name for c in TABLES[name].columns]
    assert not made.coerce
    for column in TABLES[name].columns:
        assert made.columns[column.name].nullable == (not column.required)


@pytest.mark.parametrize(
    ("file", "line", "column", "bad", "words"),
    [
        ("lots.csv", 2, "expected_germination_pct", "101", "a number from 0 to 100 %"),
        ("germ/dishes.csv", 2, "temperature_c", "150", "a number from -30 to 90 °C"),
        ("germ/dishes.csv", 2, "seeds", "0", "a whole number from 1 to 100000 seeds"),
        ("germ/dishes.csv", 3, "warm_h", "25", "a number from 0 to 24 h"),
        ("germ/weighings.csv", 2, "floats", "maybe", "yes or no"),
        ("germ/weighings.csv", 2, "floats", "Yes", "yes or no; perhaps you meant yes."),
        ("germ/viability.csv", 2, "method", "guess", "tetrazolium, cutting or hand_opened"),
        ("germ/stages.csv", 3, "leaves", "-1", "a whole number from 0 to 10000 leaves"),
        ("treatments.csv", 3, "duration_unit", "hours", "s, min, h, d or strokes"),
        ("treatments.csv", 3, "concentration", "-95", "a number of 0 or more"),
        ("chamber_log.csv", 2, "temperature_c", "999", "a number from -60 to 120 °C"),
    ],
)
def test_a_cell_outside_what_its_column_allows(tmp_path, file, line, column, bad, words):
    rows = [row.split(",") for row in raw.FILES[file].splitlines()]
    rows[line - 1][rows[0].index(column)] = bad
    told = raw.faults(tmp_path, {file: "\n".join(",".join(row) for row in rows) + "\n"})
    assert len(told) == 1
    assert told[0].startswith(f"{file}, line {line}: {column} is {bad}; allowed is {words}")


@pytest.mark.parametrize(
    ("typed", "guess"),
    [
        ("chiping", "chipping"),
        ("Acid", "acid"),
        ("hot water", "hot_water"),
        ("warm_m0ist", "warm_moist"),
    ],
)
def test_a_misspelt_choice_gets_a_guess(tmp_path, typed, guess):
    told = raw.faults(tmp_path, raw.edited("treatments.csv", ("acid,1,acid", f"acid,1,{typed}")))
    assert told[0].endswith(f"; perhaps you meant {guess}.")


@pytest.mark.parametrize("name", TABLES)
def test_the_dictionary_has_a_row_for_every_raw_column(name):
    rows = dictionary.rows(TABLES[name])
    assert [row["column"] for row in rows] == [c.name for c in TABLES[name].columns]
    for row, column in zip(rows, TABLES[name].columns, strict=True):
        assert row["allowed"] == allowed(column)
        assert row["needed"]
        assert all(isinstance(cell, str) for cell in row.values())


def test_the_dictionary_explains_every_key_of_experiment_yaml():
    rows = {row["key"]: row for row in dictionary.experiment_rows()}
    assert [key for key, row in rows.items() if row["needed"] == "yes"] == [
        "title",
        "analyses",
        "known_faults: table",
        "known_faults: row",
        "known_faults: why",
    ]
    assert all(row["description"].endswith(".") for row in rows.values())


# the types and properties of the Table Schema standard (Frictionless Standards, version 1)
TYPES = {"string", "number", "integer", "boolean", "date", "datetime"}


@pytest.mark.parametrize("name", TABLES)
def test_the_table_schema_describes_the_checked_table(name):
    made = dictionary.table_schema(name)
    fields = made["fields"]
    assert [f["name"] for f in fields] == ["line", *(c.name for c in TABLES[name].stored)]
    assert {f["type"] for f in fields} <= TYPES
    assert made["missingValues"] == [""]
    for field in fields:
        limits = field.get("constraints", {})
        assert set(limits) <= {"required", "minimum", "maximum", "enum"}
        assert limits.get("minimum", 0) <= limits.get("maximum", 1e9)
    for key in made.get("foreignKeys", []):
        assert key["reference"]["resource"] in TABLES
        assert set(key["fields"]) <= {f["name"] for f in fields}
    assert set(made.get("primaryKey", [])) <= {f["name"] for f in fields}


def test_checked_tables_keep_to_their_table_schema(tmp_path):
    """Every cell that the check wrote is what the published schema says of it."""
    study = raw.write(tmp_path)
    assert raw.run(study) == []
    forms = {
        "integer": r"-?\d+",
        "number": r"-?\d+(\.\d+)?(e[+-]?\d+)?",
        "boolean": "[01]",
        "date": r"\d{4}-\d\d-\d\d",
        "datetime": r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ",
        "string": r"(?s).*",
    }
    for path in sorted(study.checked.rglob("*.csv")):
        fields = dictionary.table_schema(path.stem)["fields"]
        head, *rows = (line.split(",") for line in path.read_text(encoding="utf-8").splitlines())
        assert head == [f["name"] for f in fields]
        for row in rows:
            for cell, field in zip(row, fields, strict=True):
                limits = field.get("constraints", {})
                assert re.fullmatch(forms[field["type"]], cell) or not cell
                assert cell or not limits.get("required")
                assert not cell or cell in limits.get("enum", [cell])


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        ("9", "9"),
        ("-2.5", "-2.5"),
        ("2024-05-01T09:00", "2024-05-01T09:00"),
        ("a b", '"a b"'),
        ("a,b", '"a,b"'),
        ("a\nb", '"a\\u000ab"'),
        ("\x1b[2J", '"\\u001b[2J"'),
        ("x" * 200, f'"{"x" * 60}…"'),
        ("<script>", '"<script>"'),
    ],
)
def test_a_value_in_a_sentence(value, shown):
    assert quoted(value) == shown


@pytest.mark.parametrize(
    ("value", "among", "guess"),
    [
        ("Intact", ["intact", "acid"], "intact"),
        ("tl5-a", ["t15-a", "t15-b"], "t15-a"),
        ("OO1", ["001", "002"], "001"),
        ("hot water", ["hot_water"], "hot_water"),
        ("zzz", ["intact"], ""),
        ("x", [], ""),
    ],
)
def test_a_guess(value, among, guess):
    assert meant(value, among) == guess


def test_lines_in_words():
    assert ranges([3, 4, 5, 9, 11, 12]) == "3 to 5, 9, 11 to 12"
    assert ranges(list(range(0, 100, 2)), most=3) == "0, 2, 4 and others up to 98"


def test_one_cell_is_told_once_and_faults_are_sorted():
    faults = [
        Fault(file="b", line=2, column="x", says="; first"),
        Fault(file="b", line=2, column="x", says="; second"),
        Fault(file="a", line=11, column="x", says="; third"),
        Fault(file="a", line=2, column="y", says="; fourth"),
        Fault(file="b", line=2, column="y", says="; fifth"),
    ]
    assert [sentence(f) for f in once_each(faults)] == [
        "a, line 2: y is empty; fourth.",
        "a, line 11: x is empty; third.",
        "b, line 2: x is empty; first.",
        "b, line 2: y is empty; fifth.",
    ]
