"""Run a command and watch what it takes: CPU, time and memory of it and of all its children together."""

import resource
import subprocess
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

_EVERY = 0.25  # seconds between two looks at the memory


@dataclass(frozen=True)
class Taken:
    """Seconds of CPU, seconds by the clock, and the most megabytes at once."""

    cpu: float
    clock: float
    megabytes: float


def run(command: Sequence[str], *, folder: Path) -> Taken:
    """Run a command in a folder, and raise where it fails."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
    process = subprocess.Popen(
        command,
        cwd=folder,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        start_new_session=True,
    )
    most = [0.0]
    watch = threading.Thread(target=_watch, args=(process, most), daemon=True)
    watch.start()
    _, says = process.communicate()
    watch.join()
    if process.returncode:
        raise RuntimeError(f"{' '.join(command)} ended with {process.returncode}:\n{says.decode()}")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Taken(cpu, time.monotonic() - start, most[0])


def _watch(process: subprocess.Popen[bytes], most: list[float]) -> None:
    while process.poll() is None:
        most[0] = max(most[0], _megabytes(process.pid))
        time.sleep(_EVERY)


def _megabytes(session: int) -> float:
    """Return the memory of every process of a session, what they share counted once."""
    total = 0
    for place in Path("/proc").glob("[0-9]*"):
        try:
            fields = (place / "stat").read_text(encoding="utf-8").rpartition(")")[2].split()
            if int(fields[3]) != session:
                continue
            rollup = (place / "smaps_rollup").read_text(encoding="utf-8")
        except OSError:
            continue  # it has ended since
        total += next(
            int(line.split()[1]) for line in rollup.splitlines() if line.startswith("Pss:")
        )
    return total / 1024
