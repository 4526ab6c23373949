"""What a machine would not give, in sentences: room on a disk, the right to write, a folder to swap, memory."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from concurrent.futures import BrokenExecutor
from contextlib import contextmanager
from pathlib import Path

_ROOM = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_RIGHT = {errno.EROFS, errno.EACCES, errno.EPERM, errno.ENOTDIR, errno.EEXIST}
# a mount point keeps its name, and nothing can be moved into its place
_MOUNT = {errno.EBUSY, errno.EXDEV}
_STARVED = (
    "Memory ran out, or another program ended a process of this step. What was there before is as it was, and the next run goes "
    "on from what is done: run it in one process (CORES=1), or where there is more memory."
)


class Lack(Exception):
    """Say what a machine would not give, and what to do about it."""


@contextmanager
def lent(results: Path) -> Iterator[None]:
    """Raise Lack where the machine does not give what making `results` takes; any other error stays what it is."""
    try:
        yield
    except (MemoryError, BrokenExecutor) as error:
        raise Lack(_STARVED) from error
    except OSError as error:
        says = _told(error, results)
        if not says:
            raise
        raise Lack(says) from error


def _told(error: OSError, results: Path) -> str:
    place = error.filename or results
    if error.errno == errno.ENOMEM:
        return _STARVED
    if error.errno in _ROOM:
        return (
            f"{results}: the disk has no room for what this step makes ({error.strerror}); make room and "
            "run again. What was there before is as it was."
        )
    if error.errno in _MOUNT:
        return f"{place}: is a disk of its own, for which no other folder can be swapped; name a folder inside it."
    if error.errno in _RIGHT:
        return f"{place}: may not be written ({error.strerror}); results need a folder that you may write in."
    return ""
