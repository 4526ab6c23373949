"""Where a run came from: code, packages, settings and the last day of its data, never the day of the run."""

import json
import re
from types import SimpleNamespace

import pytest

from hilum import commit, lock
from hilum.report import provenance
from hilum.settings import Settings
from hilum.steps import provenance as gathered
from hilum.study import LOCK

LOCKED = """\
numpy==2.4.6 ; python_full_version < '3.12' \\
    --hash=sha256:00
numpy==2.5.5 ; python_full_version >= '3.12' \\
    --hash=sha256:01
PyYAML==6.0.3 \\
    --hash=sha256:02
pyreadline3==3.5.6 ; sys_platform == 'win32' \\
    --hash=sha256:03
"""
MADE = provenance.Made(
    version="0.1.0",
    commit="a" * 40,
    changed=(),
    python="3.11",
    lock="f" * 64,
    packages={"numpy": "2.4.6"},
    differing={},
    raw={"lots.csv": "0" * 64},
    estimates={"estimates/a/b.csv": "1" * 64},
    ends="2031-05-06",
)


def _page(made=MADE, **settings) -> str:
    return provenance.provenance(made, Settings(study=".", **settings), "pods", "Cited.")


def test_a_lock_is_read_as_far_as_it_holds_on_this_machine():
    found = lock.locked(LOCKED)
    assert found.pop("numpy") in ("2.4.6", "2.5.5")
    assert found == {"pyyaml": "6.0.3"}


def test_packages_differ_by_version_or_by_not_being_there():
    then, now = {"a": "1", "b": "1", "c": "1"}, {"a": "1", "b": "2", "d": "1"}
    assert lock.differing(then, now) == {"b": ("1", "2"), "c": ("1", ""), "d": ("", "1")}


def test_this_environment_is_the_locked_one():
    """Every number that these tests hold was made by the locked packages."""
    asked = lock.locked(LOCK.read_text(encoding="utf-8"))
    assert len(asked) > 50
    assert lock.differing(asked, lock.here(asked)) == {}


def test_the_page_says_when_the_data_end_and_that_all_is_as_it_comes():
    page = _page()
    assert "The raw tables end on 2031-05-06" in page
    assert "The code is as this commit has it." in page
    assert "All 1 packages are [those of requirements.lock]" in page
    assert "Every setting has its default" in page
    for sha in ("0" * 64, "1" * 64, "f" * 64):
        assert sha in page
    assert "> Cited." in page


def test_a_thousand_experiments_leave_the_page_light_and_the_table_whole():
    raw = {f"exp-{i:04d}/counts.csv": f"{i:064x}" for i in range(4000)}
    made = provenance.Made(**(vars(MADE) | {"raw": raw}))
    page = _page(made)
    assert len(page.encode()) < 300_000
    assert f"{59:064x}" in page
    assert f"{60:064x}" not in page
    assert "3,940 more files are in hashes.csv." in page
    assert "All 4,001 raw files and tables of estimates" in page
    rows = provenance.hashes(made)
    assert {row["file"]: row["sha256"] for row in rows} == raw | MADE.estimates
    assert [row["kind"] for row in rows] == ["raw"] * 4000 + ["estimates"]


def test_the_page_names_what_is_not_as_it_comes():
    odd = {
        "changed": [f"workflow/{i}.py" for i in range(14)],
        "differing": {"numpy": ("2.4.6", "2.4.5"), "scipy": ("1.17.1", "")},
        "ends": "",
    }
    page = _page(provenance.Made(**(vars(MADE) | odd)), confidence=0.9, seedlings_wanted=(7,))
    assert "not committed: workflow/0.py, workflow/1.py" in page
    assert "workflow/11.py and 2 more. Commit before you cite." in page
    rows = re.sub("<[^>]*>", " ", page)
    assert re.search(r"numpy\s+2\.4\.6\s+2\.4\.5\s+scipy\s+1\.17\.1\s+not installed", rows)
    assert re.search(r"confidence\s+0\.9\s+0\.95\s", rows)
    assert re.search(r"seedlings&#95;wanted\s+&#91;7&#93;\s+&#91;10, 50, 100&#93;", rows)
    assert "equivalence" not in page
    assert "No table tells on which day the data end" in page
    nowhere = provenance.Made(**(vars(MADE) | {"commit": "not under version control"}))
    assert "nobody can tell which it was" in _page(nowhere)


def test_the_data_end_with_the_last_inspection_and_not_with_the_sowing(tmp_path):
    folder = tmp_path / "a"
    folder.mkdir()
    assert gathered.ends(tmp_path) == ""
    (folder / "dishes.csv").write_text(
        "line,dish,sown_at\n2,d1,2025-03-10T20:00:00Z\n3,d2,\n", encoding="utf-8"
    )
    assert gathered.ends(tmp_path) == "2025-03-10"
    (folder / "counts.csv").write_text(
        "line,dish,elapsed_h,germinated\n2,d1,5,1\n3,d2,900,1\n", encoding="utf-8"
    )
    # five hours after eight in the evening; the other dish tells no day
    assert gathered.ends(tmp_path) == "2025-03-11"


def test_the_demo_ends_when_its_tables_do(demo):
    """Its float test and its soaking have no dates; the acid dishes, sown last, were scored on 28 July 2025."""
    results = demo / "results/strandline"
    assert gathered.ends(results / "checked") == "2025-07-28"
    page = (results / "pages/provenance.md").read_text(encoding="utf-8")
    made = json.loads((results / "manifests/fit.json").read_text(encoding="utf-8"))
    for name, sha in made.items():
        assert (sha in page) == name.endswith(".csv"), name


@pytest.mark.parametrize("said", ["?? workflow/new.py\0 M site/page\0", ""])
def test_changed_files_are_those_that_the_version_control_names(said, monkeypatch):
    monkeypatch.setattr(commit, "_has_history", lambda: True)
    monkeypatch.setattr(commit.subprocess, "run", lambda *_, **__: SimpleNamespace(stdout=said))
    assert commit.changed() == (("site/page", "workflow/new.py") if said else ())


def test_code_without_its_history_says_what_it_carries_and_when_it_was_changed(
    tmp_path, monkeypatch
):
    """Not what the history of a checkout says in which it happens to lie."""
    monkeypatch.setattr(commit, "SITE", tmp_path / "site")
    (tmp_path / "site").mkdir()
    page = tmp_path / "site/page"
    page.write_text("one", encoding="utf-8")
    assert commit.of_code() == "not under version control"
    assert commit.changed() == ()
    carried = json.loads(commit.packed(tmp_path)) | {"commit": "a" * 40, "released": True}
    (tmp_path / commit.PACKED).write_text(json.dumps(carried), encoding="utf-8")
    assert (commit.of_code(), commit.changed(), commit.is_release()) == ("a" * 40, (), True)
    (tmp_path / "site/made.pyc").write_text("by a run", encoding="utf-8")
    assert commit.is_release()
    page.write_text("two", encoding="utf-8")
    assert commit.of_code() == f"{'a' * 40}, with changes not committed"
    assert commit.changed() == ("this copy of the code",)
    assert not commit.is_release()
    command = ["git", "-C", str(tmp_path), "init"]
    commit.subprocess.run(command, check=True, capture_output=True)
    monkeypatch.setattr(commit, "SITE", tmp_path / "lies/within/site")
    (tmp_path / "lies/within/site").mkdir(parents=True)
    assert commit.of_code() == "not under version control"
