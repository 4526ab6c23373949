"""The plan of a study: the model of plan.yaml, whose descriptions make its page."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, model_validator

from hilum.settings import SettingsFault, as_typed
from hilum.tables.treatments import METHODS

Name = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[^/\\\s][^/\\]*$")]
Share = Annotated[float, Field(ge=0, le=1)]
Inside = Annotated[float, Field(gt=0, lt=1)]
Positive = Annotated[float, Field(gt=0)]
Celsius = Annotated[float, Field(ge=-20, le=60)]


def _a_method(name: str) -> str:
    if name not in METHODS:
        raise ValueError(f"a method is one of {', '.join(METHODS)}")
    return name


Method = Annotated[str, AfterValidator(_a_method)]
Ends = Literal["nothing", "scoring", "cutting"]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Lot(_Part):
    """A seed lot."""

    lot: Annotated[Name, Field(description="Its name, as it will stand in lots.csv.")]
    taxon: Annotated[str, Field(description="The taxon.")] = ""


class Treatment(_Part):
    """A treatment, and the best guess of what it does to seeds."""

    treatment: Annotated[Name, Field(description="Its name, as it will stand in treatments.csv.")]
    method: Annotated[
        Method,
        Field(
            description="The method, a word of treatments.csv: none for untreated seeds, chipping, acid, …"
        ),
    ]
    agent: Annotated[str, Field(description="What it is done with.")] = ""
    minutes: Annotated[Positive | None, Field(description="How long it lasts, minutes.")] = None
    germinable: Annotated[
        Inside | None,
        Field(description="Guess: share of the seeds sown that germinates in the end."),
    ] = None
    hard: Annotated[
        Share | None, Field(description="Guess: share of the seeds sown that stays hard.")
    ] = None
    t50_d: Annotated[
        Positive | None, Field(description="Guess: days to half of the germinable seeds.")
    ] = None


class Guesses(_Part):
    """Best guesses of what holds for all seeds; a finished study fills in what is not given."""

    study: Annotated[
        Path | None,
        Field(
            description="The results folder of a finished study to take guesses from, relative to the plan: "
            "`../results/<study>`. A guess typed here is used before one from there."
        ),
    ] = None
    lot: Annotated[
        str | None, Field(description="Which of its lots; needed where it has several.")
    ] = None
    dish_correlation: Annotated[
        Inside,
        Field(
            description="Intra-dish correlation of the fates of seeds. 0.05 is ordinary for dishes of seed; with more, further "
            "dishes tell more than further seeds."
        ),
    ] = 0.05
    slope: Annotated[
        Positive | None,
        Field(
            description="Steepness of the curve on log time: 4 for slow starters, 10 for uniform seed; 6 where nothing is known."
        ),
    ] = None
    base_temperature_c: Annotated[
        Celsius | None, Field(description="Temperature below which no seed germinates, °C.")
    ] = None
    unsure_c: Annotated[
        float,
        Field(
            ge=0,
            le=10,
            description="How far temperatures guessed may be off, °C: dishes are shared out so that they serve all of this range.",
        ),
    ] = 0.5
    thermal_time_50_c_h: Annotated[
        Positive | None, Field(description="Thermal time to half of the germinable seeds, °C h.")
    ] = None
    optimum_c: Annotated[
        Celsius | None,
        Field(
            description="Temperature up to which germination gets faster, °C; without it, faster throughout."
        ),
    ] = None
    opening_min: Annotated[
        Positive | None,
        Field(description="Minutes of treatment that open half of the closed coats."),
    ] = None
    opening_slope: Annotated[
        Positive, Field(description="Steepness with which coats open on log minutes.")
    ] = 2.5
    harming_min: Annotated[
        Positive | None, Field(description="Minutes of treatment that harm half of the seeds.")
    ] = None
    harming_slope: Annotated[Positive, Field(description="Steepness of harm on log minutes.")] = 4.0
    viable: Annotated[
        Inside, Field(description="Share of the lot that is alive before any treatment.")
    ] = 0.9
    half_viability_d: Annotated[
        Positive | None,
        Field(description="Days of storage after which half of the seeds are alive."),
    ] = None


class Inspections(_Part):
    """When dishes are looked at, days after sowing."""

    first_d: Annotated[Positive, Field(description="First inspection, d.")] = 1.0
    every_d: Annotated[Positive, Field(description="Days between inspections.")] = 1.0
    last_d: Annotated[Positive, Field(le=730, description="Last inspection, d.")] = 28.0

    @model_validator(mode="after")
    def _in_order(self) -> Inspections:
        if self.last_d < self.first_d:
            raise ValueError("last_d must not lie before first_d")
        return self

    @property
    def hours(self) -> tuple[float, ...]:
        """Return the inspections in hours after sowing; the last is always one of them."""
        steps = int((self.last_d - self.first_d) / self.every_d + 1e-9)
        days = [self.first_d + i * self.every_d for i in range(steps + 1)]
        if days[-1] < self.last_d - 1e-9:
            days.append(self.last_d)
        return tuple(24.0 * day for day in days)


class _Sown(_Part):
    """What every experiment with dishes has."""

    experiment: Annotated[Name, Field(description="Its name, which will be that of its folder.")]
    lots: Annotated[tuple[Name, ...], Field(min_length=1, description="Lots that are sown.")]
    treatments: Annotated[
        tuple[Name, ...], Field(min_length=1, description="Treatments of the seeds.")
    ]
    dishes: Annotated[
        int, Field(ge=1, le=100, description="Dishes of each lot and treatment at each place.")
    ] = 4
    seeds: Annotated[int, Field(ge=1, le=1000, description="Seeds of each dish.")] = 25
    inspections: Annotated[
        Inspections, Field(description="When dishes are looked at; its keys are below.")
    ] = Inspections()
    ends_with: Annotated[
        Ends,
        Field(
            description="What is done with seeds that are left at the end: `nothing`, `scoring` (hard, fresh, dead), or "
            "`cutting` (scored, and hard and fresh seeds cut to see whether they live)."
        ),
    ] = "scoring"
    wanted: Annotated[
        Mapping[str, Positive],
        Field(
            description="Half-widths of intervals that would be narrow enough, as quantity: half-width. `base_temperature` (°C) over "
            "temperatures; `t50` (h), `germinable_fraction`, `germinated`, `hard`, `difference` (0 to 1) beside each other; "
            "`best_duration` (min) over durations; `half_viability_period` (d) after storage."
        ),
    ] = {}


class Temperatures(_Sown):
    """An experiment on base temperature and thermal time: the same seeds at several temperatures."""

    analysis: Literal["temperature"]
    temperatures_c: Annotated[
        tuple[Celsius, ...], Field(min_length=1, description="Temperatures, °C.")
    ]
    adds_to: Annotated[
        Name | None,
        Field(
            description="An experiment of the finished study of `guesses` that these dishes add to: its dishes are counted in."
        ),
    ] = None
    chambers: Annotated[
        int,
        Field(
            ge=1,
            le=20,
            description="Chambers at each temperature; with one, chamber and temperature cannot be told apart.",
        ),
    ] = 1
    lowest_c: Annotated[
        Celsius | None,
        Field(description="Coolest temperature that you could set, °C; else the coolest planned."),
    ] = None
    highest_c: Annotated[
        Celsius | None,
        Field(description="Warmest temperature that you could set, °C; else the warmest planned."),
    ] = None
    step_c: Annotated[Positive, Field(description="How finely a chamber can be set, °C.")] = 0.5
    fewest_temperatures: Annotated[
        int,
        Field(
            ge=3,
            le=20,
            description="Temperatures that a better design must keep: with fewer than 4 a bent curve could not be seen.",
        ),
    ] = 4

    @property
    def allocation(self) -> dict[float, int]:
        """Return the dishes at each temperature."""
        return dict.fromkeys(sorted(set(self.temperatures_c)), self.dishes)

    @property
    def limits(self) -> tuple[float, float]:
        """Return the coolest and the warmest temperature that could be set."""
        planned = self.temperatures_c
        low = min(planned) if self.lowest_c is None else self.lowest_c
        return low, max(planned) if self.highest_c is None else self.highest_c


class Courses(_Sown):
    """An experiment on how many seeds germinate and how fast: treatments beside each other at one temperature."""

    analysis: Literal["time_course"]
    temperature_c: Annotated[Celsius, Field(description="Temperature, °C.")]
    difference: Annotated[
        Inside | None,
        Field(
            description="Difference in final germination between treatments that must not be missed."
        ),
    ] = None


class Doses(_Sown):
    """An experiment on the best duration of a treatment that opens coats, and may harm."""

    analysis: Literal["scarification"]
    temperature_c: Annotated[Celsius, Field(description="Temperature, °C.")]
    method: Annotated[Method, Field(description="The method whose duration is varied.")]
    agent: Annotated[str, Field(description="What it is done with.")] = ""
    durations_min: Annotated[
        tuple[Positive, ...],
        Field(
            min_length=2,
            description="Durations, minutes; untreated and hand-opened seeds are `treatments`.",
        ),
    ]

    longest_min: Annotated[
        Positive | None,
        Field(
            description="Longest duration that you could try, minutes; else the longest planned."
        ),
    ] = None

    def dose(self, minutes: float) -> str:
        """Return the name of the treatment that lasts so long."""
        return f"{self.method.replace('_', '-')}-{minutes:g}"


class Storage(_Sown):
    """An experiment on how long seeds keep: dishes sown after storage."""

    analysis: Literal["storage"]
    temperature_c: Annotated[Celsius, Field(description="Temperature of the germination test, °C.")]
    stored_d: Annotated[
        tuple[Annotated[float, Field(ge=0)], ...],
        Field(
            min_length=2, description="Days of storage after which seeds are sown; 0 is fresh seed."
        ),
    ]
    stored_at_c: Annotated[Celsius | None, Field(description="Temperature of the store, °C.")] = (
        None
    )
    longest_d: Annotated[
        Positive | None,
        Field(description="Longest storage that you could wait for, d; else the longest planned."),
    ] = None


Experiment = Annotated[Temperatures | Courses | Doses | Storage, Field(discriminator="analysis")]


# quantities that a plan can foretell, by analysis
TOLD: Mapping[str, tuple[str, ...]] = {
    "temperature": ("base_temperature",),
    "time_course": ("t50", "germinable_fraction", "germinated", "hard", "difference"),
    "scarification": ("best_duration",),
    "storage": ("half_viability_period",),
}


class ViabilityTest(_Part):
    """A viability test of a sample of a lot."""

    lot: Annotated[Name, Field(description="The lot.")]
    seeds: Annotated[int, Field(ge=1, description="Seeds of the sample.")]
    method: Annotated[
        Literal["tetrazolium", "cutting", "hand_opened"], Field(description="How it is done.")
    ] = "cutting"


@dataclass(frozen=True)
class Place:
    """Dishes that are replicates of each other: the same seeds in the same place; `stored_d` days of storage."""

    experiment: str
    lot: str
    treatment: str
    temperature_c: float
    dishes: int
    stored_d: float | None = None


class Plan(_Part):
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
    lots: Annotated[tuple[Lot, ...], Field(min_length=1, description="The lots.")]
    treatments: Annotated[tuple[Treatment, ...], Field(min_length=1, description="The treatments.")]
    guesses: Annotated[Guesses, Field(description="Best guesses.")] = Guesses()
    experiments: Annotated[
        tuple[Experiment, ...],
        Field(min_length=1, description="The experiments, of any of the kinds below."),
    ]
    viability_tests: Annotated[
        tuple[ViabilityTest, ...], Field(description="Viability tests beside the dishes.")
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

    def places(self) -> list[Place]:
        """Return every place of every experiment, in the order of the plan: each has its dishes."""
        return [place for one in self.experiments for place in _places(one)]


def _repeated(kind: str, names: list[str]) -> list[str]:
    twice = sorted({name for name in names if names.count(name) > 1})
    return [f"the {kind} {name} is there twice" for name in twice]


def _unknown(where: str, kind: str, names: Any, known: set[str]) -> list[str]:
    return [
        f"{where}: {kind} {name} is not among the {kind}s of the plan"
        for name in names
        if name not in known
    ]


def _places(one: Experiment) -> Iterator[Place]:
    """Yield the places of an experiment."""
    for lot in one.lots:
        treatments: list[str] = list(one.treatments)
        if isinstance(one, Doses):
            treatments += [one.dose(minutes) for minutes in one.durations_min]
        for treatment in treatments:
            if isinstance(one, Temperatures):
                for degrees, dishes in one.allocation.items():
                    yield Place(one.experiment, lot, treatment, degrees, dishes)
            elif isinstance(one, Storage):
                for days in sorted(set(one.stored_d)):
                    yield Place(one.experiment, lot, treatment, one.temperature_c, one.dishes, days)
            else:
                yield Place(one.experiment, lot, treatment, one.temperature_c, one.dishes)


def load(path: Path) -> Plan:
    """Return the plan at `path`, its finished study made absolute.

    Raises SettingsFault with one sentence for each fault.
    """
    try:
        plan = Plan.model_validate(as_typed(path, needs="config/README.md says what a plan holds"))
    except ValidationError as error:
        raise SettingsFault("\n".join(_sentence(path, f) for f in error.errors())) from error
    study = plan.guesses.study
    if study is None:
        return plan
    there = (path.parent / study).resolve()
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
    "`inspections`": Inspections,
    "`viability_tests`, one entry for each": ViabilityTest,
}
