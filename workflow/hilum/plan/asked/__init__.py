"""What a person asks and guesses: `design`, the model of plan.yaml, of `material`, `experiments` and a `room`.

Of an earlier study `finished` takes guesses, `baths` how far these differed, and `added` the dishes that new ones add to.
"""
