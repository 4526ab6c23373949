"""`make bench`: ratios within one run."""
