"""What an experiment would tell, before the first seed is wet.

`design` is the model of a plan's YAML file. From its best guesses come expected tables and expected information: `causes` asks the
diagnosis what such tables would separate, `warm`, `timed`, `dosed` and `stored` how wide intervals would be, `advice` what
to add and how to share out dishes, `stopping` whether to go on inspecting. `model` puts all of it together.
"""
