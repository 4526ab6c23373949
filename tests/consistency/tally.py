"""Many random studies taken to pages, and the counts of what disagrees there, for `make faults`."""

from __future__ import annotations

import re
import tempfile
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from hilum import progress
from tests.consistency import advice, agree, said
from tests.consistency.built import build
from tests.consistency.figures import Reader
from tests.consistency.studies import draw

_HEAD = "## Whole reports of random studies"


@dataclass
class Reports:
    """Studies, the figures read back from their pages, and what was wrong by kind; `failures` are the sentences."""

    studies: int = 0
    figures: int = 0
    kinds: Counter[str] = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)


def reported(studies: int, first: int = 0) -> Reports:
    """Return what is wrong in the reports of so many studies."""
    made = Reports()
    for seed in progress.through(range(first, first + studies), studies):
        with tempfile.TemporaryDirectory() as folder:
            reader = Reader(build(draw(seed), Path(folder)))
            wrong = [
                *agree.violations(reader),
                *said.violations(reader),
                *advice.violations(reader),
            ]
            made.figures += len(reader.all())
        made.studies += 1
        made.kinds.update(v.kind for v in wrong)
        made.failures += [f"study {seed}: {v}" for v in wrong]
    return made


def section(made: Reports) -> str:
    """Return the counts as a section of the page of counts."""
    kinds = "".join(f"\n- {kind}: {n}" for kind, n in sorted(made.kinds.items()))
    return f"""{_HEAD}

{made.studies} random studies of dishes as real benches leave them (finished early, one seed to a cup, not scored, scored in part,
counted in no table, opened or moved afterwards) were taken from raw tables to pages. {made.figures} figures of seeds were read back from files,
pages, charts, captions and text alternatives, held against each other and against the tables counted anew; sentences were held
against each other, and advice against what the tables hold. {len(made.failures)} times something disagreed{":" if kinds else "."}
{kinds}"""


def renewed(page: str, made: Reports) -> str:
    """Return the page with this section in the place of its former one, or at its end."""
    former = re.search(rf"{re.escape(_HEAD)}\n.*?(?=\n## |\Z)", page, re.DOTALL)
    text = section(made).rstrip()
    return page.replace(former.group(), f"{text}\n") if former else f"{page.rstrip()}\n\n{text}\n"
