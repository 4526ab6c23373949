"""What lies in a study folder, and what the check leaves behind."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from hilum import manifest
from hilum.tables import sentences
from tests import raw


def _link(study, name, target):
    path = study.raw / name
    path.unlink(missing_ok=True)
    path.symlink_to(target)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"germ/count.csv": "a\n"}, "germ/count.csv: is not a table that is read; perhaps you meant counts.csv."),
        ({"germ/Counts.CSV": "a\n"}, "germ/Counts.CSV: is not a table that is read; perhaps you meant"),
        ({"counts.csv": "a\n"}, "counts.csv: belongs into an experiment's folder."),
        ({"germ/lots.csv": "a\n"}, "germ/lots.csv: belongs into the study folder."),
        ({"my germ/experiment.yaml": "title: x\nanalyses: []\n"}, "my germ: is the name of an experiment"),
        ({"germ2/counts.csv": "dish,elapsed_h,germinated\n"}, "germ2/experiment.yaml: is missing; it gives"),
        ({"germ/counts.csv": None, "germ/counts.xlsx": b"PK"}, "germ/counts.xlsx: is not read; save it as counts.csv."),
    ],
)  # fmt: skip
def test_what_is_in_the_wrong_place(tmp_path, changes, says):
    told = raw.faults(tmp_path, changes)
    assert any(line.startswith(says) for line in told)


def test_other_files_and_folders_are_left_alone(tmp_path):
    study = raw.write(
        tmp_path,
        {
            "germ/pond temperatures.csv": "at,t\n",
            "germ/counts.xlsx": b"PK",
            "germ/.~lock.counts.csv#": "",
            "photos/dish.jpg": b"\xff",
            ".git/config": "",
        },
    )
    assert raw.run(study) == []
    assert raw.notes(study) == [
        "germ/counts.xlsx: is a spreadsheet, and not read: where it holds newer numbers than the CSV files beside it, save its sheets as "
        "these; else keep it outside the study.",
        "germ/pond temperatures.csv: is not a table that is read, so nothing was done with it.",
        "photos: holds neither experiment.yaml nor a CSV file, so it was passed over.",
    ]


def test_a_missing_study_and_one_without_experiments(tmp_path):
    study = raw.write(tmp_path, dict.fromkeys(f for f in raw.FILES if "/" in f))
    assert raw.run(study) == [
        "data/strand: holds no experiment, which is a folder with experiment.yaml and tables."
    ]
    for path in study.raw.iterdir():
        path.unlink()
    study.raw.rmdir()
    says = "data/strand: the study folder {}; config.yaml names it."
    assert raw.run(study) == [says.format("does not exist")]
    study.raw.write_text("x", encoding="utf-8")
    assert raw.run(study) == [says.format("is not a folder")]


def test_links_may_not_lead_out_of_the_study(tmp_path):
    study = raw.write(tmp_path)
    secret = tmp_path / "secret.csv"
    secret.write_text("password\nhunter2\n", encoding="utf-8")
    _link(study, "germ/counts.csv", secret)
    _link(study, "germ/experiment.yaml", secret)
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere/counts.csv").write_text("x\n", encoding="utf-8")
    (study.raw / "away").symlink_to(tmp_path / "elsewhere", target_is_directory=True)
    told = raw.run(study)
    leads = "is a link that leads out of the study folder; copy the"
    assert f"data/strand/germ/counts.csv: {leads} file here." in told
    assert f"data/strand/germ/experiment.yaml: {leads} file here." in told
    assert f"data/strand/away: {leads} folder here." in told
    assert not any("password" in line or "hunter2" in line for line in told)


def test_links_within_the_study_are_followed(tmp_path):
    study = raw.write(tmp_path)
    (study.raw / "germ/events.csv").rename(study.raw / "germ/kept.txt")
    _link(study, "germ/events.csv", "kept.txt")
    assert raw.run(study) == []


def test_links_that_lead_nowhere_and_files_that_are_none(tmp_path):
    study = raw.write(tmp_path)
    _link(study, "germ/counts.csv", "counts.csv")
    _link(study, "germ/events.csv", "gone.csv")
    (study.raw / "germ/traits.csv").unlink()
    (study.raw / "germ/traits.csv").mkdir()
    (study.raw / "germ/stages.csv").unlink()
    os.mkfifo(study.raw / "germ/stages.csv")
    told = "\n".join(raw.run(study))
    assert "germ/counts.csv: cannot be read: " in told
    for name in ("events", "traits", "stages"):
        assert f"germ/{name}.csv: is not a file." in told


def test_the_manifest_holds_the_hash_of_every_checked_file(tmp_path):
    study = raw.write(tmp_path)
    assert raw.run(study) == []
    made = json.loads(study.manifest("check").read_text(encoding="utf-8"))
    files = sorted(p for p in study.checked.rglob("*") if p.is_file())
    assert made == {p.relative_to(study.results).as_posix(): manifest.sha256(p) for p in files}
    assert list(made) == sorted(made)
    assert {p.relative_to(study.checked).as_posix() for p in files} == {
        *(name for name in raw.FILES if name.endswith(".csv")),
        "germ/experiment.json",
        "remarks.json",
    }


def test_the_same_bytes_wherever_the_study_lies(tmp_path):
    here, there = raw.write(tmp_path / "here"), raw.write(tmp_path / "over there")
    assert raw.run(here) == raw.run(there) == []
    assert here.manifest("check").read_bytes() == there.manifest("check").read_bytes()
    assert here.check_notes.read_bytes() == there.check_notes.read_bytes()


def test_the_raw_study_is_never_written_to(tmp_path):
    study = raw.write(tmp_path)
    before = {p: p.read_bytes() for p in study.raw.rglob("*") if p.is_file()}
    raw.run(study)
    assert {p: p.read_bytes() for p in study.raw.rglob("*") if p.is_file()} == before


def test_a_fault_takes_checked_tables_and_manifest_of_the_last_run_away(tmp_path):
    study = raw.write(tmp_path)
    assert raw.run(study) == []
    (study.site).mkdir(parents=True)
    (study.site / "index.html").write_text("last good site", encoding="utf-8")
    raw.write(tmp_path, raw.edited("germ/counts.csv", ("d1,24,0", "d1,24,zero")))
    assert len(raw.run(study)) == 1
    assert (study.site / "index.html").read_text(encoding="utf-8") == "last good site"
    raw.write(tmp_path)
    assert raw.run(study) == []


def test_an_interrupted_check_leaves_the_last_tables_whole(tmp_path, monkeypatch):
    study = raw.write(tmp_path)
    assert raw.run(study) == []
    before = {p: p.read_bytes() for p in study.checked.rglob("*") if p.is_file()}

    def die(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("hilum.steps.check._about", die)
    with pytest.raises(KeyboardInterrupt):
        raw.run(study)
    assert {p: p.read_bytes() for p in study.checked.rglob("*") if p.is_file()} == before
    # and the manifest does not claim that the run was finished
    assert not study.manifest("check").exists()
    monkeypatch.undo()
    assert raw.run(study) == []


def test_the_door_tells_the_first_faults_and_how_many_there_are(tmp_path):
    told = [f"data/x/counts.csv, line {i}: germinated is x." for i in range(50)]
    text = str(sentences.Faults(told, tmp_path / "check.txt"))
    assert text.splitlines()[:20] == told[:20]
    assert text.splitlines()[20:] == [
        f"50 faults in the raw tables, the first 20 of them above; all are listed in {tmp_path}/check.txt."
    ]
    assert str(sentences.Faults(told[:1], Path("check.txt"))).endswith(
        "1 fault in the raw tables; all are listed in check.txt."
    )


def test_several_experiments_are_told_apart(tmp_path):
    """The same dish, seed and sample names in two experiments are different things."""
    again = {
        name.replace("germ/", "again/"): text for name, text in raw.FILES.items() if "/" in name
    }
    assert raw.faults(tmp_path / "fine", again) == []
    again["again/counts.csv"] = raw.edited("germ/counts.csv", ("d2,48,5", "d2,48,15"))[
        "germ/counts.csv"
    ]
    told = raw.faults(tmp_path / "fault", again)
    assert len(told) == 1
    assert told[0].startswith(
        "again/counts.csv, line 5: germinated is 15, but only 10 seeds of dish d2"
    )


def test_the_fit_step_reads_checked_tables_without_pandas():
    code = (
        "import sys; from hilum.tables import checked, dictionary;"
        "print(*sorted({'pandas', 'pandera', 'altair', 'scipy'} & set(sys.modules)))"
    )
    seen = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert seen.stdout.strip() == ""


def test_a_file_name_that_is_no_text_and_one_that_speaks_to_the_terminal(tmp_path):
    study = raw.write(tmp_path)
    (Path(os.fsdecode(bytes(study.raw) + b"/germ/odd\xff.csv"))).write_text("a\n", encoding="utf-8")
    (study.raw / "germ/\x1b[2Jclear\n.csv").write_text("a\n", encoding="utf-8")
    (study.raw / "bad\nname").mkdir()
    (study.raw / "bad\nname/counts.csv").write_text("a\n", encoding="utf-8")
    told = raw.run(study)
    assert told == [
        "data/strand/bad\\u000aname: is the name of an experiment, so it may have letters, digits, - and _ "
        "only."
    ]
    assert [note.split(": ")[0] for note in raw.notes(study)] == [
        "germ/\\u001b[2Jclear\\u000a.csv",
        "germ/odd\\udcff.csv",
    ]
