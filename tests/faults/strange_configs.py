"""Config files and plans that are made to harm, for every program that takes one."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from random import Random

from tests.faults.strange_yaml import YAML
from tests.faults.strangers import kind

_TAKES_CONFIG, _TAKES_PLAN = ("settings", "due"), ("plan", "sheets")


def _file(data: bytes) -> Callable[[Path, Random], Path]:
    def make(crate: Path, _: Random) -> Path:
        path = crate.with_name("given.yaml")
        path.write_bytes(data)
        return path

    return make


for number, (name, (data, says)) in enumerate(YAML.items()):
    one, other = _TAKES_CONFIG[number % 2], _TAKES_PLAN[number // 2 % 2]
    kind(f"a config file for {one}: {name}", program=one, says=says)(_file(data))
    kind(f"a plan for {other}: {name}", program=other, says=says)(_file(data))


def _instead(put: Callable[[Path], object]) -> Callable[[Path, Random], Path]:
    def make(crate: Path, _: Random) -> Path:
        path = crate.with_name("given.yaml")
        put(path)
        return path

    return make


_NOT_FILES: dict[str, tuple[Callable[[Path], object], str]] = {
    "a pipe": (os.mkfifo, "a pipe or a device"),
    "a folder": (Path.mkdir, "is a folder"),
    "a link to itself": (lambda path: path.symlink_to(path), "cannot be read"),
    "a link to a device": (lambda path: path.symlink_to("/dev/zero"), "a pipe or a device"),
    "a link to nowhere": (lambda path: path.symlink_to("nowhere"), "cannot be read"),
}
for name, (put, says) in _NOT_FILES.items():
    for program in (*_TAKES_CONFIG, *_TAKES_PLAN):
        kind(f"{name} for {program}", program=program, says=says)(_instead(put))


# plans that would be worked out for ever


def _plan(old: str, new: str) -> Callable[[Path, Random], Path]:
    def make(crate: Path, _: Random) -> Path:
        path = crate.with_name("plan.yaml")
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new), encoding="utf-8")
        return path

    return make


_ENDLESS = {
    "inspections without end": ("every_d: 1,", "every_d: 0.0000001,"),
    "a step without end": (
        "dishes: 4\n    seeds: 25\n    inspections: {first_d: 1, every_d: 1, last_d: 28}",
        "dishes: 4\n    step_c: 0.0000001\n    seeds: 25\n    inspections: {first_d: 1, every_d: 1, last_d: 28}",
    ),
    "temperatures without end": (
        "[10, 12.5, 15, 17.5, 20, 25, 30]",
        str([10 + i / 1000 for i in range(5000)]),
    ),
    "durations without end": ("[30, 60, 120, 240, 360, 480]", str(list(range(1, 5001)))),
    "days of storage without end": ("[0, 180, 360, 720]", str(list(range(5000)))),
    "weighings without end": ("[2, 8, 24, 48]", str(list(range(1, 5001)))),
    "lots without end": (
        "lots:\n",
        "lots:\n" + "".join(f"  - {{lot: x{i}, taxon: y}}\n" for i in range(2000)),
    ),
    "a name that leads out": ("name: drift-25", "name: ../../out"),
    "a guess that is no number": ("slope: 6", "slope: .nan"),
    "a guess without end": ("slope: 6", "slope: .inf"),
}
for name, (old, new) in _ENDLESS.items():
    for program in _TAKES_PLAN:
        kind(f"a plan for {program} with {name}", program=program)(_plan(old, new))
