"""A run as one citable folder: raw tables to report, with the code, the lock and the commands that repeat it."""
