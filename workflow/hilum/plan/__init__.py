"""What an experiment would tell, before the first seed is wet.

`design` is the model of a plan's YAML file, of `material` and `experiments`. From its best guesses come expected tables and expected
information: `causes` asks the diagnosis what the tables of a `bench` would separate if one cause alone held seeds back (`supposed`), and
which of some `remedies` is the cheapest; `warm_limits`, `timed`, `dosed` and `stored` say how wide intervals would be, `advice` what
to add and how to share out dishes, `stopping` whether to go on inspecting. `model` puts all of it together.
"""
