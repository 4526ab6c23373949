"""Which causes of failure a `bench` would tell apart: each `supposed` in turn, put to the diagnosis (`causes`), with `remedies`."""
