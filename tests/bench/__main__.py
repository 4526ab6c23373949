"""`make bench`: ratios within one run, printed, never asserted; `make bench BENCH=fits` runs one part."""

import sys

from tests.bench import courses, fits, opening, scale, tables, thermal, workflow

PARTS = {
    "fits": fits.run,
    "courses": courses.run,
    "thermal": thermal.run,
    "workflow": workflow.run,
    "opening": opening.run,
    "tables": tables.run,
    "scale": scale.run,
}

for part in sys.argv[1:] or PARTS:
    PARTS[part]()
