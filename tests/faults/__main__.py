"""Run every damage and every stressed fit, print what became of them, and write `tests/faults/counts.md`.

`python -m tests.faults [--seed 1] [--number 20] [--fits 120000]`
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

from tests.faults import large
from tests.faults.ground import demo, small
from tests.faults.tally import Tally, by_command, page, tally

COUNTS = Path(__file__).with_name("counts.md")


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--number", type=int, default=20, help="damages of a kind in each study")
    return parser.parse_args()


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
    with tempfile.TemporaryDirectory() as folder:
        made, command = _all(Path(folder), words)
    text = page(made, command, seed=words.seed, number=words.number)
    print(text)
    COUNTS.write_text(text, encoding="utf-8")
    for name, verdict in made.defects + command.defects:
        print(f"{name}: {verdict.done}: {verdict.says}", file=sys.stderr)
    return 1 if made.defects or command.defects else 0


if __name__ == "__main__":
    sys.exit(main())
