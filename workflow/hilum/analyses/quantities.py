"""Every quantity that an estimate can have: its name in words, what it means, and its unit."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Quantity:
    """Name a quantity as pages print it, say what it means, and give its unit."""

    title: str
    meaning: str
    unit: str = ""


FRACTION = "fraction"
# indices of the seeds that germinated, by what they say of a lot
INDICES = {
    "how soon": (
        "time_to_half_of_germinated",
        "time_to_middle_seed",
        "mean_germination_time",
        "mean_germination_rate",
        "coefficient_of_velocity",
    ),
    "how evenly in time": ("entropy_of_times", "synchrony"),
    "how much and how soon together": ("germination_speed_index",),
}
# a test of germination that takes this long is thought of in days
_DAYS_FROM_H = 72.0
DAYS_A_MONTH = 365.25 / 12
_STORAGE = ("sigma", "half_viability_period", "p85")
_TIMES = ("t10", "t50", "t90", *INDICES["how soon"])


def clock(*hours: float) -> tuple[float, str]:
    """Return what hours of germination are divided by, and the unit that people think of them in."""
    return (24.0, "d") if max(map(abs, hours), default=0.0) >= _DAYS_FROM_H else (1.0, "h")


def told_in(quantity: str, unit: str, *numbers: float) -> tuple[float, str]:
    """Return what the numbers of a quantity are divided by on a page, and their unit there."""
    if quantity in _STORAGE and max(map(abs, numbers), default=0.0) >= 2 * DAYS_A_MONTH:
        return DAYS_A_MONTH, "months"
    return clock(*numbers) if quantity in _TIMES and unit == "h" else (1.0, unit)


QUANTITIES = {
    # imbibition
    "impermeable_fraction": Quantity(
        "impermeable seeds",
        "Share of the seeds that took up no water through their last weighing.",
        FRACTION,
    ),
    "half_time": Quantity(
        "half-time of uptake", "Soaking time at which half of the final uptake is reached.", "h"
    ),
    "initial_rate": Quantity(
        "initial rate of uptake",
        "Rate of uptake, of the mass before soaking, at the moment water begins to get in.",
        "%/h",
    ),
    "plateau_uptake": Quantity(
        "final uptake",
        "Uptake at which imbibed seeds stop gaining, of the mass before soaking.",
        "%",
    ),
    "smallest_detectable_gain": Quantity(
        "smallest gain that could be seen",
        "Uptake below which the balance and the surface film hide whether water got in.",
        "%",
    ),
    # buoyancy
    "sinking_t50": Quantity(
        "t50 of sinking", "Time by which half of the seeds have sunk and stay sunk.", "h"
    ),
    "still_floating": Quantity(
        "still floating", "Share of the seeds that float at the last look.", FRACTION
    ),
    "sensitivity": Quantity(
        "sensitivity of the float test", "Share of the dead seeds that float.", FRACTION
    ),
    "specificity": Quantity(
        "specificity of the float test", "Share of the live seeds that have sunk.", FRACTION
    ),
    "predictive_value_floating": Quantity(
        "predictive value of floating",
        "Share of the floating seeds that are dead, in a lot with as many live seeds as this one.",
        FRACTION,
    ),
    "predictive_value_sinking": Quantity(
        "predictive value of sinking",
        "Share of the sunken seeds that are alive, in a lot with as many live seeds as this one.",
        FRACTION,
    ),
    "live_thrown_away": Quantity(
        "live seeds thrown away",
        "Share of the live seeds that float, and that a float test would have thrown away.",
        FRACTION,
    ),
    "youden_index": Quantity(
        "Youden's index",
        "Share of the dead seeds that float less that of the live ones: 0 for a test that tells nothing, 1 for a perfect one.",
        "",
    ),
    # time course
    "germinated": Quantity(
        "germinated", "Share of the seeds sown that germinated by the last inspection.", FRACTION
    ),
    "germinated_of_viable": Quantity(
        "germinated, of the viable seeds",
        "Share of the seeds not found dead or empty that germinated by the last inspection.",
        FRACTION,
    ),
    "germinable_fraction": Quantity(
        "germinable seeds",
        "Share of the seeds sown that would germinate if the test went on.",
        FRACTION,
    ),
    "viability": Quantity("viable seeds", "Share of the seeds shown to be alive.", FRACTION),
    "hard": Quantity(
        "hard", "Share of the seeds that had not taken up water at the end.", FRACTION
    ),
    "fresh": Quantity(
        "fresh ungerminated", "Share of the seeds imbibed and firm, but not germinated.", FRACTION
    ),
    "dead": Quantity(
        "dead, in any way",
        "Share of the seeds dead, empty, eaten by insects or mouldy at the end.",
        FRACTION,
    ),
    "t10": Quantity("t10", "Time to the first tenth of the germinable seeds.", "h"),
    "t50": Quantity("t50", "Time to half of the germinable seeds.", "h"),
    "t90": Quantity("t90", "Time to nine tenths of the germinable seeds.", "h"),
    "slope": Quantity(
        "slope", "Steepness of the curve on the logarithm of time; larger is more uniform.", ""
    ),
    "difference": Quantity(
        "difference in final germination",
        "Germinated fraction minus that of the treatment compared with.",
        FRACTION,
    ),
    "time_ratio": Quantity(
        "ratio of t50", "t50 divided by that of the treatment compared with.", "ratio"
    ),
    "equivalent": Quantity(
        "equivalent within the margin",
        "Whether two final fractions surely differ by less than the margin in the settings: 1 yes, 0 no.",
        "yes/no",
    ),
    # indices of the seeds that germinated
    "time_to_half_of_germinated": Quantity(
        "time to half of the germinated seeds",
        "Time by which n/2 of the n seeds that germinated had done so, interpolated between inspections.",
        "h",
    ),
    "time_to_middle_seed": Quantity(
        "time to the middle seed",
        "Time of the middle one of the seeds that germinated, number (n + 1)/2 of n, interpolated between inspections.",
        "h",
    ),
    "mean_germination_time": Quantity(
        "mean germination time", "Mean time of the seeds that germinated.", "h"
    ),
    "mean_germination_rate": Quantity(
        "mean germination rate", "1 divided by the mean germination time.", "1/h"
    ),
    "coefficient_of_velocity": Quantity(
        "coefficient of velocity", "100 divided by the mean germination time.", "%/h"
    ),
    "entropy_of_times": Quantity(
        "entropy of germination times",
        "0 where all seeds germinate between the same inspections, more the further they are spread over inspections.",
        "bit",
    ),
    "synchrony": Quantity(
        "synchrony",
        "Chance that two germinated seeds did so between the same inspections.",
        FRACTION,
    ),
    "germination_speed_index": Quantity(
        "germination speed index",
        "Seeds newly germinated divided by the time of their inspection, summed over inspections.",
        "seeds/h",
    ),
    # temperature
    "base_temperature": Quantity(
        "base temperature", "Temperature at and below which seeds do not germinate.", "°C"
    ),
    "thermal_time_50": Quantity(
        "thermal time to half",
        "Hours times degrees above the base temperature until half of the germinable seeds germinated.",
        "°C h",
    ),
    "optimum_temperature": Quantity(
        "optimum temperature", "Temperature of the highest germination rate.", "°C"
    ),
    "plateau_low": Quantity(
        "plateau begins",
        "Lowest temperature from which more warmth does not speed germination.",
        "°C",
    ),
    "plateau_high": Quantity(
        "plateau ends", "Highest temperature up to which more warmth does not slow it.", "°C"
    ),
    "ceiling_temperature": Quantity(
        "ceiling temperature", "Temperature at and above which seeds do not germinate.", "°C"
    ),
    "predicted_at_constant": Quantity(
        "predicted at a constant temperature",
        "Share of the seeds sown expected to have germinated by a day at a constant temperature.",
        FRACTION,
    ),
    "predicted_along_course": Quantity(
        "predicted along a course",
        "Share of the seeds sown expected to have germinated by a day along a course of temperatures.",
        FRACTION,
    ),
    "seeds_to_sow": Quantity(
        "seeds to sow at a constant temperature",
        "Seeds to sow so that a wanted number has surely germinated by a day at a constant temperature.",
    ),
    "seeds_to_sow_along": Quantity(
        "seeds to sow along a course",
        "Seeds to sow so that a wanted number has surely germinated by a day along a course of temperatures.",
    ),
    "predicted_germinated": Quantity(
        "germinated by the end of the course",
        "Share of the seeds sown expected to have germinated by the end of a course of temperatures.",
        FRACTION,
    ),
    "predicted_t50": Quantity(
        "t50 along the course",
        "Time from sowing until half of the germinable seeds are expected to have germinated along a course.",
        "h",
    ),
    # scarification
    "best_duration": Quantity(
        "best duration",
        "Duration of the treatment after which most seeds germinate normally.",
        "min",
    ),
    "best_dose": Quantity(
        "best dose",
        "Dose that is no duration (strength, temperature, strokes) after which most seeds germinate normally.",
        "",
    ),
    "germination_at_best": Quantity(
        "germination at the best dose",
        "Share of the seeds sown that germinate normally after the best dose.",
        FRACTION,
    ),
    "window_low": Quantity(
        "window begins",
        "Lowest dose after which germination is within five points of the best.",
        "min",
    ),
    "window_high": Quantity(
        "window ends",
        "Highest dose after which germination is within five points of the best.",
        "min",
    ),
    "harmed": Quantity(
        "harmed by the treatment",
        "Share of the seeds sown that are dead or abnormal beyond those of untreated and hand-opened seeds.",
        FRACTION,
    ),
    # trueness to name
    "outside_range": Quantity(
        "outside the published range",
        "Share of the lot in which a trait lies outside the range, or the states, published for a taxon.",
        FRACTION,
    ),
    "compatible": Quantity(
        "compatible with the taxon",
        "Whether no trait has surely more of the lot outside than a taxon's published range leaves out: 1 yes, 0 no.",
        "yes/no",
    ),
    # storage
    "ki": Quantity("Ki, the start", "Probit of the share of seeds alive before storage.", "probit"),
    "sigma": Quantity(
        "sigma", "Storage in which the share alive falls by one probit; longer is better.", "d"
    ),
    "half_viability_period": Quantity(
        "half-viability period", "Storage after which half of the seeds are alive.", "d"
    ),
    "p85": Quantity(
        "p85", "Storage after which 85 % of the share alive before storage is left.", "d"
    ),
    "predicted_viability": Quantity(
        "viable seeds expected",
        "Share of the seeds expected to be alive after a storage.",
        FRACTION,
    ),
    "half_viability_ratio": Quantity(
        "ratio of half-viability periods",
        "Half-viability period divided by that of the treatment compared with.",
        "ratio",
    ),
    # seedlings
    "leaf_t5": Quantity(
        "leaf of the quickest 5 %",
        "Time from germination until 5 % of the seedlings have so many leaves: nine of ten seedlings lie between this and the time of 95 %.",
        "d",
    ),
    "leaf_t50": Quantity(
        "leaf of half of them",
        "Time from germination until half of the seedlings have so many leaves.",
        "d",
    ),
    "leaf_t95": Quantity(
        "leaf of all but 5 %",
        "Time from germination until 95 % of the seedlings have so many leaves.",
        "d",
    ),
    "stay_t50": Quantity(
        "median stay", "How long half of the seedlings stay at so many leaves, at most.", "d"
    ),
    "pause_t5": Quantity("pause of the quickest 5 %", "5 % of the seedlings pause no longer.", "d"),
    "pause_t50": Quantity("median pause", "Half of the seedlings pause no longer than this.", "d"),
    "pause_t95": Quantity("pause of all but 5 %", "95 % of the seedlings pause no longer.", "d"),
    # the sheet of a lot
    "thousand_seed_mass": Quantity(
        "thousand-seed mass", "Mass of a thousand untreated seeds.", "g"
    ),
    "mass_variation": Quantity(
        "coefficient of variation of the seed mass",
        "Standard deviation between the seeds or replicates weighed, of their mean.",
        "%",
    ),
    "moisture_wet": Quantity(
        "moisture, wet basis", "Water of the seeds, of their mass as they are.", "%"
    ),
    "moisture_dry": Quantity(
        "moisture, dry basis", "Water of the seeds, of their dry matter.", "%"
    ),
}


_NOTHING_OR_MORE = (0.0, float("inf"))
_ALL = {FRACTION: (0.0, 1.0), "yes/no": (0.0, 1.0), "°C": (-273.15, float("inf"))} | dict.fromkeys(
    ("h", "d", "min", "°C h", "%", "%/h", "1/h", "g", "ratio", "bit", "seeds/h"), _NOTHING_OR_MORE
)
_OWN = {"difference": (-1.0, 1.0), "youden_index": (-1.0, 1.0), "slope": _NOTHING_OR_MORE}


def possible(quantity: str, unit: str) -> tuple[float, float]:
    """Return the least and the greatest number that a quantity can have, by what it is and by its unit."""
    return _OWN.get(quantity) or _ALL.get(unit, (-float("inf"), float("inf")))
