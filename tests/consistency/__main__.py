"""Print what is wrong in the reports of many random studies, by kind, each with the smallest study that shows it.

`python -m tests.consistency [--first 0] [--studies 60] [--kind WORDS] [--smaller]`; `--smaller` takes experiments, treatments and dishes
away as long as the kind stays.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from tests.consistency.found import Found, found, smaller
from tests.consistency.studies import Raw, draw


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.consistency", description=__doc__)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--studies", type=int, default=60)
    parser.add_argument("--kind", default="", help="only kinds that hold these words")
    parser.add_argument("--smaller", action="store_true")
    return parser.parse_args()


def _size(raw: Raw) -> int:
    return sum(len(rows) for tables in raw.tables.values() for rows in tables.values())


def _of(words: argparse.Namespace) -> dict[str, list[Found]]:
    kinds: dict[str, list[Found]] = {}
    for seed in range(words.first, words.first + words.studies):
        with tempfile.TemporaryDirectory() as folder:
            for one in found(draw(seed), Path(folder)):
                if words.kind in one.violation.kind:
                    kinds.setdefault(one.violation.kind, []).append(one)
    return kinds


def _tables(raw: Raw) -> str:
    lines = [
        f"    {experiment}/{table}: {rows}"
        for experiment in raw.experiments
        for table, rows in raw.tables[experiment].items()
    ]
    return "\n".join(lines)


def main() -> int:
    """Return 1 where anything is wrong."""
    words = _arguments()
    kinds = _of(words)
    for kind, own in sorted(kinds.items(), key=lambda pair: -len({f.raw.seed for f in pair[1]})):
        seeds = sorted({f.raw.seed for f in own})
        least = min(own, key=lambda f: _size(f.raw))
        least = smaller(least) if words.smaller else least
        print(
            f"\n{kind}\n  {len(own)} times in {len(seeds)} of {words.studies} studies: {seeds[:12]}"
        )
        print(
            f"  study {least.raw.seed}, {_size(least.raw)} rows: {least.violation.says}", flush=True
        )
        if words.smaller:
            print(_tables(least.raw))
    return 1 if kinds else 0


if __name__ == "__main__":
    raise SystemExit(main())
