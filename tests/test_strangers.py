"""What a stranger hands over ends in a sentence: never in a traceback, never without end, never in a verdict of its own.

`make faults` draws hundreds more (`tests/faults/strangers.py`).
"""

import logging
import os
import re
import signal
import subprocess
import sys
import time
import zipfile
from types import SimpleNamespace

import pytest

from hilum import settings, strict_json, strict_yaml
from hilum.analyses.estimate import COLUMNS
from hilum.steps import confined, earlier, opened
from hilum.visible import hidden, told, visible
from snakemake_logger_plugin_hilum import LogHandler
from tests import crated
from tests.conftest import REPOSITORY
from tests.faults import __main__ as command
from tests.faults import strangers
from tests.faults.strange_yaml import YAML

# one of each that differs by a name alone; those of YAML are held to the reader itself
FEW = [
    one.name
    for one in strangers.load()
    if not re.search(r", [1-9]$", one.name)
    and one.program == "verify"
    and "yaml of a crate" not in one.name
    and not (one.forged or "code" in one.name)
]
CLEAR = "\x1b[2JIdentical"


@pytest.fixture(scope="module")
def crate(tmp_path_factory):
    """Return a small crate as it was made; do not write there."""
    return strangers.honest(tmp_path_factory.mktemp("honest"))


@pytest.fixture(scope="module", autouse=True)
def _rebuilt_once(tmp_path_factory):
    patch = crated.rebuilds_once({}, tmp_path_factory.mktemp("rebuilt"))
    yield
    patch.undo()


@pytest.mark.parametrize("name", FEW)
def test_a_hostile_crate_ends_in_a_sentence(crate, tmp_path, name):
    one = strangers.KINDS[name]
    found = strangers.answer(one, strangers.strike(one, crate, tmp_path, "1"))
    assert strangers.defect(one, found) == ""
    assert len(found.told.splitlines()[0]) < 1000


@pytest.mark.parametrize("name", [n for n, k in strangers.KINDS.items() if k.forged])
def test_a_forged_crate_does_not_agree(crate, tmp_path, name):
    one = strangers.KINDS[name]
    found = strangers.answer(one, strangers.strike(one, crate, tmp_path, "1"))
    assert strangers.defect(one, found) == ""


@pytest.mark.parametrize("name", YAML)
def test_hostile_yaml_is_refused_in_a_sentence(tmp_path, name):
    data, says = YAML[name]
    path = tmp_path / "given.yaml"
    path.write_bytes(data)
    with pytest.raises(settings.SettingsFault) as fault:
        settings.load(path)
    assert says in str(fault.value)
    assert all(line.isprintable() and line.endswith(".") for line in str(fault.value).split("\n"))


@pytest.mark.parametrize(
    "name", [n for n in strangers.KINDS if re.search(" for (settings|sheets)( |$)", n)]
)
def test_what_is_no_file_and_plans_without_end_are_refused(crate, tmp_path, name):
    one = strangers.KINDS[name]
    found = strangers.answer(one, strangers.strike(one, crate, tmp_path, "1"))
    assert strangers.defect(one, found) == ""


def test_yaml_is_read_in_one_place():
    calls = re.compile(r"yaml\.(safe_load|load|compose|parse|scan)\b")
    found = [
        path.name
        for path in (REPOSITORY / "workflow").rglob("*.py")
        if calls.search(path.read_text(encoding="utf-8").replace("strict_yaml.load", ""))
    ]
    assert found == []


def test_what_people_write_in_yaml_stays_as_it_was():
    text = "title: |\n  Two lines,\n  a\u200db\u00a0c\nyes: no\nn: 007\nday: 2026-12-01\nlist: [1, 2.5, ~, '']\n"
    found = strict_yaml.read(text.encode("utf-8-sig"), typed=True)
    assert found.value["title"] == "Two lines,\na\u200db\u00a0c\n"
    assert found.value["list"] == [1, 2.5, None, ""]
    assert (found.value["yes"], found.value["n"], f"{found.value['day']}") == (
        False,
        7,
        "2026-12-01",
    )
    assert found.lines["day",] == 6
    plain = strict_yaml.read(text.encode(), typed=False).value
    assert (plain["yes"], plain["n"], plain["list"]) == ("no", "007", ["1", "2.5", "~", ""])


def test_json_of_others_is_read_strictly():
    assert strict_json.read('{"a": [1.5, "b", null, {"c": -0.0}]}') == {
        "a": [1.5, "b", None, {"c": 0}]
    }
    for text in (
        '{"a": Infinity}',
        "[-1e999]",
        '{"b": {"a": 1, "a": 1}}',
        "[" * 99_999,
        "9" * 5000,
    ):
        with pytest.raises(ValueError, match=r"."):
            strict_json.read(text)


def test_a_crate_may_not_hold_more_than_the_limits(crate, monkeypatch):
    path = crate.with_name("crate.zip")
    for name in ("MOST_FILES", "MOST_BYTES"):
        with monkeypatch.context() as less:
            less.setattr(opened, name, 3)
            for given in (crate, path):
                with pytest.raises(opened.Unreadable) as why, opened.opened(given):
                    pass
                assert re.search("more than 3 .*, which is the limit", str(why.value))


def test_a_dense_table_is_unpacked(tmp_path, monkeypatch):
    """Weighings of seeds that are much alike shrink further than most tables, and far less than a bomb."""
    monkeypatch.setattr(opened, "SMALL", 1_000_000)
    path = tmp_path / "dense.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        rows = "".join(f"s{i // 5},A,acid,,{i % 5},20.0\n" for i in range(100_000))
        archive.writestr("data/weighings.csv", rows)
    with opened.opened(path) as folder:
        assert (folder / "data/weighings.csv").stat().st_size > opened.SMALL


@pytest.mark.parametrize(
    "text", ["\xff", 'a\n"', f"{','.join(COLUMNS)}\nx\n", f"{','.join(COLUMNS)}\n{'x,' * 40}\n"]
)
def test_a_plan_may_name_results_of_a_stranger(tmp_path, text):
    (tmp_path / "estimates/germ").mkdir(parents=True)
    (tmp_path / "estimates/germ/time_course.csv").write_text(text, encoding="latin-1")
    with pytest.raises(settings.SettingsFault, match=r"estimates"):
        earlier.estimates(tmp_path)


# what a terminal is told


def test_nothing_that_steers_a_terminal_is_said(tmp_path, capsys):
    named = tmp_path / f"{CLEAR}.yaml"
    named.write_text(f"study: here\n'{CLEAR[1:]}': 1\n", encoding="utf-8")
    assert settings.main([str(named)]) == 1
    assert confined.guarded(strangers.PROGRAMS["verify"][0], str(tmp_path / CLEAR)) == 2
    handler = LogHandler.__new__(LogHandler)
    handler.emit(SimpleNamespace(msg=f"{CLEAR}\nmore", levelno=logging.ERROR))
    said = capsys.readouterr()
    assert "\\u001b[2JIdentical" in said.err
    assert all(line.isprintable() for line in (said.out + said.err).split("\n"))
    assert said.err.endswith("\\u001b[2JIdentical\nmore\n")


def test_what_hides_is_found_and_what_scripts_need_is_not():
    for character in "\x00\x1b\x85\u200b\u202e\u2066\u2028\ufeff\udcff\U000e0041":
        assert hidden(f"a{character}").group() == character
        assert visible(character).startswith("\\u")
    assert hidden("Zoë\u00a0Ā 種子 \u200d بذرة 🌱") is None
    assert told("a\tb\nc") == "a\\u0009b\nc"


# a process of its own


SLOW = """
import os, subprocess, sys, time
def main(words):
    inner = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(600)"])
    with open(words[1], "w") as file:
        file.write(f"{inner.pid} {os.environ['TMPDIR']}")
    time.sleep(600)
"""


@pytest.fixture
def module(tmp_path, monkeypatch):
    """Return a function that writes a module which the process inside can import."""
    paths = [str(tmp_path), str(REPOSITORY / "workflow")]
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join(paths))
    return lambda text: (tmp_path / "inside.py").write_text(text, encoding="utf-8")


def _gone(path):
    """Return whether the innermost process and its room are gone."""
    pid, room = path.read_text(encoding="utf-8").split()
    state = subprocess.run(["ps", "-o", "stat=", "-p", pid], capture_output=True, text=True).stdout
    # one whose parent was killed may wait for init to take notice
    return (not state.strip() or state.startswith("Z")) and not os.path.exists(room)  # noqa: PTH110


def test_what_takes_too_long_is_ended_with_all_that_it_started(module, tmp_path, capfd):
    module(SLOW)
    path = tmp_path / "pid"
    assert confined.run("inside", str(path), seconds=5) == 2
    assert f"{path}: was not done after 5 s, and was stopped." in capfd.readouterr().err
    assert _gone(path)


@pytest.mark.parametrize(("number", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_interrupting_ends_both(module, tmp_path, number, status):
    module(SLOW)
    path = tmp_path / "pid"
    code = f"import sys; from hilum.steps import confined; sys.exit(confined.run('inside', {str(path)!r}))"
    with subprocess.Popen([sys.executable, "-c", code], stderr=subprocess.PIPE) as outer:
        ends = time.monotonic() + 60
        while not (path.exists() and " " in path.read_text(encoding="utf-8")):
            assert time.monotonic() < ends
            time.sleep(0.05)
        outer.send_signal(number)
        assert outer.wait(60) == status
        assert b"Traceback" not in outer.stderr.read()
    assert _gone(path)


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ("bytearray(10**15)", "needs more memory than there is for it"),
        ("import os; os.abort()", "the process that read it broke off (status -6)"),
        ("{}[words[1]]", "holds something that Hilum does not write"),
    ],
)
def test_a_process_that_breaks_is_told_in_a_sentence(module, capfd, body, says):
    module(f"def main(words):\n    {body}\n")
    assert confined.run("inside", f"a{CLEAR}") == 2
    said = capfd.readouterr().err
    assert says in said
    assert "Traceback" not in said
    assert said.rstrip("\n").isprintable()


def test_memory_is_limited_where_a_system_has_a_limit(module, capfd, monkeypatch):
    monkeypatch.setattr(confined, "_bytes", lambda _: 2_000_000_000)
    module("def main(words):\n    bytearray(3_000_000_000)\n    return 0\n")
    expected = 0 if sys.platform in ("darwin", "win32") else 2
    assert confined.run("inside", "x") == expected
    assert ("needs more memory" in capfd.readouterr().err) == (expected == 2)


def test_without_a_limit_of_memory_time_alone_is_limited(monkeypatch):
    monkeypatch.setitem(sys.modules, "resource", None)
    confined._limit(1)
    assert bytearray(10_000_000)


def test_an_honest_crate_passes_through_the_command(crate):
    one = strangers.KINDS["a folder with a link"]
    found = strangers.by_command(one, crate)
    assert found.status == 0, found.told
    assert found.told.startswith(
        "Identical: every table, estimate, chart and page is the same, byte for byte."
    )


# counts


def test_the_judge_sees_what_is_wrong():
    one, sound = strangers.KINDS["a folder with a link"], "crate: is a link; a crate holds files."
    assert not strangers.defect(one, strangers.Answer(2, sound, 1))
    for bad in (
        strangers.Answer(0, sound, 1),
        strangers.Answer(1, sound, 1),
        strangers.Answer(2, sound, 61),
        strangers.Answer(2, sound + "\x1b", 1),
        strangers.Answer(2, "no", 1),
        strangers.Answer(2, sound, 1, "Traceback"),
    ):
        assert strangers.defect(one, bad)


def test_the_counts_hold_hundreds_and_no_defect():
    text = command.COUNTS.read_text(encoding="utf-8")
    _, _, own = text.partition(f"\n{strangers.HEADING}\n")
    own, _, _ = own.partition("\n## ")
    assert " 0 defects." in own
    rows = [line.strip("| ").split(" | ") for line in own.splitlines() if line.startswith("| ")][2:]
    assert sum(int(row[1]) for row in rows) >= 500
    assert [row[-1] for row in rows][:2] == ["0", "0"]
