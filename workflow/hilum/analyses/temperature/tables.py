"""The tables beside the estimates of temperature: classical lines, predictions, and how many seeds to sow."""

from hilum.analyses.further import SERIES, TEMPERATURE, Further, Meaning
from hilum.analyses.quantities import FRACTION

_COURSE = {"course": Meaning("The course, as named in temperature_courses.csv.")}
_DAY = {"elapsed_d": Meaning("Days after sowing.", "d")}
_SHARE = {
    "germinated": Meaning("Share of the seeds sown expected to have germinated.", FRACTION),
    "low": Meaning("Lower edge of the band of that share.", FRACTION),
    "high": Meaning("Upper edge of the band of that share.", FRACTION),
}
_SOWN = {
    "wanted": Meaning("Germinated seeds wanted."),
    "sure": Meaning("Probability with which a sowing has as many.", FRACTION),
    "seeds": Meaning("Seeds to sow for that; empty where no reasonable number is enough."),
}

TABLES = {
    "lines": Further(
        title="Classical lines through the rates",
        one_row_is="one line of a series, for one share of the germinable seeds",
        columns={
            **SERIES,
            "germinated_share": Meaning(
                "Share of the germinable seeds whose time of germination makes the rates.", FRACTION
            ),
            "dishes": Meaning("Dishes that reached that share: the points of the line."),
            "base_c": Meaning("Temperature at which the line meets a rate of 0.", "°C"),
            "standard_error_c": Meaning("Standard error of that temperature.", "°C"),
            "fieller_low_c": Meaning("Lower end of Fieller's interval; empty where open.", "°C"),
            "fieller_high_c": Meaning("Upper end of Fieller's interval; empty where open.", "°C"),
            "fieller": Meaning(
                "bounded, open below (the slope may be 0), unbounded, or unknown with fewer than three points."
            ),
            "thermal_time_c_h": Meaning("Thermal time to that share: 1 over the slope.", "°C h"),
            "r_squared": Meaning("Share of the variance of the rates that the line explains."),
            "doubts": Meaning("Why not to trust the line, in sentences; empty where nothing does."),
        },
    ),
    "prediction": Further(
        title="Germination at constant temperatures",
        one_row_is="one series at one temperature and day",
        columns={**SERIES, "temperature_c": TEMPERATURE, **_DAY, **_SHARE},
    ),
    "sowing": Further(
        title="Seeds to sow at constant temperatures",
        one_row_is="one series at one temperature and day, for one number of germinated seeds",
        columns={**SERIES, "temperature_c": TEMPERATURE, **_DAY, **_SOWN},
    ),
    "course_prediction": Further(
        title="Germination along courses of temperature",
        one_row_is="one series along one course, at one day",
        columns={**SERIES, **_COURSE, **_DAY, **_SHARE},
    ),
    "course_sowing": Further(
        title="Seeds to sow along courses of temperature",
        one_row_is="one series along one course, at one day, for one number of germinated seeds",
        columns={**SERIES, **_COURSE, **_DAY, **_SOWN},
    ),
}
