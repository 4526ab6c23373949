"""CPU seconds of commands and functions; ratios are formed within one run, never across runs."""

import resource
import statistics
import subprocess
import time
from collections.abc import Callable, Sequence
from pathlib import Path


def of_command(command: Sequence[str], *, folder: Path) -> float:
    """Return the user and system CPU seconds of a command and of all its children."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True)
    if done.returncode:
        raise RuntimeError(
            f"{' '.join(command)} ended with {done.returncode}:\n{done.stderr[-2000:]}"
        )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def of_function(work: Callable[[], object], *, times: int = 3) -> float:
    """Return the median CPU seconds of calling `work`."""

    def once() -> float:
        start = time.process_time()
        work()
        return time.process_time() - start

    return statistics.median(once() for _ in range(times))
