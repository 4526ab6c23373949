"""Seeds and tables as an experiment would leave them: `sown` in dishes, `treated` in baths, weighed from a `pool`.

`studied` are whole studies, analysed as real ones are.
"""
