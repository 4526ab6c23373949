"""Seeds that were followed one by one: a row for each, with its curve, float trace, fate and what that says."""
