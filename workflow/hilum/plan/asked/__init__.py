"""What a person asks and guesses: `design`, the model of plan.yaml, of `material`, `experiments` and a `room`.

`finished` fills in guesses from the estimates of an earlier study.
"""
