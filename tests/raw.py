"""A faultless raw study that tests change in one place, and what the check then says of it."""

from __future__ import annotations

import os
from collections.abc import Mapping
from contextlib import contextmanager
from pathlib import Path

from hilum.settings import Settings
from hilum.steps import check
from hilum.study import Study
from hilum.tables.sentences import Faults

FILES: dict[str, str] = {
    "lots.csv": (
        "lot,taxon,collected_on,received_on,expected_germination_pct,notes\n"
        "A,Strandia ficta,2024-03-01,2024-03-09,85,\n"
        "lot #3,Strandia ficta,,,,second bag\n"
    ),
    "treatments.csv": (
        "treatment,step,method,agent,concentration,concentration_unit,duration,duration_unit\n"
        "intact,,none,,,,,\n"
        "acid,1,acid,sulphuric acid,95,%,30,min\n"
        "acid,2,other,tap water,,,10,min\n"
        "None,,none,,,,,\n"
        "NA,,none,,,,,\n"
    ),
    "chamber_log.csv": (
        "chamber,at,temperature_c\n"
        "c1,2024-05-01T09:00Z,15.1\n"
        "c1,2024-05-02T09:00Z,14.9\n"
        "c1,2024-05-03T09:00Z,15.0\n"
    ),
    "temperature_courses.csv": (
        "course,elapsed_h,temperature_c\nsill,0,12\nsill,12,21.5\nsill,24,13\npond,0,9\npond,24,10\n"
    ),
    "reference_traits.csv": (
        "taxon,trait,low,high,unit,source\nStrandia ficta,seed length,6.8,8.1,mm,Flora\n"
    ),
    "moisture.csv": (
        "lot,sample,container_g,before_g,after_g\n"
        "A,1,15.2134,20.2871,19.8605\nA,2,15.1067,20.1544,19.7301\n"
    ),
    "germ/experiment.yaml": (
        "title: Germination\nanalyses: []\ntime_zone: Europe/Lisbon\nbalance_readability_mg: 0.1\n"
    ),
    "germ/weighings.csv": (
        "seed,lot,treatment,dish,soaked_h,mass_mg,floats,radicle\n"
        "s1,A,acid,,0,20.0,yes,no\n"
        "s1,A,acid,,24,41.5,no,no\n"
        "s1,A,acid,,48,42.0,no,yes\n"
        "s2,A,intact,d1,0,21.0,,\n"
        "s2,A,intact,d1,24,21.4,,\n"
    ),
    "germ/dishes.csv": (
        "dish,lot,treatment,temperature_c,night_temperature_c,warm_h,chamber,seeds,sown_at\n"
        "d1,A,intact,15,,,c1,25,2024-05-01T09:00\n"
        "d2,A,acid,15,5,12,,20,2024-05-01T09:00\n"
        "d3,lot #3,None,25,,,,20,\n"
    ),
    "germ/counts.csv": (
        "dish,elapsed_h,germinated,removed,removed_as\n"
        "d1,24,0,,\n"
        "d1,48,3,1,dead\n"
        "d2,24,10,,\n"
        "d2,48,5,,\n"
        "d2,72,1,,\n"
        "d3,24,2,,\n"
    ),
    "germ/outcomes.csv": (
        "dish,seed,outcome,seeds,alive,assessed_by\n"
        "d1,,hard,19,12,cutting\n"
        "d1,,dead,1,,sight\n"
        "d1,s2,hard,1,,\n"
        "d2,,normal,14,,\n"
        "d2,,fresh,4,,pressing\n"
    ),
    "germ/viability.csv": (
        "sample,lot,treatment,method,seeds,alive,dead,empty\nz1,A,intact,tetrazolium,50,42,6,2\n"
    ),
    "germ/events.csv": "dish,elapsed_h,event,to\nd3,24,moved,20\n",
    "germ/stages.csv": "seedling,lot,treatment,elapsed_d,leaves\np1,A,acid,3,0\np1,A,acid,9,2\n",
    "germ/traits.csv": "specimen,lot,trait,value,unit\nm1,A,seed length,7.2,mm\n",
}


@contextmanager
def standing_in(folder: Path):
    """Stand in a folder, as a user does in a terminal."""
    before = Path.cwd()
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)


def write(folder: Path, changes: Mapping[str, str | bytes | None] | None = None) -> Study:
    """Write the study below `folder` with some files changed (None leaves one out)."""
    raw = folder / "data" / "strand"
    for name, content in {**FILES, **(changes or {})}.items():
        if content is None:
            continue
        path = raw / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content.encode() if isinstance(content, str) else content)
    return Study(raw=raw, results=folder / "results" / "strand")


def run(study: Study) -> list[str]:
    """Return the faults that the check finds in a study, as the lines of check.txt."""
    with standing_in(study.raw.parent.parent):
        try:
            check.run(study, Settings(study=study.raw))
        except Faults as faults:
            told = study.check_log.read_text(encoding="utf-8").splitlines()
            assert told == list(faults.sentences)
            assert not study.checked.exists()
            assert not study.manifest("check").exists()
            return told
    assert study.check_log.read_text(encoding="utf-8") == ""
    assert study.manifest("check").exists()
    return []


def faults(folder: Path, changes: Mapping[str, str | bytes | None]) -> list[str]:
    """Return the faults of the study with some files changed, paths cut to what lies in the study."""
    return [line.removeprefix("data/strand/") for line in run(write(folder, changes))]


def notes(study: Study) -> list[str]:
    """Return the remarks of the last check, paths cut to what lies in the study."""
    lines = study.check_notes.read_text(encoding="utf-8").splitlines()
    return [line.removeprefix("data/strand/") for line in lines]


def edited(name: str, *pairs: tuple[str, str]) -> dict[str, str]:
    """Return one file of the study with each old text replaced by a new one."""
    text = FILES[name]
    for old, new in pairs:
        assert old in text, f"{old!r} is not in {name}"
        text = text.replace(old, new, 1)
    return {name: text}


def with_rows(name: str, *rows: str) -> dict[str, str]:
    """Return one file of the study with rows added at its end."""
    return {name: FILES[name] + "".join(f"{row}\n" for row in rows)}
