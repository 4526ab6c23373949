"""Seeds and tables as an experiment would leave them: `sown` in dishes, weighed from a `pool`, and `studied` as real ones are."""
