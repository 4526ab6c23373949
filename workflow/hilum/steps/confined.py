"""A program that reads what strangers made, in a process of its own with limits of time and memory.

    python -m hilum.steps.confined hilum.steps.verify CRATE        (the process inside; `run` starts it)

Time: ten minutes, and ten seconds for each megabyte of what is read. A crate holds its report, so that its size grows with
the study: 1,000 experiments have hundreds of megabytes, and go from raw tables to a site in 450 s. Memory: four gigabytes and
twenty times the size, but no more than the machine has; those 1,000 take one and a half. Where a system has no limit of memory
(Windows) or does not keep to it (macOS) time alone is limited.
"""

from __future__ import annotations

import importlib
import os
import signal
import subprocess
import sys
import tempfile
import traceback
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path

from hilum.steps.opened import Unreadable
from hilum.steps.opened import size as size_of
from hilum.visible import visible

REFUSED, IN_PART = 2, 3
_SECONDS, _SECONDS_A_MEGABYTE = 600, 10
_MEMORY, _MEMORY_A_BYTE = 4_000_000_000, 20
_ADVICE = "Where the crate is sound, try a machine with more memory, or run its raw tables and config.yaml with `make site`."


def run(module: str, named: str, *, seconds: float | None = None) -> int:
    """Run the `main` of a module on what is named, confined, and return its status; 2 where a limit was hit.

    Ctrl-C ends both processes, and what the inner one unpacked goes with it.
    """
    size = _size(Path(named))
    most = _SECONDS + _SECONDS_A_MEGABYTE * size / 1e6 if seconds is None else seconds
    command = [sys.executable, "-m", "hilum.steps.confined", module, str(_bytes(size)), named]
    with tempfile.TemporaryDirectory(prefix="hilum-confined-") as room:
        places = dict.fromkeys(("TMPDIR", "TEMP", "TMP"), room)
        # a group of its own, so that the processes of the refit end with it
        inner = subprocess.Popen(  # noqa: S603 (this program, and a word that no shell reads)
            command, stdin=subprocess.DEVNULL, env=os.environ | places, start_new_session=True
        )
        before = signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
        try:
            return _told(named, inner.wait(most))
        except subprocess.TimeoutExpired:
            _say(named, f"was not done after {most:,.0f} s, and was stopped. {_ADVICE}")
            return REFUSED
        except KeyboardInterrupt:
            print("Interrupted; nothing was changed.", file=sys.stderr)
            return 130
        finally:
            _end(inner)
            signal.signal(signal.SIGTERM, before)


def _told(named: str, status: int) -> int:
    if status in (0, 1, REFUSED, IN_PART):
        return status
    _say(named, f"the process that read it broke off (status {status}). {_ADVICE}")
    return REFUSED


def _say(named: str, what: str) -> None:
    print(visible(f"{named}: {what}"), file=sys.stderr, flush=True)


def _end(inner: subprocess.Popen[bytes]) -> None:
    """End the process and all that it started."""
    with suppress(OSError):
        if hasattr(os, "killpg"):
            os.killpg(inner.pid, signal.SIGKILL)
        else:
            inner.kill()
    inner.wait()


def _size(path: Path) -> int:
    """Return the bytes of what is read, 0 where the inner process will refuse it anyway."""
    try:
        return size_of(path)
    except Unreadable:
        return 0


def _bytes(size: int) -> int:
    """Return how much memory each process may take."""
    most = _MEMORY + _MEMORY_A_BYTE * size
    with suppress(AttributeError, ValueError, OSError):
        there = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
        most = min(most, max(there, _MEMORY // 2))
    return most


def guarded(main_: Callable[[list[str]], int], named: str) -> int:
    """Return the status of a program; what nobody foresaw in what it reads is told in a sentence, with its place in the code."""
    try:
        return main_(["--", named])
    except MemoryError:
        _say(named, f"needs more memory than there is for it. {_ADVICE}")
    except Exception as error:
        where = traceback.extract_tb(error.__traceback__)[-1]
        says = f"{type(error).__name__}: {error!s:.200}, {Path(where.filename).name}, line {where.lineno}"
        _say(named, f"holds something that Hilum does not write, and was not read on ({says}).")
    return REFUSED


def main(words: Sequence[str]) -> int:
    """Limit this process, and run the `main` of a module in it."""
    module, most, named = words
    _limit(int(most))
    return guarded(importlib.import_module(module).main, named)


def _limit(most: int) -> None:
    try:
        import resource
    except ImportError:
        return
    # Of what a process writes to: the engine that draws pictures reserves far more addresses than it uses. A system that knows the
    # limit and will not have it runs without.
    with suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_DATA, (most, most))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
