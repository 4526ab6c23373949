"""How wide intervals would be: expected information, and simulated studies that check it.

`guessed` makes questions of a plan: seeds over temperatures (`warm`, `warm_limits`, `warm_design`), treatments beside each other
(`timed`, `timed_limits`), durations (`dosed`), storage (`stored`), seeds weighed one by one (`soaked`, `soaked_studies`). What each
answers is a `prospect`; `sizes` hold it for other numbers of dishes and seeds.
"""
