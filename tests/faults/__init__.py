"""Damaged studies, stressed fits, and what becomes of them; `python -m tests.faults` runs them all."""
