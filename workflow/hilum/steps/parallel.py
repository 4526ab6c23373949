"""Do independent pieces of a step beside each other, one process for each core."""

from __future__ import annotations

import itertools
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing.connection import wait
from typing import Any, TypeVar

Job = Callable[[], None]
Made = TypeVar("Made")
# with so many a person waits, and wants to see that it goes on
_MANY = 50
# Windows cannot wait for more at once
_MOST = 61


def cores() -> int:
    """Return how many processes can run at once: on the cores that this one may use, where the system says which."""
    mine = getattr(os, "sched_getaffinity", None)
    return min(len(mine(0)) if mine else os.cpu_count() or 1, _MOST)


def _pool(processes: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(processes, initializer=_begin)


def _begin() -> None:
    """Begin a process of a pool: it says nothing when it is interrupted, and outlives nobody who is killed."""
    signal.signal(signal.SIGINT, lambda *_: os._exit(130))
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)


def each(jobs: Sequence[Job], *, apart: bool = False) -> None:
    """Do every job; one job alone needs no process of its own, unless it must be kept `apart` from this one.

    Raises what the first failing job raised.
    """
    processes = min(len(jobs), cores())
    if processes < 2 and not (apart and jobs):
        in_turn(jobs)
        return
    step = -(-len(jobs) // 10)
    with _pool(processes) as pool:
        for number, done in enumerate([pool.submit(job) for job in jobs], start=1):
            done.result()
            if len(jobs) >= _MANY and number % step == 0:
                print(f"         {number:,} of {len(jobs):,} done", flush=True)


def starmap(work: Callable[..., Made], rows: Sequence[tuple[Any, ...]]) -> list[Made]:
    """Return what `work` makes of each row of words, in their order; one row needs no process of its own."""
    processes = min(len(rows), cores())
    if processes < 2:
        return list(itertools.starmap(work, rows))
    with _pool(processes) as pool:
        return [begun.result() for begun in [pool.submit(work, *row) for row in rows]]


def dealt(names: Sequence[str], number: int, parts: int) -> Sequence[str]:
    """Return the names of one part, counted from 1: dealt in turn, so that no part gets all the large ones."""
    return names[number - 1 :: parts]


def in_turn(jobs: Sequence[Job]) -> None:
    """Do every job in this process, one after another."""
    for one in jobs:
        one()


def job(work: Callable[..., None], *words: object) -> Job:
    """Return a job that another process can be given."""
    return partial(work, *words)
