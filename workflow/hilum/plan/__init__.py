"""What an experiment would tell, before the first seed is wet.

`asked` is what a person wants to know and guesses. From it come `simulated` tables, `expected` half-widths, what is `advised` to narrow
them, causes of `failure` that dishes would tell apart, and where dishes are `laid_out`. `running` looks after a test that has begun.
`model` puts all of it together; what is `shown` of it imports that. Imports go one way, from each of these to those before it.
"""
