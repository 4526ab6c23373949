"""A JSON text that a stranger may have written, read strictly: finite numbers, each key once, no depth without end."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any, NoReturn


def read(text: str) -> Any:
    """Return the values of a JSON text.

    Raises ValueError with what is wrong with it, as the end of a sentence.
    """
    try:
        return json.loads(
            text, object_pairs_hook=_once, parse_constant=_no_number, parse_float=_finite
        )
    except RecursionError as error:
        raise ValueError("has brackets without end, or is nested too deeply") from error


def _once(pairs: Sequence[tuple[str, Any]]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for key, value in pairs:
        if key in made:
            raise ValueError(f"the key {key:.60} is there twice")
        made[key] = value
    return made


def _no_number(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number")


def _finite(word: str) -> float:
    number = float(word)
    return number if math.isfinite(number) else _no_number(f"{word:.60}")
