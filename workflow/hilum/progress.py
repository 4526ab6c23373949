"""How much of a long work is done, and about how long the rest takes: on standard error, never in a result.

A terminal has one line, written over each second; elsewhere a line is added now and then. Work of a few seconds says nothing.
"""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TextIO, TypeVar

Piece = TypeVar("Piece")

_PATIENCE = 3.0  # s, in which nobody wonders
_TICK = 1.0  # s
_LINES = 10.0  # s between two lines where nothing can be written over
_ALIVE = 60.0  # s, after which a line says that it goes on although nothing more is done
_OVER = "\r\x1b[K"  # to the beginning of the line, and nothing on it


@dataclass
class Progress:
    """The count of what is done of `total`; `clock` tells seconds."""

    total: int
    stream: TextIO
    clock: Callable[[], float]
    count: int = 0
    began: float = field(init=False)
    _told: tuple[float, int] = field(init=False)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def __post_init__(self) -> None:
        self.began = self.clock()
        # as if a line had been told so long ago that the first comes when patience ends
        self._told = (self.began + _PATIENCE - _LINES, 0)

    @property
    def on_terminal(self) -> bool:
        """Return whether a line can be written over."""
        return self.stream.isatty() and os.environ.get("TERM") != "dumb"

    def done(self) -> None:
        """Count one more."""
        self.count += 1
        self.tell()

    def tell(self) -> None:
        """Write how far the work is, if it lasts and was not told just now."""
        with self._lock:
            now = self.clock()
            at, count = self._told
            wait = _TICK if self.on_terminal else _LINES if self.count > count else _ALIVE
            if now - self.began < _PATIENCE or now - at < wait:
                return
            self._told = now, self.count
            begin, end = (_OVER, "") if self.on_terminal else ("", "\n")
            self.stream.write(f"{begin}{self.line(now - self.began)}{end}")
            self.stream.flush()

    def line(self, seconds: float) -> str:
        """Return how much is done after so many seconds, and about how long the rest takes."""
        rest = f", {_long(seconds)} so far"
        if self.count:
            rest = f", about {_long(seconds * (self.total - self.count) / self.count)} to go"
        return f"         {self.count:,} of {self.total:,} done{rest if self.count < self.total else ''}"

    def end(self) -> None:
        """Leave an empty line on a terminal, for what comes next."""
        if self.on_terminal and self._told[0] >= self.began + _PATIENCE:
            self.stream.write(_OVER)
            self.stream.flush()


def _long(seconds: float) -> str:
    if seconds < 60:
        return f"{max(round(seconds), 1)} s"
    return f"{round(seconds / 60)} min" if seconds < 7200 else f"{seconds / 3600:.1f} h"


def through(
    pieces: Iterable[Piece],
    total: int,
    *,
    stream: TextIO | None = None,
    clock: Callable[[], float] = time.monotonic,
) -> Iterator[Piece]:
    """Yield each of `total` pieces, and say between them how far the work is; no thread ticks here."""
    known = Progress(total, stream or sys.stderr, clock)
    for piece in pieces:
        yield piece
        known.done()
    known.end()


@contextmanager
def of(
    total: int,
    *,
    stream: TextIO | None = None,
    clock: Callable[[], float] = time.monotonic,
) -> Iterator[Progress]:
    """Give the count of a work of `total` pieces, and say now and then how far it is.

    Processes of a pool are started before: a thread ticks here, and a process that has threads must not be forked.
    """
    made, over = Progress(total, stream or sys.stderr, clock), threading.Event()

    def tick() -> None:
        while not over.wait(_TICK):
            made.tell()

    ticking = threading.Thread(target=tick, daemon=True)
    ticking.start()
    try:
        yield made
    finally:
        over.set()
        ticking.join()
        made.end()
