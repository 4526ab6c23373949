"""Why seeds did not germinate: the coat, the seed, harm, another dormancy, or the conditions.

Fates are counted, causes are inferred. Each seed that did not germinate may have died, waited behind its coat,
and so on: what was seen leaves it a set of causes. A cause's share lies between the seeds that it alone explains and
all seeds that it could explain; a comparison (hand-opened seeds, another temperature, a dormancy break) narrows that.

`gather` puts the dishes of all experiments together, `references` holds what the rest of a lot tells, `causes`
infers, `verdict` says which causes may be the main one and what to do next, `lots` sums up a lot.
"""
