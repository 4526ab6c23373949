"""Tests, their generators, the demo's truths, and the bench."""
