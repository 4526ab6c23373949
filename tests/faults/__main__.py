"""Run every damage and every stressed fit, print what became of them, and write `tests/faults/counts.md`.

`python -m tests.faults [--seed 1] [--number 20] [--share 1]`; about half an hour. `--fits storage` runs the random data sets
of this analysis alone, `--edits 200` so many edits of raw tables, `--crates 500` so many crates and files of strangers, `--mistakes 200`
so many of each mistake that is remarked, `--reports` whole reports of random studies, and each writes its counts anew.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tests.consistency import tally as whole
from tests.faults import edits, fits, killed, large, mistakes, strangers
from tests.faults.ground import demo, small
from tests.faults.nonsense import DRAWN
from tests.faults.tally import Tally, by_command, page, tally

COUNTS = Path(__file__).with_name("counts.md")
_EDITS = 200
_CRATES = 500
_MISTAKES = 200


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--number", type=int, default=20, help="damages of a kind in each study")
    parser.add_argument("--share", type=float, default=1.0, help="share of the random data sets")
    parser.add_argument("--step", type=int, default=7, help="kill before every so many changes")
    parser.add_argument("--edits", type=int, default=0, help="only so many edits of raw tables")
    parser.add_argument("--crates", type=int, default=0, help="only so many crates of strangers")
    parser.add_argument("--mistakes", type=int, default=0, help="only so many of each mistake")
    parser.add_argument("--fits", nargs="+", choices=DRAWN, help="only these random data sets")
    parser.add_argument("--reports", action="store_true", help="only the reports of random studies")
    parser.add_argument("--studies", type=int, default=200, help="random studies taken to a report")
    return parser.parse_args()


def _reports(studies: int) -> int:
    made = whole.reported(studies)
    COUNTS.write_text(whole.renewed(COUNTS.read_text(encoding="utf-8"), made), encoding="utf-8")
    print(whole.section(made))
    print(*made.failures, sep="\n", file=sys.stderr)
    return 1 if made.failures else 0


def _only(names: Sequence[str], words: argparse.Namespace) -> int:
    made = fits.Stress()
    for name in names:
        studies = max(round(DRAWN[name].studies * words.share), 1)
        fits.stress(name, studies=studies, seed=words.seed, made=made)
    text = fits.renewed(COUNTS.read_text(encoding="utf-8"), made)
    COUNTS.write_text(text, encoding="utf-8")
    print(fits.table(made))
    print(*made.failures, sep="\n", file=sys.stderr)
    return 1 if made.failures else 0


def _edits(number: int, seed: int) -> edits.Desk:
    with tempfile.TemporaryDirectory() as folder:
        return edits.edited(Path(folder) / "desk", number=number, seed=seed)


def _only_edits(words: argparse.Namespace) -> int:
    desk = _edits(words.edits, words.seed)
    _renew(edits.HEADING, edits.section(desk))
    print(*desk.wrong, sep="\n", file=sys.stderr)
    return 1 if desk.wrong else 0


def _crates(number: int, seed: int) -> strangers.Met:
    strangers.load()
    with tempfile.TemporaryDirectory() as folder:
        return strangers.meet(Path(folder), number=number, seed=seed)


def _only_crates(words: argparse.Namespace) -> int:
    met = _crates(words.crates, words.seed)
    text = strangers.replaced(COUNTS.read_text(encoding="utf-8"), met)
    COUNTS.write_text(text, encoding="utf-8")
    print(f"{strangers.section(met)}\nThe slowest took {met.slowest:.1f} s.")
    print(*met.wrong, sep="\n", file=sys.stderr)
    return 1 if met.wrong else 0


def _renew(heading: str, section: str) -> None:
    """Print a section, and write it over the one with its heading, or at the end."""
    before, _, own = COUNTS.read_text(encoding="utf-8").partition(f"\n{heading}\n")
    _, head, after = own.partition("\n## ")
    COUNTS.write_text(f"{before}\n{section}{head}{after}", encoding="utf-8")
    print(section)


def _only_mistakes(words: argparse.Namespace) -> int:
    made = mistakes.counted(words.mistakes, seed=words.seed)
    _renew(mistakes.HEADING, mistakes.section(made))
    print(*made.missed, *made.false, sep="\n", file=sys.stderr)
    return 0


def _all(folder: Path, words: argparse.Namespace) -> tuple[Tally, Tally]:
    made = tally(folder, number=words.number, seed=words.seed)
    for verdict in large.verdicts(folder / "large"):
        made.add("A table of a million rows, sound or with a word in the last of them", verdict)
    command = Tally()
    for ground in (small(), demo()):
        command.join(by_command(folder, ground, seed=words.seed, every=3))
    return made, command


def main() -> int:
    """Return 1 where anything is a defect."""
    words = _arguments()
    if words.fits:
        return _only(words.fits, words)
    if words.reports:
        return _reports(words.studies)
    if words.mistakes:
        return _only_mistakes(words)
    if words.edits:
        return _only_edits(words)
    if words.crates:
        return _only_crates(words)
    with tempfile.TemporaryDirectory() as folder:
        made, command = _all(Path(folder), words)
        kills, lost = killed.every(Path(folder) / "killed", step_by=words.step)
    told = (
        f"{kills} times a step was killed (kill -9) before one of its changes on the disk; {len(lost)} times the raw tables, the "
        "last good site or what the next run made was not as it should be."
    )
    stressed = fits.stressed(share=words.share, seed=words.seed)
    reports, desk = whole.reported(words.studies), _edits(_EDITS, words.seed)
    met = _crates(_CRATES, words.seed)
    text = page(made, command, fits.table(stressed), told, seed=words.seed, number=words.number)
    slips = mistakes.section(mistakes.counted(_MISTAKES, seed=words.seed))
    text = strangers.replaced(f"{text}\n{edits.section(desk)}\n{slips}", met)
    text = whole.renewed(text, reports)
    print(text)
    COUNTS.write_text(text, encoding="utf-8")
    wrong = [f"{name}: {v.done}: {v.says}" for name, v in made.defects + command.defects]
    wrong += stressed.failures + lost + reports.failures + desk.wrong + met.wrong
    print(*wrong, sep="\n", file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
