"""One file per rule: the only code, with tables/, that opens files."""
