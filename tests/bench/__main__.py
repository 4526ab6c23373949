"""`make bench`: ratios within one run, printed, never asserted."""

from tests.bench import fits, workflow

fits.run()
workflow.run()
