"""The material of a plan: lots, treatments, viability tests, and best guesses of what seeds do."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

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


class Part(BaseModel):
    """A part of a plan, which takes no keys but its own."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


# nothing of a kind lies around the seeds of these, so there is no bath to share
ONE_BY_ONE = frozenset({"none", "chipping", "filing", "sandpaper"})
BATH_SD = 0.4  # of seeds of which nothing is known (common practice, no source)


class Lot(Part):
    """A seed lot."""

    lot: Annotated[Name, Field(description="Its name, as it will stand in lots.csv.")]
    taxon: Annotated[str, Field(description="The taxon.")] = ""


class Treatment(Part):
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


class Guesses(Part):
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
    bath_sd: Annotated[
        float | None,
        Field(
            ge=0,
            le=3,
            description="How far the baths of one treatment differ, as the standard deviation of a logit: with 0.4, which is taken where "
            "nothing is known, baths that open half of the coats on average open between 40 and 60 % in two of three. It widens a "
            "best duration. A finished study tells it where treatments had several baths; few baths are drawn towards 0.4.",
        ),
    ] = None
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
    seed_mg: Annotated[Positive | None, Field(description="Mass of a dry seed, mg.")] = None
    film_pct: Annotated[
        Positive,
        Field(description="Water that blotting leaves on a seed, % of its mass."),
    ] = 2.0
    uptake_pct: Annotated[
        Positive | None,
        Field(
            description="Water that a seed takes up in the end, % of its mass before soaking; 100 where nothing is known."
        ),
    ] = None
    half_uptake_h: Annotated[
        Positive | None,
        Field(description="Hours to half of that, once water gets in; 8 where nothing is known."),
    ] = None
    opens_late: Annotated[
        Share,
        Field(
            description="Share of the seeds whose coats open at some hour before the last planned weighing."
        ),
    ] = 0.05


class ViabilityTest(Part):
    """A viability test of a sample of a lot."""

    lot: Annotated[Name, Field(description="The lot.")]
    seeds: Annotated[int, Field(ge=1, le=100_000, description="Seeds of the sample.")]
    method: Annotated[
        Literal["tetrazolium", "cutting", "hand_opened"], Field(description="How it is done.")
    ] = "cutting"
