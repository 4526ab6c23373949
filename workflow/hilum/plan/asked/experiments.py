"""The experiments of a plan: what is sown where, and when it is looked at."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field, model_validator

from hilum.plan.asked.material import Celsius, Inside, Method, Name, Part, Positive
from hilum.tables.limits import MOST_TEMPERATURES

Ends = Literal["nothing", "scoring", "cutting"]
# far beyond what a bench can do, so that no slip of a finger is worked out for hours
MOST = 100
_MOST_INSPECTIONS = 1_000


class Inspections(Part):
    """When dishes are looked at, days after sowing."""

    first_d: Annotated[Positive, Field(description="First inspection, d.")] = 1.0
    every_d: Annotated[Positive, Field(description="Days between inspections.")] = 1.0
    last_d: Annotated[Positive, Field(le=730, description="Last inspection, d.")] = 28.0

    @model_validator(mode="after")
    def _in_order(self) -> Inspections:
        if self.last_d < self.first_d:
            raise ValueError("last_d must not lie before first_d")
        if self.last_d - self.first_d > _MOST_INSPECTIONS * self.every_d:
            raise ValueError(
                f"every_d makes more than {_MOST_INSPECTIONS:,} inspections of each dish"
            )
        return self

    @property
    def hours(self) -> tuple[float, ...]:
        """Return the inspections in hours after sowing; the last is always one of them."""
        steps = int((self.last_d - self.first_d) / self.every_d + 1e-9)
        days = [self.first_d + i * self.every_d for i in range(steps + 1)]
        if days[-1] < self.last_d - 1e-9:
            days.append(self.last_d)
        return tuple(24.0 * day for day in days)


class _Seeds(Part):
    """What every experiment has."""

    experiment: Annotated[Name, Field(description="Its name, which will be that of its folder.")]
    lots: Annotated[
        tuple[Name, ...], Field(min_length=1, max_length=MOST, description="Lots that are sown.")
    ]
    treatments: Annotated[
        tuple[Name, ...],
        Field(min_length=1, max_length=MOST, description="Treatments of the seeds."),
    ]
    dishes: Annotated[
        int, Field(ge=1, le=100, description="Dishes of each lot and treatment at each place.")
    ] = 4
    seeds: Annotated[int, Field(ge=1, le=1000, description="Seeds of each dish.")] = 25
    wanted: Annotated[
        Mapping[str, Positive],
        Field(
            description="Half-widths of intervals that would be narrow enough, as quantity: half-width. `base_temperature` (°C) over "
            "temperatures; `t50` (h), `germinable_fraction`, `germinated`, `hard`, `difference` (0 to 1) beside each other; "
            "`best_duration`, `window_low`, `window_high` (min) over durations; `half_viability_period` (d) after storage; `impermeable_fraction` (0 to 1) of "
            "weighed seeds, and `misclassified`, the share of them that may be told wrongly. `power` (0 to 1) is how surely "
            "`difference` is to be found beside each other; it stands before the `power` of the plan."
        ),
    ] = {}
    adds_to: Annotated[
        Name | None,
        Field(
            description="An experiment of the finished study of `guesses` that these dishes add to: its dishes of the same seeds are "
            "counted in, over temperatures, over durations (minutes), and of treatments beside each other. The page says which."
        ),
    ] = None


class _Sown(_Seeds):
    """What every experiment with dishes that are counted has."""

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


class Temperatures(_Sown):
    """An experiment on base temperature and thermal time: the same seeds at several temperatures."""

    analysis: Literal["temperature"]
    temperatures_c: Annotated[
        tuple[Celsius, ...],
        Field(min_length=1, max_length=MOST_TEMPERATURES, description="Temperatures, °C."),
    ]
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
    step_c: Annotated[float, Field(ge=0.1, description="How finely a chamber can be set, °C.")] = (
        0.5
    )
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
            max_length=MOST,
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
        tuple[Annotated[float, Field(ge=0, le=100_000)], ...],
        Field(
            min_length=2,
            max_length=MOST,
            description="Days of storage after which seeds are sown; 0 is fresh seed.",
        ),
    ]
    stored_at_c: Annotated[Celsius | None, Field(description="Temperature of the store, °C.")] = (
        None
    )
    longest_d: Annotated[
        Positive | None,
        Field(description="Longest storage that you could wait for, d; else the longest planned."),
    ] = None


class Soaking(_Seeds):
    """An experiment on hard coats: seeds weighed one by one, dry and while they soak."""

    analysis: Literal["imbibition"]
    weighings_h: Annotated[
        tuple[Positive, ...],
        Field(
            min_length=1,
            max_length=MOST,
            description="Hours in water after which seeds are weighed; all are weighed dry before.",
        ),
    ]
    balance_mg: Annotated[Positive, Field(description="Readability of the balance, mg.")]
    longest_h: Annotated[
        Positive | None,
        Field(description="Longest soaking that you could wait for, h; else the longest planned."),
    ] = None

    @property
    def hours(self) -> tuple[float, ...]:
        """Return the hours of all weighings, the dry one first."""
        return (0.0, *sorted(set(self.weighings_h)))


Counted = Temperatures | Courses | Doses | Storage
Experiment = Annotated[Counted | Soaking, Field(discriminator="analysis")]


# what a plan can foretell, by analysis
TOLD: Mapping[str, tuple[str, ...]] = {
    "temperature": ("base_temperature",),
    "time_course": ("t50", "germinable_fraction", "germinated", "hard", "difference", "power"),
    "scarification": ("best_duration", "window_low", "window_high"),
    "storage": ("half_viability_period",),
    "imbibition": ("impermeable_fraction", "misclassified"),
}


@dataclass(frozen=True)
class Place:
    """Dishes that are replicates of each other: the same seeds in the same place; `stored_d` days of storage."""

    experiment: str
    lot: str
    treatment: str
    temperature_c: float
    dishes: int
    stored_d: float | None = None


def places(one: Counted) -> Iterator[Place]:
    """Yield the places of an experiment whose dishes are counted: each has its dishes."""
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
