"""What a crate says to the person who opens it."""

from __future__ import annotations

from hilum.crate import layout
from hilum.crate.layout import Run
from hilum.crate.metadata import DOCUMENTS, REPORT
from hilum.markup import escape

_TEXT = """\
# {study}

A run of Hilum {hilum}: raw tables, what was estimated from them, the report, and the code that repeats it. Open `{report}`; it needs no network.

| place | what it is |
| --- | --- |
| `{report}` | The report |
| `data/` | The raw tables, as they were typed |
| `checked/` | The same, as they were read |
| `estimates/` | Every estimate with its interval |
{documents}
| `code/` | The code of the run |

## Repeat it

On a machine with Python {python}, git and make, in the folder `code`:

    make site CONFIG=../config.yaml

The report is then in `code/results`, the same byte for byte with the same family of processors, else each estimate to six significant digits.

## Verify it

In a checkout of Hilum, this version or a later one; CRATE is this folder, or the zip that it came in:

    make verify CRATE=path/to/crate.zip

It makes everything here again from the raw tables, and names each estimate that moved and each file that was altered, and why. What another version made
otherwise it calls not verified. The hashes alone: `sha256sum --check {sums}`.

## Cite it

{citation}
"""


def text(run: Run, citation: str) -> str:
    """Return README.md of a crate."""
    named = {path: says for path, says in DOCUMENTS.items() if path != layout.README}
    return _TEXT.format(
        study=escape(run.study),
        hilum=run.hilum,
        report=REPORT,
        documents="\n".join(f"| `{path}` | {says} |" for path, says in named.items()),
        python=run.python,
        sums=layout.SUMS,
        citation=escape(citation),
    )
