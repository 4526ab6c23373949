"""One run at a time: a lock that dies with its process, the same on every system.

`python -m hilum.alone LOCK command …` runs a command by itself; another with the same lock waits. The set-up of make does so
before any package is there, so nothing but Python itself is imported here.
"""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from hilum.study import Study

_PATIENCE = 3600.0  # s


class Busy(Exception):
    """Say that another run works on the same results."""


@contextmanager
def held(path: Path, *, shared: bool = False, patience: float = 0) -> Iterator[None]:
    """Hold the lock at `path`, or share it with others that share it. Raises Busy where it cannot be had in `patience` seconds.

    It is an empty data base of SQLite, whose locks any Python takes on Linux, macOS and Windows alike.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    # where this may not be written, the system says why
    path.open("ab").close()
    with closing(sqlite3.connect(path, timeout=patience, isolation_level=None)) as lock:
        try:
            # nothing is ever written, so that a full disk takes no lock away
            lock.execute("PRAGMA journal_mode=MEMORY")
            lock.execute("BEGIN" if shared else "BEGIN EXCLUSIVE")
            lock.execute("SELECT name FROM sqlite_schema").fetchall()
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_BUSY:
                raise
            says = f"{path.parent}: another run is at work here; wait for its end."
            raise Busy(says) from error
        yield


@contextmanager
def alone(study: Study, part: int | None = None) -> Iterator[None]:
    """Hold the study's lock while a step works; a killed run frees it by dying.

    Parts of a step work beside each other, each of them once, but never beside a step as a whole.
    """
    with ExitStack() as locks:
        locks.enter_context(held(study.results / ".lock", shared=bool(part)))
        if part:
            locks.enter_context(held(study.results / f".lock-{part}"))
        yield


def main(words: Sequence[str]) -> int:
    """Run a command once nobody else holds its lock, and return its exit status."""
    path, *command = words
    with ExitStack() as mine:
        try:
            mine.enter_context(held(Path(path)))
        except Busy:
            print(
                "Another set-up is at work in this folder; this one waits for its end.", flush=True
            )
            mine.enter_context(held(Path(path), patience=_PATIENCE))
        return subprocess.call(command)  # noqa: S603 (our own Makefile's)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
