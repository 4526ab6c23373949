"""The settings of one run: the model of config.yaml, whose descriptions make the settings page."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from pydantic.fields import FieldInfo

from hilum import strict_yaml, visible


class SettingsFault(Exception):
    """Say, a sentence a line, what is wrong in a config file."""

    def __str__(self) -> str:
        """Return the sentences as a terminal may show them: they repeat what others typed."""
        return visible.told(super().__str__())


_OF_THE_RUN = {"study", "parts"}


class Settings(BaseModel):
    """Hold what one run may choose; only `study` has no default."""

    # a default is the same number as the one that a config file spells out
    model_config = ConfigDict(extra="forbid", frozen=True, validate_default=True)

    study: Annotated[
        Path,
        Field(description="The study folder, relative to the config file."),
    ]
    confidence: Annotated[
        float,
        Field(
            gt=0.5,
            lt=1,
            description="Confidence of every interval. Calibrated at 0.95; others are computed the same way.",
        ),
    ] = 0.95
    dish_correlation_when_unknown: Annotated[
        float,
        Field(
            ge=0,
            lt=1,
            description="Intra-dish correlation assumed where one dish per curve leaves it unknown. "
            "0.05 is ordinary for dishes of seed, whose speed is taken to be two and a half times as alike (common practice, no source); "
            "0 would pretend that dishes do not differ.",
        ),
    ] = 0.05
    equivalence_margin: Annotated[
        float,
        Field(
            gt=0,
            lt=1,
            description="Two final fractions that surely differ by less than this count as equivalent. "
            "0.1 is ten seeds in a hundred.",
        ),
    ] = 0.1
    seedlings_wanted: Annotated[
        tuple[Annotated[int, Field(ge=1, le=100_000)], ...],
        Field(
            min_length=1,
            max_length=6,
            description="For how many germinated seeds the page says how many to sow. 10 fill a tray, 50 and 100 are "
            "a small planting.",
        ),
    ] = (10, 50, 100)
    sowing_confidence: Annotated[
        float,
        Field(
            ge=0.5,
            lt=1,
            description="How surely a sowing has as many. At 0.95 one sowing in twenty falls short; more needs more seeds.",
        ),
    ] = 0.95
    range_covers: Annotated[
        float,
        Field(
            ge=0.5,
            lt=1,
            description="Share of a taxon's specimens that a published range of a trait is taken to cover at least. A range "
            "is no distribution, and a flora leaves rare extremes out (common practice, no source). Nearer to 1 a taxon is excluded sooner.",
        ),
    ] = 0.9
    parts: Annotated[
        int,
        Field(
            ge=1,
            le=1000,
            strict=True,
            description="Into how many jobs the experiments are dealt for fit and report. 1 is right on one machine, "
            "which fits them in parallel anyway; a cluster takes each part as a job of its own. No number depends on it.",
        ),
    ] = 1
    storage_months: Annotated[
        tuple[Annotated[float, Field(gt=0, le=1200)], ...],
        Field(
            min_length=1,
            max_length=6,
            description="After how many months of storage the page says how many seeds to expect alive. One to three years "
            "are what a nursery plans for.",
        ),
    ] = (12, 24, 36)
    germination_indices: Annotated[
        bool,
        Field(
            strict=True,
            description="Whether pages show the indices of the seeds that germinated (mean germination time, synchrony, germination "
            "speed index and others). They leave out the seeds that did not germinate, so that t50 and the germinable share say "
            "more; the CSV files have them either way. `true` where a paper or a rule asks for them. No number depends on it.",
        ),
    ] = False
    seed: Annotated[
        int,
        Field(
            ge=0,
            strict=True,
            description="Seed of every random draw, so that two runs give the same numbers.",
        ),
    ] = 1

    def chosen(self) -> str:
        """Return all that numbers and pages may depend on as JSON: not where tables lie, nor how work is shared out."""
        return self.model_dump_json(exclude=_OF_THE_RUN)

    def computed(self) -> str:
        """Return all that numbers may depend on as JSON."""
        return self.model_dump_json(exclude={*_OF_THE_RUN, "germination_indices"})

    def changed(self) -> dict[str, tuple[object, object]]:
        """Return the settings that are not as they come: `{name: (default, value)}`."""
        fields = {n: f.default for n, f in type(self).model_fields.items() if not f.is_required()}
        pairs = {name: (usual, getattr(self, name)) for name, usual in fields.items()}
        return {name: pair for name, pair in pairs.items() if pair[0] != pair[1]}


def as_typed(
    path: Path, *, needs: str = "the one needed line is `study: data/…`"
) -> dict[str, Any]:
    """Return the keys of a YAML file as typed, an empty text as missing; `needs` says what an empty one lacks.

    Raises SettingsFault where it cannot be read.
    """
    try:
        raw = strict_yaml.load(path)
    except strict_yaml.Refused as why:
        place = f"{path}, line {why.line}" if why.line else str(path)
        kind = "is not valid YAML: " if isinstance(why, strict_yaml.Forbidden) else ""
        raise SettingsFault(f"{place}: {kind}{why.says}.") from why
    if not isinstance(raw, dict):
        raise SettingsFault(f"{path}: holds no settings; {needs}.")
    return {key: None if value == "" else value for key, value in raw.items()}


def _sentence(path: Path, fault: Mapping[str, Any]) -> str:
    key = ".".join(str(part) for part in fault["loc"])
    if fault["type"] == "extra_forbidden":
        allowed = ", ".join(Settings.model_fields)
        return f"{path}: {key} is not a setting; known are {allowed}."
    if fault["type"] == "missing" or fault["input"] is None:
        return f"{path}: the key {key} is missing or empty; config/README.md says what it holds."
    value = f"{fault['input']!r:.60}"
    if fault["type"] == "path_type":
        return f"{path}: {key} is {value}, which is not the path of a folder."
    return f"{path}: {key} is {value}: {fault['msg'][0].lower()}{fault['msg'][1:]}."


def load(path: Path) -> Settings:
    """Return the settings of the config file at `path`, its `study` made absolute.

    Raises SettingsFault with one sentence for each fault.
    """
    return merged([path])


def merged(
    paths: Sequence[Path], typed: Mapping[str, Any] | None = None, *, typed_in: str = "--config"
) -> Settings:
    """Return the settings of config files and, before those, of keys that were typed elsewhere, `study` made absolute.

    The last one that names a key decides it. A study that a file names is found from that file, one that was typed from the
    folder of the run. Raises SettingsFault with one sentence for each fault.
    """
    named: dict[str, Path] = {}
    raw: dict[str, Any] = {}
    own = {str(k): None if v == "" else v for k, v in (typed or {}).items()}
    for path, keys in [*((path, as_typed(path)) for path in paths), (Path(typed_in), own)]:
        raw |= keys
        named |= dict.fromkeys(keys, path)
    usual = paths[-1] if paths else Path(typed_in)
    try:
        settings = Settings.model_validate(raw)
    except ValidationError as error:
        said = (_sentence(named.get(str(f["loc"][0]), usual), f) for f in error.errors())
        raise SettingsFault("\n".join(said)) from error
    return settings.model_copy(update={"study": _place(named["study"], settings.study)})


def told(text: str) -> Settings:
    """Return settings that a rule tells its step as JSON."""
    return merged([], json.loads(text), typed_in="--settings")


def _place(path: Path, study: Path) -> Path:
    """Return the study's folder as an absolute path."""
    try:
        place = (path.parent / study).resolve()
        place.exists()
    except (OSError, ValueError, RuntimeError) as error:
        raise SettingsFault(f"{path}: study is no path that a folder can have.") from error
    if not place.name:
        raise SettingsFault(f"{path}: study is {study}, the whole disk; name a folder.")
    if set("{}") & set(place.name):
        # Snakemake takes what stands between them for a wildcard, also where they are doubled
        raise SettingsFault(
            f"{path}: study is {study}; rename the folder to a name without braces."
        )
    return place


def shown(value: object) -> str:
    """Return a value as it is typed in YAML."""
    if isinstance(value, tuple):
        return f"[{', '.join(map(shown, value))}]"
    if isinstance(value, bool):
        return str(value).lower()
    return f"{value:.15g}" if isinstance(value, float) else str(value)


def as_table(model: type[BaseModel] = Settings) -> str:
    """Return every key of a model with its default and its reason as a Markdown table."""
    rows = (
        f"| `{name}` | {_default(field)} | {field.description} |"
        for name, field in model.model_fields.items()
        if field.description
    )
    return "\n".join(["| key | default | what it chooses, and why |", "| --- | --- | --- |", *rows])


def _default(field: FieldInfo) -> str:
    if field.is_required():
        return "needed"
    if field.default is None or isinstance(field.default, BaseModel) or not shown(field.default):
        return ""
    return f"`{shown(field.default)}`"


def main(words: list[str]) -> int:
    """Return 0 where the config file can be used; else say why not, before any other program reads it."""
    try:
        load(Path(words[0]))
    except SettingsFault as fault:
        print(fault, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
