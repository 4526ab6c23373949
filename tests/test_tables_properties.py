"""What must hold for any table: what is written is read back, and no file whatever ends in a traceback."""

import csv
import io
import random
import tempfile
import unicodedata
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from unittest.mock import patch

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from hilum.tables import TABLES, cells, checked, split
from hilum.tables.column import Column
from hilum.tables.ledger import Names
from tests import raw

QUICK = settings(max_examples=40, deadline=None, derandomize=True)
NAMES = st.text(
    st.characters(codec="utf-8", categories=("L", "N", "P", "S"), include_characters=" "),
    min_size=1,
    max_size=12,
).map(lambda text: text.strip().lstrip("=") or "x")
PLAIN = st.text("abcdefghij0123456789-", min_size=1, max_size=6)
MASSES = st.floats(1, 100, allow_nan=False).map(lambda mass: round(mass, 3))


def _csv(head, rows):
    file = io.StringIO()
    csv.writer(file, lineterminator="\n").writerows([head, *rows])
    return file.getvalue()


def _run(changes):
    with tempfile.TemporaryDirectory() as folder:
        study = raw.write(Path(folder), changes)
        told = raw.run(study)
        tables = {
            path.relative_to(study.checked).as_posix(): checked.read_checked(path, path.stem)
            for path in sorted(study.checked.rglob("*.csv"))
        }
        return told, tables


@QUICK
@given(names=st.lists(NAMES, min_size=1, max_size=6, unique_by=lambda n: raw_name(n)))
def test_any_name_survives_the_way_through_the_check(names):
    rows = [[name, "A", "intact", 20, 25] for name in names]
    head = ["dish", "lot", "treatment", "temperature_c", "seeds"]
    alone = dict.fromkeys(f for f in raw.FILES if f.startswith("germ/") and f.endswith(".csv"))
    told, tables = _run(alone | {"germ/dishes.csv": _csv(head, rows)})
    assert told == []
    assert tables["germ/dishes.csv"]["dish"].tolist() == [raw_name(name) for name in names]


def raw_name(name):
    """Return a name as it is stored: letters composed, no spaces around it."""
    return unicodedata.normalize("NFC", name).strip()


@QUICK
@given(
    rows=st.lists(
        st.tuples(PLAIN, MASSES, st.sampled_from(["yes", "no", ""])), min_size=1, max_size=20
    )
)
def test_numbers_and_answers_survive_exactly(rows):
    rows = list({name: row for row in rows for name in [row[0]]}.values())
    table = [[name, "A", "acid", 0, mass, floats] for name, mass, floats in rows]
    head = ["seed", "lot", "treatment", "soaked_h", "mass_mg", "floats"]
    changes = {"germ/weighings.csv": _csv(head, table), "germ/outcomes.csv": None}
    told, tables = _run(changes)
    # masses of one lot may differ more here than seeds do, and that is told
    assert all("seeds of lot A weigh about" in line for line in told)
    if not told:
        stored = tables["germ/weighings.csv"]
        assert stored["seed"].tolist() == [row[0] for row in rows]
        assert stored["mass_mg"].tolist() == [row[1] for row in rows]
        answers = {"yes": 1.0, "no": 0.0}
        np.testing.assert_array_equal(
            stored["floats"], [answers.get(row[2], np.nan) for row in rows]
        )
        assert stored["line"].tolist() == list(range(2, len(rows) + 2))


@QUICK
@given(
    typed=st.one_of(
        st.floats(allow_nan=False, allow_infinity=False).map(repr),
        st.integers(-(10**6), 10**6).map(str),
        st.text("0123456789.,+-eE _nafi", max_size=6),
        st.text(max_size=6),
    )
)
def test_a_column_read_whole_and_cell_by_cell_is_the_same(typed):
    """The fast way through a column may not take what the careful way refuses, or the other way round."""
    column = Column(name="x", title="X", description="X.", kind="number", example="1")
    values, complaints = cells.reader(column, Names(), None)([typed])
    beside, told = cells.reader(column, Names(), None)([typed, "?"])
    np.testing.assert_array_equal(values[0], beside[0])
    assert [says for i, says in told if i == 0] == [says for _, says in complaints]
    if not complaints and typed.strip():
        assert values[0] == float(typed)


@QUICK
@given(
    moment=st.datetimes(
        datetime(1900, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC)
    ).map(lambda m: m.replace(microsecond=0)),
    hours=st.integers(-12, 14),
)  # fmt: skip
def test_a_moment_is_the_same_in_every_offset(moment, hours):
    column = TABLES["chamber_log"].column("at")
    local = moment.astimezone(timezone(timedelta(hours=hours))).isoformat()
    values, complaints = cells.reader(column, Names(), None)([local])
    assert complaints == []
    assert values[0] == moment.timestamp()


@QUICK
@given(order=st.randoms(use_true_random=False), shift=st.sampled_from([1, 24]))
def test_order_of_dishes_and_units_of_time_do_not_matter(order: random.Random, shift):
    head, *rows = (row.split(",") for row in raw.FILES["germ/counts.csv"].splitlines())
    dishes = ["d1", "d2", "d3"]
    order.shuffle(dishes)
    head = ["dish", "elapsed_d" if shift == 24 else "elapsed_h", *head[2:]]
    moved = [[r[0], repr(float(r[1]) / shift), *r[2:]] for d in dishes for r in rows if r[0] == d]
    plain, tables = _run({})
    told, again = _run({"germ/counts.csv": _csv(head, moved)})
    assert plain == told == []
    assert _as_set(tables["germ/counts.csv"]) == _as_set(again["germ/counts.csv"])


def _as_set(table):
    columns = [table[name].tolist() for name in ("dish", "elapsed_h", "germinated", "removed")]
    return set(zip(*columns, strict=True))


@settings(max_examples=100, deadline=None, derandomize=True)
@given(
    name=st.sampled_from(sorted(raw.FILES)),
    seed=st.randoms(use_true_random=False),
    junk=st.one_of(st.binary(max_size=30), st.text(max_size=20).map(str.encode)),
    kind=st.sampled_from(["insert", "overwrite", "cut", "double", "swap"]),
)
def test_damage_ends_in_sentences_or_changes_nothing_unnoticed(name, seed, junk, kind):
    """Whatever happens to a file: no traceback, and every sentence names a file of the study."""
    data = raw.FILES[name].encode()
    at = seed.randrange(len(data))
    damaged = {
        "insert": data[:at] + junk + data[at:],
        "overwrite": data[:at] + junk + data[at + len(junk) :],
        "cut": data[:at],
        "double": data + data[at:],
        "swap": data[at:] + data[:at],
    }[kind]
    told, _ = _run({name: damaged})
    for line in told:
        assert line.startswith("data/strand")
        assert line.isprintable()
        assert line.endswith((".", "?"))
        assert len(line) < 1500


@settings(max_examples=50, deadline=None, derandomize=True)
@given(
    name=st.sampled_from(sorted(n for n in raw.FILES if n.endswith(".csv"))),
    seed=st.randoms(use_true_random=False),
    junk=st.text("\"',;\n\r \t#\u2028\u00e9NAd1.0", max_size=4),
    ends=st.sampled_from(["\n", "\r\n", "\r"]),
)
def test_splitting_at_commas_is_the_same_as_reading_csv(name, seed, junk, ends):
    """Large files without quotation marks are split by pandas; nobody may notice."""
    text = raw.FILES[name].replace("\n", ends)
    at = seed.randrange(len(text))
    changes = {name: (text[:at] + junk + text[at:]).encode()}
    with patch.object(split, "PLAIN_FROM", 0):
        told, tables = _run(changes)
    slowly, same = _run(changes)
    assert told == slowly
    assert tables.keys() == same.keys()
    for key, table in tables.items():
        for column, values in table.items():
            np.testing.assert_array_equal(values, same[key][column])
