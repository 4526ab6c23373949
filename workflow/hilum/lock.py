"""Which packages the lock asks for, and which are there: they decide the numbers as much as the code does."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib.metadata import PackageNotFoundError, version

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from hilum import strict_yaml
from hilum.study import CITATION, LOCK


def locked(text: str) -> dict[str, str]:
    """Return the version of each package that a lock asks for on this machine, by name."""
    asked = (line.rstrip("\\ ") for line in text.splitlines() if "==" in line)
    found: dict[str, str] = {}
    for one in map(Requirement, asked):
        if one.marker is None or one.marker.evaluate():
            (pin,) = one.specifier
            found[canonicalize_name(one.name)] = pin.version
    return found


def here(names: Mapping[str, str]) -> dict[str, str]:
    """Return which version of each package is installed, empty where it is not there."""
    return {name: _installed(name) for name in names}


def _installed(name: str) -> str:
    try:
        return version(name)
    except (PackageNotFoundError, ValueError):
        return ""


@cache
def own() -> str:
    """Return the version of Hilum; of code that runs without being installed, the one that its citation names."""
    cited = strict_yaml.load(CITATION)["version"]
    return _installed("hilum") or str(cited)


@cache
def asked() -> dict[str, str]:
    """Return what our own lock asks for on this machine."""
    return locked(LOCK.read_text(encoding="utf-8"))


def differing(then: Mapping[str, str], now: Mapping[str, str]) -> dict[str, tuple[str, str]]:
    """Return the packages that are not the same, with both versions, empty where a package is not there."""
    names = sorted(then.keys() | now.keys())
    pairs = {name: (then.get(name, ""), now.get(name, "")) for name in names}
    return {name: pair for name, pair in pairs.items() if pair[0] != pair[1]}
