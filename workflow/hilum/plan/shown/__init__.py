"""A plan in `words` and charts."""
