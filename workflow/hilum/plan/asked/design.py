"""The plan of a study: the model of plan.yaml, whose descriptions make its page."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from functools import cached_property
from itertools import accumulate
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, Field, ValidationError, model_validator

from hilum.plan.asked.experiments import (
    MOST,
    TOLD,
    Counted,
    Courses,
    Doses,
    Experiment,
    Inspections,
    Place,
    Soaking,
    Storage,
    Temperatures,
    places,
)
from hilum.plan.asked.material import Guesses, Lot, Part, Positive, Treatment, ViabilityTest
from hilum.plan.asked.room import Room, TimeZone
from hilum.settings import SettingsFault, as_typed
from hilum.tables.limits import MOST_DISHES

# reading a hundred thousand entries would take minutes
_MOST_BYTES = 500_000


class Plan(Part):
    """A study before its first seed is wet."""

    name: Annotated[
        str,
        Field(
            pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,59}$",
            description="Its name, which is that of its folder below `results/plans`.",
        ),
    ]
    title: Annotated[str, Field(min_length=1, description="A title for the page.")]
    question: Annotated[str, Field(description="What you want to know.")] = ""
    source: Annotated[
        str, Field(description="Whose plan this is; where it says `invented` the page does too.")
    ] = ""
    confidence: Annotated[float, Field(gt=0.5, lt=1, description="Confidence of intervals.")] = 0.95
    power: Annotated[
        float,
        Field(
            gt=0.5,
            lt=1,
            description="How surely a difference that must not be missed is to be found.",
        ),
    ] = 0.8
    simulations: Annotated[
        int,
        Field(
            ge=20,
            le=2000,
            description="Studies that are simulated to check what is expected. 60 know a half-width to about 5 %.",
        ),
    ] = 60
    go_on_d: Annotated[
        Positive,
        Field(
            description="Days of further inspections that are weighed for experiments of the study of `guesses` that still run."
        ),
    ] = 7.0
    seed: Annotated[int, Field(ge=0, strict=True, description="Seed of every random draw.")] = 1
    room: Annotated[
        Room,
        Field(description="Where dishes stand, and the baths of treatments; its keys are below."),
    ] = Room()
    sow_on: Annotated[
        date | None,
        Field(
            ge=date(1900, 1, 1),
            le=date(2100, 12, 31),
            description="The day of sowing; what is stored is sown so many days later. `make sheets` then fills in `sown_at`, at "
            "09:00: correct it where it was another hour.",
        ),
    ] = None
    time_zone: Annotated[
        TimeZone, Field(description="The time zone of those hours, such as Europe/Lisbon.")
    ] = "UTC"
    lots: Annotated[tuple[Lot, ...], Field(min_length=1, max_length=MOST, description="The lots.")]
    treatments: Annotated[
        tuple[Treatment, ...], Field(min_length=1, max_length=MOST, description="The treatments.")
    ]
    guesses: Annotated[Guesses, Field(description="Best guesses.")] = Guesses()
    experiments: Annotated[
        tuple[Experiment, ...],
        Field(
            min_length=1, max_length=100, description="The experiments, of any of the kinds below."
        ),
    ]
    viability_tests: Annotated[
        tuple[ViabilityTest, ...],
        Field(max_length=1000, description="Viability tests beside the dishes."),
    ] = ()

    @model_validator(mode="after")
    def _known_names(self) -> Plan:
        faults = [*_repeated("lot", [x.lot for x in self.lots])]
        faults += _repeated("treatment", [x.treatment for x in self.treatments])
        faults += _repeated("experiment", [x.experiment for x in self.experiments])
        lots, treatments = {x.lot for x in self.lots}, {x.treatment for x in self.treatments}
        for one in self.experiments:
            faults += _unknown(one.experiment, "lot", one.lots, lots)
            faults += _unknown(one.experiment, "treatment", one.treatments, treatments)
        for test in self.viability_tests:
            faults += _unknown("viability_tests", "lot", [test.lot], lots)
        for one in self.experiments:
            told = TOLD[one.analysis]
            faults += [
                f"{one.experiment}: {name} cannot be wanted; a {one.analysis} experiment tells {', '.join(told)}"
                for name in one.wanted
                if name not in told
            ]
            if one.wanted.get("power", 0.5) >= 1:
                faults.append(f"{one.experiment}: a power that is wanted lies below 1")
            if "power" in one.wanted and getattr(one, "difference", None) is None:
                faults.append(f"{one.experiment}: `power` needs a `difference` that is to be found")
        if not faults and _more_dishes(self.counted.values(), MOST_DISHES):
            faults.append(f"the plan has more than {MOST_DISHES:,} dishes; plan them in several")
        if faults:
            raise ValueError("; ".join(faults))
        return self

    @cached_property
    def by_name(self) -> dict[str, Treatment]:
        """Return the treatments by name, those of dose series too."""
        found = {t.treatment: t for t in self.treatments}
        for one in self.experiments:
            if isinstance(one, Doses):
                for minutes in one.durations_min:
                    name = one.dose(minutes)
                    made = Treatment(
                        treatment=name, method=one.method, agent=one.agent, minutes=minutes
                    )
                    found.setdefault(name, made)
        return found

    @property
    def counted(self) -> dict[str, Counted]:
        """Return the experiments whose dishes are counted, by name."""
        return {e.experiment: e for e in self.experiments if not isinstance(e, Soaking)}

    def power_of(self, one: Experiment) -> float:
        """Return how surely an experiment is to find the difference that it must not miss."""
        return one.wanted.get("power", self.power)

    def places(self) -> list[Place]:
        """Return every place where dishes are counted, in the order of the plan: each has its dishes."""
        return [place for one in self.counted.values() for place in places(one)]


def _more_dishes(planned: Iterable[Counted], most: int) -> bool:
    """Return whether there are more dishes than that, as soon as that is sure."""
    dishes = (place.dishes for one in planned for place in places(one))
    return any(total > most for total in accumulate(dishes))


def _repeated(kind: str, names: list[str]) -> list[str]:
    twice = sorted({name for name in names if names.count(name) > 1})
    return [f"the {kind} {name} is there twice" for name in twice]


def _unknown(where: str, kind: str, names: Any, known: set[str]) -> list[str]:
    return [
        f"{where}: {kind} {name} is not among the {kind}s of the plan"
        for name in names
        if name not in known
    ]


def load(path: Path) -> Plan:
    """Return the plan at `path`, its finished study made absolute.

    Raises SettingsFault with one sentence for each fault.
    """
    if path.is_file() and path.stat().st_size > _MOST_BYTES:
        raise SettingsFault(
            f"{path}: is larger than {_MOST_BYTES / 1e6:g} MB, and cannot be a plan."
        )
    try:
        plan = Plan.model_validate(as_typed(path, needs="config/README.md says what a plan holds"))
    except ValidationError as error:
        raise SettingsFault("\n".join(_sentence(path, f) for f in error.errors())) from error
    study = plan.guesses.study
    if study is None:
        return plan
    try:
        there = (path.parent / study).resolve()
    except (OSError, ValueError, RuntimeError) as error:
        raise SettingsFault(f"{path}: guesses.study is no path that a folder can have.") from error
    return plan.model_copy(update={"guesses": plan.guesses.model_copy(update={"study": there})})


def _sentence(path: Path, fault: Mapping[str, Any]) -> str:
    key = ".".join(str(part) for part in fault["loc"]) or "the plan"
    if fault["type"] == "extra_forbidden":
        return f"{path}: {key} is no key of a plan; config/README.md lists them."
    if fault["type"] == "missing":
        return f"{path}: {key} is missing; config/README.md says what it holds."
    if fault["type"] == "value_error":
        return f"{path}: {fault['ctx']['error']}."
    value = f"{fault['input']!r:.60}"
    return f"{path}: {key} is {value}: {fault['msg'][0].lower()}{fault['msg'][1:]}."


# the parts of a plan in the order in which its page tells of them
PARTS: Mapping[str, type[BaseModel]] = {
    "The plan": Plan,
    "`lots`, one entry for each": Lot,
    "`treatments`, one entry for each": Treatment,
    "`guesses`": Guesses,
    "`experiments`, `analysis: temperature`": Temperatures,
    "`experiments`, `analysis: time_course`": Courses,
    "`experiments`, `analysis: scarification`": Doses,
    "`experiments`, `analysis: storage`": Storage,
    "`experiments`, `analysis: imbibition`": Soaking,
    "`inspections`": Inspections,
    "`room`": Room,
    "`viability_tests`, one entry for each": ViabilityTest,
}
