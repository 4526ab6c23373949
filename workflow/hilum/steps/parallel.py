"""Do independent pieces of a step beside each other, one process for each core."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from functools import partial
from multiprocessing.connection import wait
from typing import Any, TypeVar

from hilum import progress

Job = Callable[[], None]
Made = TypeVar("Made")
# Windows cannot wait for more at once
_MOST = 61


def cores() -> int:
    """Return how many processes can run at once: on the cores that this one may use, where the system says which.

    `make CORES=1` asks for fewer.
    """
    mine, asked = getattr(os, "sched_getaffinity", None), os.environ.get("CORES", "")
    most = int(asked) if asked.isdecimal() and int(asked) else _MOST
    return min(len(mine(0)) if mine else os.cpu_count() or 1, most, _MOST)


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
    with _pool(processes) as pool:
        _followed([pool.submit(job) for job in jobs])


def starmap(work: Callable[..., Made], rows: Sequence[tuple[Any, ...]]) -> list[Made]:
    """Return what `work` makes of each row of words, in their order; one row needs no process of its own."""
    processes = min(len(rows), cores())
    if processes < 2:
        made = []
        with progress.of(len(rows)) as known:
            for row in rows:
                made.append(work(*row))
                known.done()
        return made
    with _pool(processes) as pool:
        begun = [pool.submit(work, *row) for row in rows]
        _followed(begun)
        return [one.result() for one in begun]


def _followed(begun: Sequence[Future[Any]]) -> None:
    """Wait for all that was begun, and say how far it is. Raises what the first failing one raised."""
    with progress.of(len(begun)) as known:
        for done in as_completed(begun):
            done.result()
            known.done()


def dealt(names: Sequence[str], number: int, parts: int) -> Sequence[str]:
    """Return the names of one part, counted from 1: dealt in turn, so that no part gets all the large ones."""
    return names[number - 1 :: parts]


def in_turn(jobs: Sequence[Job]) -> None:
    """Do every job in this process, one after another."""
    with progress.of(len(jobs)) as known:
        for one in jobs:
            one()
            known.done()


def job(work: Callable[..., None], *words: object) -> Job:
    """Return a job that another process can be given."""
    return partial(work, *words)
