"""One figure for the same seeds: whole reports of random studies, read back and held against each other and the raw tables."""
