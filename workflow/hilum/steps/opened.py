"""A crate as a folder, whether it came as one or as a zip."""

from __future__ import annotations

import shutil
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory


class Unreadable(Exception):
    """Say why a crate cannot be read."""


@contextmanager
def opened(path: Path) -> Iterator[Path]:
    """Give the folder of a crate, from a zip by way of a folder that goes again."""
    if path.is_dir():
        yield path
        return
    if not zipfile.is_zipfile(path):
        raise Unreadable(f"{path}: is neither the folder nor the zip of a crate.")
    with TemporaryDirectory(prefix="hilum-crate-") as made, zipfile.ZipFile(path) as archive:
        _unpack(path, archive, Path(made))
        yield Path(made)


def _unpack(path: Path, archive: zipfile.ZipFile, folder: Path) -> None:
    """Unpack a zip, none of whose names may lead out of the folder."""
    for entry in (e for e in archive.infolist() if not e.is_dir()):
        parts = PurePosixPath(entry.filename).parts
        place = folder.joinpath(*parts)
        # the drive of a Windows path leads away from any folder
        away = ".." in parts or "\\" in entry.filename or not place.is_relative_to(folder)
        if not parts or away:
            raise Unreadable(f"{path}: names a file outside of itself, {entry.filename!r}.")
        place.parent.mkdir(parents=True, exist_ok=True)
        try:
            with archive.open(entry) as packed, place.open("xb") as file:
                shutil.copyfileobj(packed, file)
        except (zipfile.BadZipFile, FileExistsError, NotImplementedError, RuntimeError) as error:
            raise Unreadable(f"{path}: {entry.filename!r} cannot be unpacked ({error}).") from error
