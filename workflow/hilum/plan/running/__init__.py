"""While a test runs: whether to go on inspecting (`stopping`), and what is `due` at the bench."""
