"""Altair charts into specifications, without the copies and checks that would cost more than the pictures."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

import altair as alt
from altair.utils import schemapi

# whole percent; the sign, with the space before it, is the theme's
SHARE = ".0%"


def shares() -> alt.Axis:
    """Return an axis of shares: whole percent, and no tick between two of them."""
    return alt.Axis(format=SHARE, tickMinStep=0.01)


class _Rows(alt.InlineData):
    """Rows that altair hands on as they are: of a list it copies and checks each cell with every change of a chart."""

    def __init__(self, rows: Sequence[Mapping[str, Any]]) -> None:
        with schemapi.debug_mode(False):
            super().__init__(values=alt.InlineDataset(rows))  # type: ignore[no-untyped-call]
        object.__setattr__(self, "_rows", rows)

    def __deepcopy__(self, _: object) -> _Rows:
        return self

    def to_dict(self, *_: Any, **__: Any) -> dict[str, Any]:
        return {"values": self._rows}


def data(rows: Iterable[Mapping[str, Any]]) -> alt.InlineData:
    """Return rows of plain numbers and text as the data of a chart."""
    return _Rows(list(rows))


def of(chart: alt.TopLevelMixin) -> dict[str, Any]:
    """Return the Vega-Lite specification of a chart, checked against its schema unless `unchecked`."""
    made = dict(chart.to_dict(validate=schemapi.DEBUG_MODE))
    # altair calls rows by a hash of them, which the last digit of any number would change
    names = {old: f"rows-{n}" for n, old in enumerate(made.get("datasets", {}), start=1)}
    if names:
        made["datasets"] = {names[old]: rows for old, rows in made["datasets"].items()}
        _rename(made, names)
    return made


def _rename(part: Any, names: Mapping[str, str]) -> None:
    """Call the rows that each part of a specification draws by their new names."""
    if isinstance(part, list):
        for one in part:
            _rename(one, names)
    elif isinstance(part, dict):
        data = part.get("data")
        if isinstance(data, dict) and data.get("name") in names:
            part["data"] = {**data, "name": names[data["name"]]}
        for key, one in part.items():
            if key != "datasets":
                _rename(one, names)


def _copied(value: Any, by_ref: set[str]) -> Any:
    """Return a deep copy as altair makes it, but pass over what a part does not have, which is nearly all of its keys."""
    if value is schemapi.Undefined:
        return value
    if isinstance(value, list):
        return [_copied(one, by_ref) for one in value]
    if isinstance(value, dict):
        return {k: one if k in by_ref else _copied(one, by_ref) for k, one in value.items()}
    if not isinstance(value, schemapi.SchemaBase):
        return value
    if hasattr(value, "__deepcopy__"):
        return value.__deepcopy__(value)
    made = object.__new__(type(value))
    made.__dict__.update(value.__dict__)
    made.__dict__["_args"] = tuple(_copied(one, by_ref) for one in value._args)
    made.__dict__["_kwds"] = _copied(value._kwds, by_ref)
    return made


@contextmanager
def unchecked() -> Iterator[None]:
    """Leave out altair's checks of each part of a chart, and its slow copies: a chart that the tests have checked needs none."""
    slow = schemapi._deep_copy
    schemapi._deep_copy = _copied  # type: ignore[assignment]
    try:
        with schemapi.debug_mode(False):
            yield
    finally:
        schemapi._deep_copy = slow
