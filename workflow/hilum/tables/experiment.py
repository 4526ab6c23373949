"""experiment.yaml: what an experiment is called, asks, assumes, and which faults its person accepts."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta, timezone, tzinfo
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo, reset_tzpath

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from hilum import strict_yaml
from hilum.tables.sentences import quoted

FILE = "experiment.yaml"
_OFFSET = re.compile(r"([+-])(\d{2}):?(\d{2})", re.ASCII)
# the rules of zones that the lock holds, not those of the machine, which differ from one to the next
reset_tzpath(to=())
_YES, _NO = {"yes", "true"}, {"no", "false", ""}
Word = Annotated[str, Field(min_length=1, max_length=100)]
Text = Annotated[str, Field(max_length=2000)]


class KnownFault(BaseModel):
    """A fault that the researcher accepts: one row, found by its cells as typed, and what to do with it."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    table: Annotated[Word, Field(description="The table that has the fault.")]
    row: Annotated[
        dict[Word, Text],
        Field(
            min_length=1, description="Cells of the row as typed, enough to match exactly one line."
        ),
    ]
    use: Annotated[
        dict[Word, Text], Field(description="Values to use instead of those typed.")
    ] = {}
    leave_out: Annotated[
        bool, Field(description="yes to leave the row out; a count takes its dish with it.")
    ] = False
    why: Annotated[str, Field(min_length=1, max_length=2000, description="The reason.")]

    @model_validator(mode="after")
    def _one_remedy(self) -> KnownFault:
        if bool(self.use) == self.leave_out:
            raise ValueError("give either `use` with the values to use, or `leave_out: yes`")
        return self


class Experiment(BaseModel):
    """The contents of experiment.yaml; only title and analyses are needed."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    title: Annotated[Text, Field(min_length=1, description="The experiment in a few words.")]
    analyses: Annotated[tuple[Word, ...], Field(description="A list of the analyses wanted.")]
    germination_criterion: Annotated[
        Literal["radicle", "normal_seedling"],
        Field(description="What counts as germinated: the radicle out, or a normal seedling."),
    ] = "radicle"
    time_zone: Annotated[
        str | None,
        Field(description="The time zone of clock times without an offset, such as Europe/Lisbon."),
    ] = None
    balance_readability_mg: Annotated[
        float | None,
        Field(gt=0, le=100_000, description="The smallest step of the balance, in mg."),
    ] = None
    question: Annotated[Text, Field(description="What the experiment asks.")] = ""
    person: Annotated[Text, Field(description="Who did it.")] = ""
    dates: Annotated[Text, Field(description="When it was done.")] = ""
    source: Annotated[Text, Field(description="Where the data come from.")] = ""
    licence: Annotated[Text, Field(description="Terms under which the data may be used.")] = ""
    known_faults: Annotated[
        tuple[KnownFault, ...], Field(description="Faults that are known and accepted.")
    ] = ()

    @field_validator("time_zone")
    @classmethod
    def _known_zone(cls, name: str | None) -> str | None:
        if name and zone(name) is None:
            raise ValueError("no such time zone; write a name such as Europe/Lisbon, or +02:00")
        return name or None


@dataclass(frozen=True)
class YamlFault:
    """A fault of experiment.yaml: the line, 0 for the whole file, and what it is."""

    line: int
    says: str


def zone(name: str) -> tzinfo | None:
    """Return the time zone of a name such as Europe/Lisbon or +02:00, or None if there is none."""
    offset = _OFFSET.fullmatch(name)
    try:
        if offset:
            minutes = int(offset[2]) * 60 + int(offset[3])
            return timezone(timedelta(minutes=minutes if offset[1] == "+" else -minutes))
        return ZoneInfo(name)
    except (ValueError, OSError, KeyError):
        return None


def _as_typed(raw: Mapping[str, Any]) -> dict[str, Any]:
    """Return the raw keys with empty values left out, so that `question:` means no question."""
    return {key: value for key, value in raw.items() if value != "" or key in ("title", "analyses")}


def _with_booleans(raw: dict[str, Any]) -> dict[str, Any]:
    faults = raw.get("known_faults")
    if not isinstance(faults, list):
        return raw
    return raw | {"known_faults": [_with_boolean(f) for f in faults]}


def _with_boolean(fault: Any) -> Any:
    if not isinstance(fault, dict) or not isinstance(fault.get("leave_out", ""), str):
        return fault
    word = fault.get("leave_out", "").lower()
    return fault | {"leave_out": True if word in _YES else False if word in _NO else word}


def _says(fault: Mapping[str, Any], model: type[BaseModel]) -> str:
    place = [str(part) for part in fault["loc"]]
    key = ".".join(place) or "known_faults"
    if fault["type"] == "extra_forbidden":
        keys = KnownFault.model_fields if len(place) > 1 else model.model_fields
        return f"{key} is not a key of experiment.yaml; known are {', '.join(keys)}"
    if fault["type"] == "missing":
        return f"the key {key} is missing"
    if fault["type"] == "tuple_type":
        return f"{key} must be a list, such as [time_course, temperature]"
    if fault["type"] == "string_too_short":
        return f"{key} is empty"
    message = fault["msg"].removeprefix("Value error, ")
    value = f" is {quoted(fault['input'])}" if isinstance(fault["input"], str) else ""
    return f"{key}{value}: {message[0].lower()}{message[1:]}"


def _line(fault: Mapping[str, Any], lines: Mapping[tuple[str, ...], int]) -> int:
    place = tuple(str(part) for part in fault["loc"])
    while place not in lines and place:
        place = place[:-1]
    return lines.get(place, 1) if place else 1


def lines(text: str) -> dict[str, int]:
    """Return the line of each key of a YAML text, from 1, none where it cannot be read."""
    try:
        found = strict_yaml.read(text.encode(), typed=False).lines
    except (strict_yaml.Refused, UnicodeEncodeError):
        return {}
    return {place[0]: line for place, line in found.items() if len(place) == 1}


def read(data: bytes) -> tuple[Experiment | None, list[YamlFault]]:
    """Return the experiment described by the contents of a file, or None, and its faults."""
    try:
        tree = strict_yaml.read(data, typed=False)
    except strict_yaml.Refused as why:
        return None, [YamlFault(why.line, why.says)]
    if not isinstance(tree.value, dict):
        return None, [YamlFault(0, "holds no keys; it needs title and analyses")]
    try:
        return Experiment.model_validate(_with_booleans(_as_typed(tree.value))), []
    except ValidationError as error:
        told = [YamlFault(_line(f, tree.lines), _says(f, Experiment)) for f in error.errors()]
        return None, told
