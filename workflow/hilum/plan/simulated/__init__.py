"""Seeds and tables as an experiment would leave them: `sown` in dishes, `treated` in baths, weighed from a `pool`."""
