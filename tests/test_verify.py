"""verify tells a published crate from one that was touched, and says which number moved and why."""

import csv
import json
import os
import shutil
import subprocess
import sys
import zipfile
from importlib.metadata import version
from pathlib import Path

import pytest

from hilum import commit
from hilum.crate import compare, layout, sums
from hilum.steps import verify
from hilum.study import Study
from tests import crated
from tests.conftest import REPOSITORY

CONSTANT = (
    "return np.asarray(scale * t_squared(self.pooled_dof, confidence))",
    "return np.asarray(1.5 * scale * t_squared(self.pooled_dof, confidence))",
)
IDENTICAL = "Identical: every table, estimate, chart and page is the same, byte for byte."
REBUILT: dict[str, Path] = {}
TABLE = "estimates/germ/time_course.csv"
COUNTS = "data/strand/germ/counts.csv"
ABOUT = "data/strand/germ/experiment.yaml"


@pytest.fixture(scope="module", autouse=True)
def _committed():
    """Take the code as committed, which a working copy need not be."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(commit, "of_code", lambda: "c" * 40)
        patch.setattr(commit, "changed", tuple)
        yield


@pytest.fixture(scope="module")
def sealed(tmp_path_factory):
    """Return a crate as it was made; do not write there."""
    return crated.packed(crated.study(tmp_path_factory.mktemp("sealed"), whole=True))


@pytest.fixture(autouse=True)
def _rebuilt_once(tmp_path_factory):
    patch = crated.rebuilds_once(REBUILT, tmp_path_factory.mktemp("rebuilt"))
    yield
    patch.undo()


@pytest.fixture
def folder(sealed, tmp_path):
    """Return a copy of the crate, to be damaged."""
    return shutil.copytree(sealed, tmp_path / "crate")


def _told(capsys, path) -> tuple[int, str, list[str]]:
    """Return the exit status, the verdict, and all that follows."""
    status = verify.main([str(path)])
    first, *rest = capsys.readouterr().out.splitlines()
    return status, first, rest


def _row(folder, quantity: str) -> tuple[int, dict[str, str]]:
    """Return line and cells of the first estimate of a quantity that has a value."""
    with (folder / TABLE).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return next(
        (line, row)
        for line, row in enumerate(rows, start=2)
        if row["quantity"] == quantity and row["value"] and row["high"]
    )


def test_a_crate_as_it_was_made_is_identical_as_folder_and_as_zip(sealed, capsys):
    for path in (sealed, sealed.with_name("crate.zip")):
        status, verdict, rest = _told(capsys, path)
        assert (status, verdict) == (0, IDENTICAL)
        assert any(line.startswith("Files: all ") for line in rest)
        assert len(rest) == 4


def test_an_edited_estimate_is_named_and_measured_against_its_interval(folder, capsys):
    line, row = _row(folder, "germinated")
    value, width = float(row["value"]), float(row["high"]) - float(row["low"])
    text = (folder / TABLE).read_text(encoding="utf-8").splitlines()
    text[line - 1] = text[line - 1].replace(row["value"], f"{value + 3 * width}", 1)
    (folder / TABLE).write_text("\n".join(text) + "\n", encoding="utf-8")
    status, verdict, rest = _told(capsys, folder)
    assert status == 1
    assert verdict == "Moved: 1 row of the estimates is not what the crate says."
    assert f"  {TABLE}: changed" in rest
    (told,) = [one for one in rest if one.startswith(f"  {TABLE}, line {line}: germinated (")]
    assert f"value {value + 3 * width} → {row['value']}" in told
    assert f"moved by 3 of the width of its interval, {row['low']} to {row['high']}" in told
    assert any("estimates were changed" in one for one in rest)


IN_PART = "Verified in part: the estimates stand; "


def test_another_package_version_is_named_though_nothing_moved(folder, capsys):
    run = json.loads((folder / layout.RUN).read_text(encoding="utf-8"))
    here = run["packages"]["numpy"]
    crated.edit_run(folder, {"packages": run["packages"] | {"numpy": "1.0", "gone": "2"}})
    crated.edit_run(folder, {"python": "3.0"})
    crated.seal(folder)
    status, verdict, rest = _told(capsys, folder)
    assert status == 3
    assert verdict.startswith(f"{IN_PART}1 other file that a rerun makes otherwise is not verified")
    assert any(one.startswith("  run.json: line ") for one in rest)
    assert f"  package numpy: 1.0 in the run, {here} here" in rest
    assert "  package gone: 2 in the run, not there here" in rest
    assert any(one.startswith("  Python: 3.0 in the run") for one in rest)


def _made_with_another_scipy(folder, computes: str = ""):
    """Return a crate of a process that finds another scipy before ours, which may compute otherwise too."""
    before = folder / "before"
    about = before / "scipy-1.0.dist-info/METADATA"
    about.parent.mkdir(parents=True)
    about.write_text("Metadata-Version: 2.1\nName: scipy\nVersion: 1.0\n", encoding="utf-8")
    # Python runs this file first, so that every later import sees what it sets
    (before / "sitecustomize.py").write_text(computes, encoding="utf-8")
    path = os.pathsep.join([str(before), str(REPOSITORY / "workflow"), str(REPOSITORY)])
    command = [sys.executable, "-m", "tests.crated", str(folder)]
    subprocess.run(command, check=True, env=os.environ | {"PYTHONPATH": path})
    return Study(raw=folder / "data/strand", results=folder / "results/strand").crate


def test_a_crate_made_with_another_version_of_a_package_names_both_versions(tmp_path, capsys):
    """Here only the version differs; `python -m tests.versions` does the same with whole packages."""
    status, verdict, rest = _told(capsys, _made_with_another_scipy(tmp_path))
    assert status == 3
    assert verdict.startswith(IN_PART)
    assert "Files that are not verified:" in rest
    told = [one for one in rest if one.startswith("  package ")]
    assert told == [f"  package scipy: 1.0 in the run, {version('scipy')} here"]


def test_another_version_that_computes_otherwise_is_named_with_what_it_moved(tmp_path, capsys):
    wider = "from scipy import special\nplain = special.stdtrit\nspecial.stdtrit = lambda dof, p: 1.1 * plain(dof, p)\n"
    status, verdict, rest = _told(capsys, _made_with_another_scipy(tmp_path, wider))
    assert status == 1
    assert verdict.startswith("Moved: ")
    assert f"  package scipy: 1.0 in the run, {version('scipy')} here" in rest
    assert any(one.startswith(f"  {TABLE}, line ") and "germinated (" in one for one in rest)


def test_a_changed_constant_of_the_code_is_named_with_what_it_moved(sealed, tmp_path):
    """The code that reruns is another than the crate's: its thresholds of an interval are half as large again."""
    copy = tmp_path / "checkout"
    for name in (*layout.CODE_FOLDERS, *layout.CODE_FILES):
        (copy / name).parent.mkdir(parents=True, exist_ok=True)
        put = shutil.copytree if (REPOSITORY / name).is_dir() else shutil.copyfile
        put(REPOSITORY / name, copy / name)
    place = "workflow/hilum/stats/proportions.py"
    path = copy / place
    crated.edit(path, *CONSTANT)
    line = path.read_text(encoding="utf-8").split(CONSTANT[1])[0].count("\n") + 1
    command = [sys.executable, "-m", "hilum.steps.verify", str(sealed)]
    elsewhere = os.environ | {"PYTHONPATH": str(copy / "workflow")}
    done = subprocess.run(command, capture_output=True, text=True, env=elsewhere)
    assert done.returncode == 1, done.stdout + done.stderr
    verdict, *rest = done.stdout.splitlines()
    assert verdict.startswith("Moved: ")
    assert f"  code {place}, line {line} here" in rest
    assert any(one.startswith(f"  {TABLE}, line ") and "germinated (" in one for one in rest)


def test_an_edited_raw_cell_is_refused_with_file_and_line(folder, capsys):
    crated.edit(folder / COUNTS, "d2,48,5,,", "d2,48,4,,")
    status, verdict, rest = _told(capsys, folder)
    assert status == 2
    assert verdict.startswith("Refused: raw tables were changed since this crate was made")
    assert f"  {COUNTS}: changed" in rest
    assert f"  {COUNTS}, line 5: germinated is 4, but the crate was made from 5" in rest
    # where the check finds a fault in it, its own sentence names file and line
    crated.edit(folder / COUNTS, "d2,48,4,,", "d2,48,many,,")
    status, _verdict, rest = _told(capsys, folder)
    assert status == 2
    assert any("germ/counts.csv, line 5: germinated is many" in one for one in rest)
    (folder / "data/strand/germ/experiment.yaml").write_text("title: [", encoding="utf-8")
    assert _told(capsys, folder)[0] == 2


def test_an_edited_key_of_an_experiment_is_refused_with_file_and_line(folder, capsys):
    """The crate's experiment.yaml: title, analyses, time zone, readability, person, licence, a line each."""
    path = folder / ABOUT
    crated.edit(path, "analyses: [time_course]", "analyses:\n  - time_course\n  - temperature")
    crated.edit(path, "readability_mg: 0.1", "readability_mg: 0.01")
    crated.edit(path, "licence: CC0-1.0\n", "")
    status, verdict, rest = _told(capsys, folder)
    assert status == 2
    assert verdict.startswith("Refused: raw tables were changed since this crate was made")
    assert [one for one in rest if ABOUT in one] == [
        f"  {ABOUT}: changed",
        f"  {ABOUT}: licence is empty, but the crate was made from CC0-1.0",
        f"  {ABOUT}, line 2: analyses is [time_course, temperature], but the crate was made from [time_course]",
        f"  {ABOUT}, line 6: balance_readability_mg is 0.01, but the crate was made from 0.1",
    ]


def test_an_accepted_fault_that_was_added_is_named_at_its_line(folder, capsys):
    with (folder / ABOUT).open("a", encoding="utf-8") as file:
        file.write(
            "known_faults:\n  - {table: counts, row: {dish: d1, elapsed_h: '48'}, leave_out: yes, why: lost}\n"
        )
    status, _verdict, rest = _told(capsys, folder)
    assert status == 2
    assert f"  {ABOUT}, line 7: known_faults is not as it was" in rest


def test_a_raw_cell_that_was_edited_and_sealed_is_named_with_what_it_moved(folder, capsys):
    crated.edit(folder / COUNTS, "d2,24,10,,", "d2,24,9,,")
    crated.edit(folder / COUNTS, "d2,48,5,,", "d2,48,6,,")
    crated.seal(folder)
    status, verdict, rest = _told(capsys, folder)
    assert status == 1
    assert verdict.startswith("Moved: ")
    assert f"  {COUNTS}, line 4: germinated is 9, but the crate was made from 10" in rest
    assert f"  {COUNTS}, line 5: germinated is 6, but the crate was made from 5" in rest
    assert any(one.startswith(f"  {TABLE}, line ") for one in rest)


def test_a_changed_setting_is_named_with_the_moved_numbers(folder, capsys):
    crated.edit(folder / layout.CONFIG, "confidence: 0.95", "confidence: 0.8")
    status, verdict, rest = _told(capsys, folder)
    assert status == 1
    assert verdict.startswith("Moved: ")
    assert f"  {layout.CONFIG}, line 2: confidence is 0.8, but the run had 0.95" in rest
    assert f"  {layout.CONFIG}: changed" in rest
    assert any("germinated (" in one and "low " in one and "high " in one for one in rest)


def test_a_page_that_was_touched_leaves_the_estimates_standing(folder, capsys):
    crated.edit(folder / "report/index.html", "<title>", "<title>better ")
    (folder / "report/more.html").write_text("x", encoding="utf-8")
    (folder / "methods.md").unlink()
    status, verdict, rest = _told(capsys, folder)
    assert (status, verdict) == (
        1,
        "The estimates stand, but the crate is not as it was written.",
    )
    for one in ("report/index.html: changed", "report/more.html: added", "methods.md: missing"):
        assert f"  {one}" in rest


def test_another_curve_of_a_chart_was_altered_though_no_estimate_moved(folder, capsys):
    path = folder / "estimates/germ/time_course.json"
    drawn = json.loads(path.read_text(encoding="utf-8"))
    first = next(iter(drawn))
    path.write_text(json.dumps(drawn | {first: "another"}), encoding="utf-8")
    crated.seal(folder)
    status, verdict, rest = _told(capsys, folder)
    says = "Altered: the estimates stand, but 1 other file is not what its raw tables give."
    assert (status, verdict) == (1, says)
    assert any(one.startswith("  estimates/germ/time_course.json: line 1: ") for one in rest)


def test_a_crate_of_an_older_version_stays_readable(folder, capsys):
    """It says less of its run, has no code, a column less and a table less."""
    silent = ("hilum", "commit", "changed", "python", "packages", "settings", "ends")
    crated.edit_run(folder, dict.fromkeys(silent))
    shutil.rmtree(folder / layout.CODE)
    with (folder / TABLE).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    with (folder / TABLE).open("w", encoding="utf-8", newline="") as file:
        kept = [c for c in rows[0] if c != "standard_error"]
        writer = csv.DictWriter(file, kept, extrasaction="ignore", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    (folder / layout.CONFIG).write_text("study: data/strand\n", encoding="utf-8")
    crated.seal(folder)
    status, verdict, rest = _told(capsys, folder)
    assert (status, verdict[: len(IN_PART)]) == (3, IN_PART)
    assert f"  {TABLE}: only the rerun has the column standard_error" in rest
    assert any("Hilum of an unknown version" in one for one in rest)


def _cells(folder, path, change):
    """Rewrite a table by its rows, header among them."""
    with (folder / path).open(encoding="utf-8", newline="") as file:
        rows = change(list(csv.reader(file)))
    with (folder / path).open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(rows)


def _column(name, new):
    """Return what puts a word into every filled cell of a column."""

    def change(rows):
        place = rows[0].index(name)
        filled = [[*r[:place], new(r[place]), *r[place + 1 :]] if r[place] else r for r in rows[1:]]
        return [rows[0], *filled]

    return change


def _renamed(old, new):
    return lambda rows: [[new if cell == old else cell for cell in rows[0]], *rows[1:]]


def _both(*changes):
    def change(rows):
        for one in changes:
            rows = one(rows)
        return rows

    return change


def _swapped(folder, a, b):
    one, other = (folder / a).read_bytes(), (folder / b).read_bytes()
    (folder / a).write_bytes(other)
    (folder / b).write_bytes(one)


def _replaced(path, text="<p>All is well.</p>"):
    return lambda f: (f / path).write_text(text, encoding="utf-8")


def _without(path):
    return lambda f: shutil.rmtree(f / path) if (f / path).is_dir() else (f / path).unlink()


def _in_table(change, path=TABLE):
    return lambda f: _cells(f, path, change)


def _edited(path, old, new):
    return lambda f: crated.edit(f / path, old, new)


PAGE = "report/experiments/germ.html"
FORGED = {
    "a page replaced": _replaced(PAGE),
    "one digit of a page": _edited(PAGE, "0.05", "0.06"),
    "home replaced": _replaced("report/index.html"),
    "methods": _replaced("methods.md", "# Methods\n\nNothing was left out.\n"),
    "methods in the report": _edited("report/methods.html", "binomial", "normal"),
    "citation": _replaced("citation.txt", "Somebody else (2024). Hilum.\n"),
    "sources": _replaced("sources.bib", ""),
    "glossary": _edited("report/glossary.html", "the", "no"),
    "every value, under a renamed header": _in_table(
        _both(_column("value", lambda _: "0.999"), _renamed("value", "fraction_"))
    ),
    "a header renamed": _in_table(_renamed("value", "worth")),
    "unit": _in_table(_column("unit", lambda unit: "d" if unit == "h" else unit)),
    "a limit by 1 in 10,000": _in_table(_column("low", lambda x: repr(float(x) * 0.9999))),
    "confidence": _in_table(_column("confidence", lambda _: "0.99")),
    "method": _in_table(_column("method", lambda _: "exact")),
    "quantity renamed": _in_table(_column("quantity", lambda q: q.replace("t50", "t90"))),
    "a row taken out": _in_table(lambda rows: rows[:-1]),
    "a row twice": _in_table(lambda rows: [*rows, rows[-1]]),
    "rows in another order": _in_table(lambda rows: [rows[0], *rows[:0:-1]]),
    "columns in another order": _in_table(lambda rows: [r[::-1] for r in rows]),
    "a column more": _in_table(lambda rows: [[*r, "lot"] for r in rows]),
    "a column twice": _in_table(lambda rows: [[*r, r[-1]] for r in rows]),
    "an estimate made a text": _in_table(_column("value", lambda x: f"{x} or more")),
    "checked table altered": _edited("checked/germ/counts.csv", ",5", ",4"),
    "checked table taken out": _without("checked/germ/counts.csv"),
    "checked tables taken out": _without("checked"),
    "the report taken out": _without("report"),
    "estimates taken out": _without("estimates/germ/time_course.csv"),
    "an estimates table more": _replaced("estimates/germ/more.csv", "value\n1\n"),
    "diagnosis": _in_table(_column("high", lambda _: "1"), "estimates/diagnosis.csv"),
    "a page more": _replaced("report/more.html"),
    "a script more": _replaced("report/assets/more.js", "alert(1)"),
    "a script altered": _edited("report/assets/javascripts/figures.js", "f", "g"),
    "two pictures swapped": lambda f: _swapped(f, *_pictures(f)),
    "what a chart draws": lambda f: crated.edit(_drawn(f), "0", "1"),
    "metadata": _edited("ro-crate-metadata.json", "CC0-1.0", "All rights reserved"),
    "data package": _edited("datapackage.json", '"name"', '"nane"'),
    "readme": _edited("README.md", "Cite it", "Do not cite it"),
    "hashes of provenance": _edited("report/hashes.csv", "a", "b"),
    "download of an estimate": _edited("report/data/germ/estimates/time_course.csv", "0", "1"),
    "download of a raw table": _edited("report/data/germ/raw/counts.csv", "5", "6"),
    "code": _edited("code/workflow/hilum/fates.py", "alive", "dead"),
    "code taken out": _without("code"),
    "a file beside the raw tables": _replaced("data/strand/note.txt", "trust me"),
    "settings said otherwise": lambda f: crated.edit_run(f, {"settings": {"confidence": 0.99}}),
}


def _pictures(folder):
    """Return two pictures of the report that are not the same."""
    files = sorted((folder / "report/charts/germ").glob("*.svg"))
    files = files or sorted((folder / "report/charts/germ").glob("*.png"))
    return [p.relative_to(folder).as_posix() for p in files[:2]]


def _drawn(folder):
    return next(p for p in sorted((folder / "report/charts/germ").iterdir()) if p.suffix == ".js")


@pytest.mark.parametrize("forgery", FORGED)
def test_a_forgery_whose_sums_were_made_anew_never_passes(folder, forgery, capsys):
    FORGED[forgery](folder)
    crated.seal(folder)
    if forgery in ("a column more", "a column twice"):
        assert verify.main([str(folder)]) == 2
        assert "time_course.csv: has two columns of the same name" in capsys.readouterr().err
        return
    status, verdict, rest = _told(capsys, folder)
    assert status == 1, verdict
    assert verdict.startswith(("Altered: ", "Moved: "))
    assert any(line.startswith("  ") for line in rest)


@pytest.mark.parametrize(
    "forgery", ["a page replaced", "every value, under a renamed header", "the report taken out"]
)
def test_a_forgery_that_names_another_version_is_verified_in_part_at_most(folder, forgery, capsys):
    FORGED[forgery](folder)
    crated.edit_run(folder, {"hilum": "0.0.9", "commit": "f" * 40})
    crated.seal(folder)
    status, verdict, rest = _told(capsys, folder)
    assert (status, verdict[: len(IN_PART)]) == (3, IN_PART)
    assert verdict.endswith("other code or packages made it (Hilum 0.0.9).")
    assert "Files that are not verified:" in rest


def test_numbers_of_another_processor_are_the_same_but_its_pages_are_not_verified(folder, capsys):
    _cells(folder, TABLE, _column("low", lambda x: f"{float(x) * (1 + 1e-8):.10g}"))
    crated.seal(folder)
    status, verdict, _ = _told(capsys, folder)
    assert (status, verdict[:9]) == (0, "The same:")
    FORGED["one digit of a page"](folder)
    crated.seal(folder)
    status, verdict, _ = _told(capsys, folder)
    assert (status, verdict[: len(IN_PART)]) == (3, IN_PART)
    assert "the last digits of estimates are not those of this processor" in verdict


def test_uncommitted_changes_are_told_apart_by_the_code_alone(folder, capsys, monkeypatch):
    monkeypatch.setattr(commit, "changed", lambda: ("workflow/hilum/fates.py",))
    crated.edit_run(folder, {"changed": ["workflow/hilum/fates.py"]})
    FORGED["code"](folder)
    crated.edit(folder / "code/COMMIT.json", '"code": "', '"code": "0')
    crated.seal(folder)
    REBUILT.clear()
    assert _told(capsys, folder)[0] == 3
    REBUILT.clear()


@pytest.mark.parametrize(
    ("damage", "says"),
    [
        (lambda f: crated.edit_run(f, {"format": 99}), "its format is 99, made by Hilum"),
        (lambda f: crated.edit_run(f, {"format": None}), "does not say which format"),
        (lambda f: (f / layout.RUN).write_text("{", encoding="utf-8"), "Expecting"),
        (lambda f: (f / layout.RUN).unlink(), "a crate has this file"),
        (lambda f: (f / layout.SUMS).write_text("x\n", encoding="utf-8"), "line 1: holds no hash"),
        (lambda f: crated.edit_run(f, {"study": "../strand"}), "has no raw tables in"),
        (lambda f: shutil.rmtree(f / "data"), "has no raw tables in data/strand"),
        (lambda f: (f / layout.CONFIG).write_text("sed: 1", encoding="utf-8"), "not a setting"),
    ],
)
def test_what_is_no_crate_is_told_in_a_sentence(folder, damage, says, capsys):
    damage(folder)
    assert verify.main([str(folder)]) == 2
    told = capsys.readouterr()
    assert says in told.err
    assert not told.out


@pytest.mark.parametrize("name", ["../out", "/out", "a/../../out", "a\\out"])
def test_a_zip_may_name_no_file_outside_of_itself(tmp_path, name, capsys):
    path = tmp_path / "hostile.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr(name, "x")
    assert verify.main([str(path)]) == 2
    assert "names a file outside of itself" in capsys.readouterr().err
    assert sorted(tmp_path.iterdir()) == [path]


def test_neither_folder_nor_zip(tmp_path, capsys):
    for path in (tmp_path / "nowhere", tmp_path / "text"):
        (tmp_path / "text").write_text("x", encoding="utf-8")
        assert verify.main([str(path)]) == 2
        assert "is neither the folder nor the zip of a crate" in capsys.readouterr().err


# comparing


def _estimate(**cells: str) -> dict[str, str]:
    usual = {"lot": "A", "quantity": "t50", "value": "10", "low": "8", "high": "12"}
    return usual | {"status": "estimated", "method": "m"} | cells


def test_numbers_are_the_same_to_six_digits_and_no_further():
    assert compare.same("0.123456789", "0.123456801")
    assert not compare.same("0.123456", "0.123458")
    assert compare.same("", "")
    assert not compare.same("", "0")
    assert not compare.same("estimated", "bracketed")


def test_a_row_is_found_by_what_it_tells_of_not_by_its_place():
    then = [_estimate(), _estimate(lot="B"), _estimate(lot="B", value="11")]
    assert compare.tables(then, then[::-1][2:] + then[1:]).same
    found = compare.tables(then, [then[2], then[0]])
    assert [found.gone, found.new] == [["line 4: t50 (B)"], []]
    # the same names twice keep their order, so the first of the two seems to have moved
    assert [m.line for m in found.moved] == [3]
    assert compare.tables(then[:1], then).new == ["t50 (B)", "t50 (B)"]


def test_the_share_is_the_farthest_step_in_widths_of_the_old_interval():
    """From 10 (8 to 12) to 11 (8 to 14): the upper limit moved by 2 of a width of 4, the value stays inside."""
    (moved,) = compare.tables([_estimate()], [_estimate(value="11", high="14")]).moved
    assert moved.share == 0.5
    assert moved.inside
    assert moved.cells == {"value": ("10", "11"), "high": ("12", "14")}
    (open_,) = compare.tables([_estimate(high="")], [_estimate(high="", value="11")]).moved
    assert open_.share is None
    (out,) = compare.tables([_estimate()], [_estimate(value="13")]).moved
    assert out.inside is False


def test_other_words_are_no_other_number():
    found = compare.tables([_estimate()], [_estimate(method="n")])
    assert found.same
    assert found.worded == 1
    assert compare.tables([_estimate()], [_estimate(status="bracketed")]).moved


def test_rows_of_a_further_table_are_compared_by_place():
    then = [{"t": "1", "n": "2"}, {"t": "2", "n": "3"}]
    found = compare.tables(then, [{"t": "1", "n": "2.5", "new": ""}])
    assert [(m.line, m.cells) for m in found.moved] == [(2, {"n": ("2", "2.5")})]
    assert found.gone == ["line 3"]
    assert compare.tables(then[:1], then).new == ["line 3 of the rerun"]


def test_lines_of_raw_tables_that_came_and_went():
    then = [{"line": "2", "n": "1"}, {"line": "2", "n": "5"}, {"line": "3", "n": "2"}]
    now = [{"line": "2", "n": "1"}, {"line": "2", "n": "6"}, {"line": "4", "n": "2"}]
    assert compare.lines(then, now) == [
        (2, "n", "5", "6"),
        (3, "", "the row", ""),
        (4, "", "", "the row"),
    ]


def test_sums_hold_any_name():
    """As sha256sum writes them: a name with a line feed or a backslash is escaped, and its line begins with one."""
    hashes = {"a b": "0" * 64, "c\nd": "1" * 64, "e\\n": "2" * 64, "f\u2028g": "3" * 64}
    text = sums.text(hashes)
    assert f"\\{'1' * 64}  c\\nd\n" in text
    assert sums.read(text) == hashes
