"""What a stage made: hashes of its files, and folders that appear whole or not at all."""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path


def sha256(path: Path) -> str:
    """Return the SHA-256 of a file as hexadecimal text."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def files(folder: Path) -> Iterator[Path]:
    """Yield every file below the folder, in a fixed order."""
    return iter(sorted(p for p in folder.rglob("*") if p.is_file()))


def digest(paths: Iterable[Path], *words: str) -> str:
    """Return one hash of the names and contents of files, and of further words."""
    whole = hashlib.sha256()
    for path in paths:
        whole.update(f"{path.name}\0{sha256(path)}\0".encode())
    whole.update("\0".join(words).encode())
    return whole.hexdigest()


def hashes(folder: Path, paths: Iterable[Path]) -> dict[str, str]:
    """Return the hash of each file by its name below a folder, an empty one where it cannot be read."""
    found = {}
    for path in paths:
        try:
            found[path.relative_to(folder).as_posix()] = sha256(path)
        except OSError:
            found[path.relative_to(folder).as_posix()] = ""
    return found


def write(path: Path, folders: Iterable[Path]) -> None:
    """Write the manifest at `path`: the hash of each file below the folders, or of a file itself.

    Names are relative to the results folder, two levels above the manifest.
    """
    results = path.parent.parent
    found = [p for f in folders for p in ([f] if f.is_file() else files(f))]
    keep(path, {p.relative_to(results).as_posix(): sha256(p) for p in found})


def keep(path: Path, hashes: Mapping[str, str]) -> None:
    """Write hashes of files by their names."""
    put(path, json.dumps(hashes, indent=1, sort_keys=True) + "\n")


def put(path: Path, text: str) -> None:
    """Write a text file that is there whole or not at all, whenever a run is killed."""
    path.parent.mkdir(parents=True, exist_ok=True)
    fresh = path.with_name(f".{path.name}.new")
    fresh.write_text(text, encoding="utf-8", newline="\n")
    fresh.replace(path)


def remove(folder: Path) -> None:
    """Remove a folder and all that is in it, if it is there."""
    shutil.rmtree(folder, ignore_errors=True)


def _kept(old: Path, folder: Path, names: Iterable[str]) -> None:
    """Move what is to be kept from an old folder into the one that took its place."""
    for name in names:
        if (old / name).exists() and not (folder / name).exists():
            (old / name).rename(folder / name)


@contextmanager
def replaced(folder: Path, *, keeping: Iterable[str] = ()) -> Iterator[Path]:
    """Give a fresh folder to fill; on success it takes the place of `folder`, else nothing changes.

    `keeping` are names within `folder` that it keeps, whatever else is replaced: what people filled in.
    """
    fresh, old = (folder.with_name(f".{folder.name}.{word}") for word in ("new", "old"))
    if old.exists() and not folder.exists():
        # a run was killed between the two renames below: the last good folder comes back first
        old.rename(folder)
    # one was killed after them, and had not yet moved all that is kept
    _kept(old, folder, keeping)
    for leftover in (fresh, old):
        remove(leftover)
    fresh.mkdir(parents=True)
    try:
        yield fresh
    except BaseException:
        # on a full disk its room is wanted
        remove(fresh)
        raise
    try:
        if folder.exists():
            folder.rename(old)
    except OSError:
        # a mount point keeps its name
        remove(fresh)
        raise
    fresh.rename(folder)
    _kept(old, folder, keeping)
    remove(old)
