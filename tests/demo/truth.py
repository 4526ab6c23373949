"""What is true of the demo's invented plant: the one place where its truths stand.

Everything here is made up: the taxon Litorivolva ficta, the nursery, its beaches and its people. The tests
hold the estimates of the demo against these numbers.
"""

from dataclasses import dataclass, replace

from hilum.analyses.buoyancy.truth import BuoyancyTruth, TrueFloating
from hilum.analyses.imbibition.truth import ImbibitionTruth, TrueCoats
from hilum.analyses.scarification.truth import ScarificationTruth, TrueDose
from hilum.analyses.seedlings.truth import SeedlingsTruth, TrueSeedlings
from hilum.analyses.storage.truth import StorageTruth, TrueStorage
from hilum.analyses.temperature.truth import TemperatureTruth, TrueSeries
from hilum.analyses.time_course.truth import TimeCourseTruth, TrueCourse
from hilum.analyses.trueness_to_name.truth import TrueLot, TruenessTruth, TrueTaxon, TrueTrait

SEED = 1
LOT, OLD_LOT = "drift-24", "drift-19"

# seeds with an open coat germinate alike, whatever opened it; too weak leaves the coat closed, too
# strong harms the embryo (common practice, no source)
CHIPPED = TrueCourse(
    lot=LOT, treatment="chipped", germinable=0.88, t50_h=108.0, hard=0.05, fresh=0.25
)
GERMINATION = TimeCourseTruth(
    courses=(
        replace(CHIPPED, treatment="intact", germinable=0.06, t50_h=150.0, hard=0.95, fresh=0.01),
        CHIPPED,
        replace(CHIPPED, treatment="acid-240", germinable=0.86, t50_h=115.0),
        replace(CHIPPED, treatment="acid-30", germinable=0.16, t50_h=140.0, hard=0.93, fresh=0.02),
        replace(CHIPPED, treatment="acid-600", germinable=0.34, t50_h=150.0, hard=0.0, fresh=0.04),
        replace(
            CHIPPED, treatment="hot-water", germinable=0.04, t50_h=170.0, hard=0.06, fresh=0.02
        ),
        replace(
            CHIPPED, treatment="sandpaper", germinable=0.20, t50_h=125.0, hard=0.92, fresh=0.02
        ),
        replace(
            CHIPPED,
            lot=OLD_LOT,
            treatment="intact",
            germinable=0.03,
            t50_h=150.0,
            hard=0.9,
            # as many of the old seeds are dead behind a closed coat as come to light once it is open
            hard_alive=0.48,
        ),
        replace(CHIPPED, lot=OLD_LOT, germinable=0.42, t50_h=130.0, hard=0.03, fresh=0.06),
    ),
    sigma=0.16,
    dishes=4,
    seeds=25,
    dish_sd_log_time=0.05,
    dish_sd_logit=0.25,
)

OPEN = TrueCoats(
    lot=LOT, treatment="chipped", method="chipping", impermeable=0.0, late=0.0, seeds=20
)
UPTAKE = ImbibitionTruth(
    coats=(
        replace(OPEN, treatment="intact", method="none", impermeable=0.9, late=0.05),
        OPEN,
        replace(OPEN, treatment="acid-240", method="acid", impermeable=0.05),
        replace(OPEN, treatment="acid-30", method="acid", impermeable=0.75, late=0.15),
        replace(OPEN, lot=OLD_LOT, treatment="intact", method="none", impermeable=0.85, late=0.1),
        replace(OPEN, lot=OLD_LOT),
    ),
    mass_mg={LOT: 180.0, OLD_LOT: 165.0},
    balance_sd_mg=1.0,
    film=0.02,
    plateau=0.95,
    half_time_h=5.0,
    hours=(0.0, 1.0, 3.0, 6.0, 12.0, 24.0, 48.0),
)

# long acid for a thick coat, and embryos that suffer once it is through (common practice, no source)
DOSES = (0.0, 30.0, 60.0, 120.0, 240.0, 360.0, 480.0)
STRAND = TrueDose(
    lot=LOT,
    doses=DOSES,
    permeable=0.07,
    viable_permeable=0.6,
    viable=0.91,
    opens=60.0,
    opens_slope=2.5,
    harms=536.0,
    harms_slope=4.3,
    fresh=0.02,
    abnormal=0.3,
    opened="chipped",
)
ACID = ScarificationTruth(
    lots=(STRAND,), baths=2, dishes=2, seeds=25, bath_sd=0.2, dish_sd=0.2, median_h=112.0
)

# an air cavity floats a live seed for a day or two; old seed also holds hollow ones that never sink (common practice, no source)
FLOATING = BuoyancyTruth(
    floating=(
        TrueFloating(lot=LOT, live=0.88, cavity=0.8, cavity_dead=0.75, hollow=0.1, median_h=26.0),
        TrueFloating(
            lot=OLD_LOT, live=0.45, cavity=0.6, cavity_dead=0.3, hollow=0.6, median_h=26.0
        ),
    ),
)

# three invented taxa: the second is told from the first by its grown leaves, hardly by its seeds; the old lot is of the
# first, but shrank in a dry shed (common practice, no source: dry seeds are smaller)
FICTA, SIMILIS, MINUTA = (
    TrueTaxon(
        taxon=f"Litorivolva {name} (invented)",
        traits=(
            TrueTrait(trait="seed length", mean=length, sd=0.4),
            TrueTrait(trait="seed width", mean=width, sd=0.3),
            TrueTrait(trait="seed shape", unit="", states=shape),
            TrueTrait(trait="leaf margin", unit="", states=margin),
        ),
    )
    for name, length, width, shape, margin in (
        ("ficta", 7.6, 6.1, {"kidney-shaped": 0.97, "round": 0.03}, {"entire": 1.0}),
        ("similis", 7.8, 6.3, {"kidney-shaped": 0.9, "round": 0.1}, {"wavy": 1.0}),
        ("minuta", 5.4, 4.5, {"round": 1.0}, {"entire": 1.0}),
    )
)
SEEDS_ALONE = ("seed length", "seed width", "seed shape")
LABELS = TruenessTruth(
    taxa=(FICTA, SIMILIS, MINUTA),
    lots=(
        TrueLot(lot=LOT, label=FICTA.taxon, taxon=FICTA.taxon, traits=SEEDS_ALONE),
        TrueLot(lot=OLD_LOT, label=FICTA.taxon, taxon=FICTA.taxon, shrunk=0.89, traits=SEEDS_ALONE),
    ),
)

# treated, dried and stored seed keeps two to three years, hard seed far longer (common practice, no source); both begin with
# the nine in a hundred that chipping finds dead
HARD = TrueStorage(lot=LOT, treatment="intact", method="none", ki=1.35, sigma_d=9000.0)
STORE = StorageTruth(
    stores=(HARD, TrueStorage(lot=LOT, treatment="acid-240", ki=1.35, sigma_d=650.0)),
    samples=4,
    seeds=50,
    sample_sd=0.12,
    at_c=15.0,
    moisture_pct=9.0,
)

# seedlings stop at two leaves for about two weeks, and go on (common practice, no source); one never does, and those of old
# seed are slower and fewer
GROWING = SeedlingsTruth(
    groups=(
        TrueSeedlings(lot=LOT, treatment="chipped", stunted=1),
        TrueSeedlings(
            lot=OLD_LOT, treatment="chipped", seedlings=18, first_d=10.0, pause_d=21.0, dying=0.15
        ),
    ),
)

# water of the seeds (wet basis, %), and by how much one determination misses it
MOISTURE_PCT = {LOT: 8.4, OLD_LOT: 11.2}
MOISTURE_SD = 0.06

# a warm-water species: alike from 20 to 30 °C, much slowed below 15, none at 10 (common practice, no source)
SERIES = TrueSeries(
    lot=LOT,
    treatment="chipped",
    temperatures=(10.0, 12.5, 15.0, 17.5, 20.0, 25.0, 30.0),
    base=10.4,
    thermal_time_50=1040.0,
    optimum=20.0,
    germinable=0.88,
    hard=0.1,
)
TEMPERATURES = TemperatureTruth(
    series=(SERIES,), sigma=0.16, dish_sd_log_time=0.05, dish_sd_logit=0.25
)
COARSE = replace(TEMPERATURES, series=(replace(SERIES, temperatures=(10.0, 20.0, 25.0, 30.0)),))


@dataclass(frozen=True)
class Weather:
    """Temperatures of a place (°C): rising evenly from `first` to `last`, with the swings of days and of tides."""

    first: float
    last: float
    day: float
    tide: float
    noise: float


# 28 spring days, a reading each three hours
WEATHER = {
    "window sill, spring": Weather(first=15.0, last=21.0, day=4.0, tide=0.0, noise=0.8),
    "tidal pool edge, spring": Weather(first=9.5, last=17.0, day=3.5, tide=1.5, noise=0.8),
}
WEATHER_DAYS = 28
# the seeds are drawn at the set points, so on average the chambers keep them; readings swing by this much (°C)
CHAMBER_SWING_SD = 0.2
