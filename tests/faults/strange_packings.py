"""Crates whose zip or folder is made to harm: bombs, names that lead out, links, pipes, entries that share bytes."""

from __future__ import annotations

import os
import socket
import struct
import warnings
import zipfile
from collections.abc import Callable
from pathlib import Path
from random import Random

from hilum import manifest
from tests.faults.strangers import kind

_CENTRAL = b"PK\x01\x02"
# where a directory of a zip says these of an entry
_FLAGS, _METHOD, _SIZE, _OFFSET = (8, "<H"), (10, "<H"), (24, "<I"), (42, "<I")


def _zipped(crate: Path, add: Callable[[zipfile.ZipFile], object] = lambda _: None) -> Path:
    """Return the zip of a crate, with what is added last."""
    path = crate.with_name("given.zip")
    with warnings.catch_warnings(), zipfile.ZipFile(path, "w") as archive:
        warnings.simplefilter("ignore")
        for file in manifest.files(crate):
            archive.write(file, file.relative_to(crate).as_posix())
        add(archive)
    return path


def _patched(path: Path, place: tuple[int, str], value: int) -> Path:
    """Return the zip with another number in the directory, for its last entry."""
    data = bytearray(path.read_bytes())
    struct.pack_into(place[1], data, data.rindex(_CENTRAL) + place[0], value)
    path.write_bytes(data)
    return path


def _with_name(name: str) -> Callable[[Path, Random], Path]:
    return lambda crate, _: _zipped(crate, lambda z: z.writestr(zipfile.ZipInfo(name), "x"))


OUT = "names a file outside of itself"
for number, name in enumerate(
    ("../out", "/out", "a/../../out", "a\\out", "C:/out", "C:out", "\\\\host\\out", "..", "/")
):
    kind(f"a zip with a name that leads out, {number}", says=OUT)(_with_name(name))
for number, name in enumerate(("a\x1b[2Jb", "a\u202eb", "a\nb", "a\x07", "a\u200bb")):
    kind(f"a zip with a name that steers a terminal, {number}", says="holds \\u")(_with_name(name))
for number, name in enumerate(("RUN.json", "data/Strand/lots.csv", "run.json", "Run.JSON/")):
    kind(f"a zip with names alike, {number}", says="would be one file on some machines")(
        _with_name(name)
    )


@kind("a zip with names alike but for the form of an accent", says="would be one file")
def accents(crate: Path, _: Random) -> Path:
    def add(archive: zipfile.ZipFile) -> None:
        archive.writestr("caf\u00e9", "x")
        archive.writestr("cafe\u0301", "y")

    return _zipped(crate, add)


@kind("a zip that is very deep", says="folders deep")
def deep_zip(crate: Path, rng: Random) -> Path:
    return _zipped(crate, lambda z: z.writestr("a/" * rng.randint(50, 5000) + "b", "x"))


@kind("a zip with a name without end")
def long_name(crate: Path, rng: Random) -> Path:
    return _zipped(crate, lambda z: z.writestr("a" * rng.randint(300, 60_000), "x"))


@kind("a zip bomb", says="more than 100 times its size")
def bomb(crate: Path, rng: Random) -> Path:
    path = crate.with_name("given.zip")
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("bomb", bytes(rng.randint(60, 90) * 1_000_000))
    return path


@kind("a zip that says it holds four gigabytes")
def huge(crate: Path, rng: Random) -> Path:
    return _patched(_zipped(crate), _SIZE, rng.randint(4_000_000_001, 2**32 - 2))


@kind("a zip with an entry that is larger than it says")
def lying(crate: Path, rng: Random) -> Path:
    return _patched(_zipped(crate, lambda z: z.writestr("z", b"x" * 999)), _SIZE, rng.randint(1, 9))


@kind("a zip with an encrypted entry", says="is encrypted")
def encrypted(crate: Path, _: Random) -> Path:
    return _patched(_zipped(crate), _FLAGS, 1)


@kind("a zip with an entry packed in another way", says="is packed in a way that is not read")
def method(crate: Path, rng: Random) -> Path:
    return _patched(_zipped(crate), _METHOD, rng.choice((1, 6, 12, 14, 93, 99)))


@kind("a zip whose entries share bytes", says="share bytes")
def overlapping(crate: Path, _: Random) -> Path:
    return _patched(_zipped(crate), _OFFSET, 0)


@kind("a zip with a link, a pipe or a device", says="is a link, a pipe or a device")
def link_in_zip(crate: Path, rng: Random) -> Path:
    entry = zipfile.ZipInfo(rng.choice(("link", "estimates/link")))
    entry.create_system = 3
    entry.external_attr = rng.choice((0o120777, 0o010644, 0o020644, 0o060644, 0o140644)) << 16
    return _zipped(crate, lambda z: z.writestr(entry, "/etc/passwd"))


@kind("a zip with a file where a folder should be", says="cannot be unpacked")
def file_for_folder(crate: Path, _: Random) -> Path:
    return _zipped(crate, lambda z: z.writestr("run.json/more", "x"))


@kind("an empty zip", says="a crate has this file")
def empty(crate: Path, _: Random) -> Path:
    path = crate.with_name("given.zip")
    zipfile.ZipFile(path, "w").close()
    return path


@kind("a zip within a zip", says="a crate has this file")
def within(crate: Path, _: Random) -> Path:
    inner = _zipped(crate).rename(crate.with_name("inner.zip"))
    path = crate.with_name("given.zip")
    with zipfile.ZipFile(path, "w") as archive:
        archive.write(inner, "crate.zip")
    return path


@kind("a zip with bytes changed anywhere in its directory")
def noise(crate: Path, rng: Random) -> Path:
    path = _zipped(crate)
    data = bytearray(path.read_bytes())
    begin = data.index(_CENTRAL)
    # names of files are hashed, sizes and places are not: these are what is changed
    for entry in [i for i in range(begin, len(data)) if data[i : i + 4] == _CENTRAL]:
        struct.pack_into("<I", data, entry + 42, rng.getrandbits(30))
    path.write_bytes(data)
    return path


@kind("a zip that was cut off, or is none", says="neither the folder nor the zip")
def cut(crate: Path, rng: Random) -> Path:
    path = _zipped(crate)
    data = path.read_bytes()
    path.write_bytes(rng.choice((data[: len(data) // 2], rng.randbytes(999), b"", b"PK\x03\x04")))
    return path


@kind("a path where nothing is, or a pipe", says="neither the folder nor the zip")
def nothing(crate: Path, rng: Random) -> Path:
    path = crate.with_name("given.zip")
    if rng.random() < 0.5:
        os.mkfifo(path)
    return path


@kind("a link that leads to itself, for a crate", says="neither the folder nor the zip")
def itself(crate: Path, _: Random) -> Path:
    path = crate.with_name("given")
    path.symlink_to(path)
    return path


# folders


def _place(crate: Path, rng: Random) -> Path:
    """Return a new name in any folder of a crate."""
    folders = sorted(p for p in crate.rglob("*") if p.is_dir())
    return rng.choice([crate, *folders]) / "strange"


@kind("a folder with a link", says="is a link; a crate holds files")
def link(crate: Path, rng: Random) -> Path:
    place = _place(crate, rng)
    targets = (place, crate, crate.parent, Path("/etc/passwd"), Path("/dev/zero"), Path("nowhere"))
    place.symlink_to(rng.choice(targets))
    return crate


@kind("a folder with a link in the place of a file", says="is a link; a crate holds files")
def linked(crate: Path, rng: Random) -> Path:
    path = rng.choice(sorted(manifest.files(crate)))
    path.rename(crate.with_name("elsewhere"))
    path.symlink_to(crate.with_name("elsewhere"))
    return crate


@kind("a folder with a pipe", says="is a pipe, a socket or a device")
def pipe(crate: Path, rng: Random) -> Path:
    os.mkfifo(_place(crate, rng))
    return crate


@kind("a folder with a pipe in the place of a file", says="is a pipe, a socket or a device")
def piped(crate: Path, rng: Random) -> Path:
    path = rng.choice(sorted(manifest.files(crate)))
    path.unlink()
    os.mkfifo(path)
    return crate


@kind("a folder with a socket", says="is a pipe, a socket or a device")
def sock(crate: Path, _: Random) -> Path:
    here = Path.cwd()
    # the path of a socket may be no longer than a hundred bytes
    os.chdir(crate)
    try:
        with socket.socket(socket.AF_UNIX) as made:
            made.bind("strange")
    finally:
        os.chdir(here)
    return crate


@kind("a folder that is very deep", says="folders deep")
def deep(crate: Path, rng: Random) -> Path:
    crate.joinpath(*["a"] * rng.randint(45, 500)).mkdir(parents=True)
    return crate


@kind("a folder with a name that steers a terminal, or is no text", says="holds \\u")
def named(crate: Path, rng: Random) -> Path:
    names = (
        "a\x1b[2K\rIdentical",
        "a\nIdentical: every estimate",
        "a\u202eb",
        os.fsdecode(b"\xff"),
    )
    _place(crate, rng).with_name(rng.choice(names)).write_text("x", encoding="utf-8")
    return crate


@kind("a folder with a folder in the place of a file that is read")
def folder_for_file(crate: Path, rng: Random) -> Path:
    path = crate / rng.choice(("run.json", "SHA256SUMS", "config.yaml", "data/strand/lots.csv"))
    path.unlink()
    path.mkdir()
    return crate


@kind("an empty folder", says="a crate has this file")
def nothing_in_it(crate: Path, _: Random) -> Path:
    path = crate.with_name("given")
    path.mkdir()
    return path


@kind("a sparse file of terabytes", says="bytes, which is the limit")
def sparse(crate: Path, rng: Random) -> Path:
    with _place(crate, rng).open("wb") as file:
        file.truncate(rng.randint(5, 1000) * 1_000_000_000)
    return crate
