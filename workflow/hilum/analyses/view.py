"""What charts and pages draw and say of a result, as typed values, read back from JSON.

Each analysis has its own `View` in `view.py`: frozen dataclasses of numbers, texts, tuples and one another, None where there is nothing.
"""

from __future__ import annotations

import importlib
import importlib.util
from collections.abc import Mapping
from functools import cache
from typing import Any

from pydantic import TypeAdapter


def read(analysis: str, content: Mapping[str, Any]) -> Any:
    """Return the view of an analysis from what JSON held; the content itself where it has no `View` of its own yet.

    Raises pydantic's ValidationError where a part is missing or of another kind.
    """
    adapter = _adapter(analysis)
    return adapter.validate_python(content) if adapter else content


@cache
def _adapter(analysis: str) -> TypeAdapter[Any] | None:
    name = f"hilum.analyses.{analysis}.view"
    if importlib.util.find_spec(name) is None:
        return None
    return TypeAdapter(importlib.import_module(name).View)
