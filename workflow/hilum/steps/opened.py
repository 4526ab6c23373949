"""A crate as a folder, whether it came as one or as a zip: ordinary files under plain names, within limits, or a sentence.

A crate may come from a stranger. The limits leave room for a study of a thousand experiments: the demo's results have 56
files and 2.2 MB for each of nine, ten levels deep. No crate that Hilum makes holds links, and none is compressed.
"""

from __future__ import annotations

import os
import re
import shutil
import stat
import struct
import unicodedata
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from itertools import pairwise
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory

from hilum.visible import hidden, told, visible

MOST_FILES = 200_000
MOST_BYTES = 4_000_000_000
DEEPEST = 40
# tables shrink to a tenth; what shrinks to a hundredth of itself and is large is made to fill a disk
TIGHTEST = 100
SMALL = 50_000_000
_PLAIN_PACKING = {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}
_ENCRYPTED = 0x1
# of a name so much is told
_SHOWN = 200
# the least that stands before the contents of an entry
_LOCAL_HEADER = 30
_BROKEN = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    OSError,
    ValueError,
    RuntimeError,
)
# leads away from any folder of Windows
_DRIVE = re.compile("[A-Za-z]:")
_INSTEAD = (
    "A study of another size can be run by itself: `make site` with its raw tables and config.yaml"
)


class Unreadable(Exception):
    """Say why a crate cannot be read."""

    def __str__(self) -> str:
        """Return the sentence as a terminal may show it: it repeats names that others gave."""
        return told(super().__str__())


@contextmanager
def opened(path: Path) -> Iterator[Path]:
    """Give the folder of a crate, from a zip by way of a folder that goes again. Raises Unreadable."""
    size(path)
    if path.is_dir():
        yield path
        return
    with TemporaryDirectory(prefix="hilum-crate-") as made:
        try:
            with zipfile.ZipFile(path) as archive:
                _refuse_zip(path, archive.infolist())
                _unpack(path, archive, Path(made))
        except _BROKEN as error:
            raise Unreadable(f"{path}: cannot be unpacked ({error!s:.200}).") from error
        yield Path(made)


def size(path: Path) -> int:
    """Return how many bytes the folder or the zip of a crate has. Raises Unreadable where it is neither, or beyond a limit."""
    with suppress(OSError, ValueError):
        about = path.stat()
        if stat.S_ISDIR(about.st_mode):
            return _walked(path)
        if stat.S_ISREG(about.st_mode) and zipfile.is_zipfile(path):
            _refuse_many(path, 0, about.st_size)
            return about.st_size
    raise Unreadable(f"{path}: is neither the folder nor the zip of a crate.")


def _refuse_many(path: Path, files: int, total: int) -> None:
    if files > MOST_FILES:
        raise Unreadable(
            f"{path}: holds more than {MOST_FILES:,} files, which is the limit. {_INSTEAD}."
        )
    if total > MOST_BYTES:
        raise Unreadable(
            f"{path}: holds more than {MOST_BYTES:,} bytes, which is the limit. {_INSTEAD}."
        )


def _refuse_name(path: Path, name: str, parts: Iterable[str]) -> None:
    """Refuse a name that a terminal would not show as it is, or that lies too deep."""
    found = hidden(name)
    if found:
        raise Unreadable(
            f"{path}: the name {visible(name)!s:.200} holds {visible(found.group())}, which no file of a crate has."
        )
    if len(list(parts)) > DEEPEST:
        raise Unreadable(
            f"{path}: {name:.200}… lies more than {DEEPEST} folders deep, which is the limit."
        )


# a folder


def _walked(folder: Path) -> int:
    """Return the bytes of a folder, and refuse one that holds anything but folders and files that can be read, or too many."""
    files = total = 0
    waiting = [folder]
    while waiting:
        for path, about in _entries(folder, waiting.pop()):
            place = path.relative_to(folder)
            _refuse_name(folder, place.as_posix(), place.parts)
            files, total = files + 1, total + about.st_size
            _refuse_many(folder, files, total)
            if stat.S_ISDIR(about.st_mode):
                waiting.append(path)
            elif not stat.S_ISREG(about.st_mode):
                what = "a link" if stat.S_ISLNK(about.st_mode) else "a pipe, a socket or a device"
                raise Unreadable(f"{folder}: {place.as_posix()} is {what}; a crate holds files.")
            elif not os.access(path, os.R_OK):
                raise Unreadable(f"{folder}: {place.as_posix()} may not be read.")
    return total


def _entries(crate: Path, folder: Path) -> list[tuple[Path, os.stat_result]]:
    found = []
    try:
        with os.scandir(folder) as entries:
            for entry in entries:
                found.append((Path(entry.path), entry.stat(follow_symlinks=False)))
                _refuse_many(crate, len(found), 0)
    except OSError as error:
        place = folder.relative_to(crate).as_posix()
        raise Unreadable(f"{crate}: {place} cannot be read ({error.strerror}).") from error
    return found


# a zip


def _refuse_zip(path: Path, entries: list[zipfile.ZipInfo]) -> None:
    """Refuse a zip by what its directory says, before anything is unpacked."""
    total = sum(entry.file_size for entry in entries)
    _refuse_many(path, len(entries), total)
    if total > SMALL and total > TIGHTEST * path.stat().st_size:
        raise Unreadable(
            f"{path}: unpacks to more than {TIGHTEST} times its size, as tables do not, so it is not unpacked. "
            "Whoever trusts it can unpack it, and give the folder."
        )
    for entry in entries:
        _refuse_entry(path, entry)
    _refuse_alike(path, entries)
    _refuse_overlapping(path, entries)


def _refuse_entry(path: Path, entry: zipfile.ZipInfo) -> None:
    name = entry.orig_filename
    parts = PurePosixPath(name).parts
    _refuse_name(path, name, parts)
    away = ".." in parts or "\\" in name or name.startswith("/") or _DRIVE.match(name)
    if not parts or away:
        raise Unreadable(f"{path}: names a file outside of itself, {name[:_SHOWN]!r}.")
    kind = stat.S_IFMT(entry.external_attr >> 16)
    if kind not in (0, stat.S_IFREG, stat.S_IFDIR if entry.is_dir() else 0):
        raise Unreadable(
            f"{path}: {name[:_SHOWN]!r} is a link, a pipe or a device; a crate holds files."
        )
    if entry.flag_bits & _ENCRYPTED:
        raise Unreadable(
            f"{path}: {name[:_SHOWN]!r} is encrypted; a crate is for everyone to read."
        )
    if entry.compress_type not in _PLAIN_PACKING:
        raise Unreadable(
            f"{path}: {name[:_SHOWN]!r} is packed in a way that is not read (method {entry.compress_type}); "
            "pack it anew with plain zip (deflate)."
        )


def _refuse_alike(path: Path, entries: Iterable[zipfile.ZipInfo]) -> None:
    """Refuse names that are one file on some machine: twice the same, or but for capitals or the form of accents."""
    seen: dict[str, str] = {}
    for name in (entry.filename for entry in entries):
        other = seen.setdefault(unicodedata.normalize("NFC", name).casefold().rstrip("/"), name)
        if other is not name:
            raise Unreadable(
                f"{path}: {name[:_SHOWN]!r} and {other[:_SHOWN]!r} would be one file on some machines."
            )


def _refuse_overlapping(path: Path, entries: Iterable[zipfile.ZipInfo]) -> None:
    """Refuse entries that share bytes, with which a small file fills a disk."""
    for one, following in pairwise(sorted(entries, key=lambda entry: entry.header_offset)):
        if one.header_offset + _LOCAL_HEADER + one.compress_size > following.header_offset:
            raise Unreadable(
                f"{path}: {one.filename[:_SHOWN]!r} and {following.filename[:_SHOWN]!r} share bytes, which no zip needs."
            )


def _unpack(path: Path, archive: zipfile.ZipFile, folder: Path) -> None:
    """Unpack a zip that was looked at; no entry gives more bytes than its directory says."""
    for entry in archive.infolist():
        place = folder.joinpath(*PurePosixPath(entry.filename).parts)
        try:
            if entry.is_dir():
                place.mkdir(parents=True, exist_ok=True)
                continue
            place.parent.mkdir(parents=True, exist_ok=True)
            with archive.open(entry) as packed, place.open("xb") as file:
                shutil.copyfileobj(packed, file)
        except _BROKEN as error:
            raise Unreadable(
                f"{path}: {entry.filename[:_SHOWN]!r} cannot be unpacked ({error!s:.200})."
            ) from error
