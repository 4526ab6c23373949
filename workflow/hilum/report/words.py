"""What the words of the pages mean, in plain data. Quantities have their meaning in `analyses/quantities.py`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Word:
    """What a word means, and the ways in which pages write it, where that is not the word itself."""

    says: str
    ways: tuple[str, ...] = ()


FATES: Mapping[str, Word] = {
    "germinated": Word(
        "The radicle is out, or a normal seedling stands, as the experiment's criterion says."
    ),
    "hard": Word("At the end the seed had not taken up water."),
    "fresh": Word(
        "The seed took up water and is firm, but did not germinate. Alive only if a test showed it.",
        ("fresh", "fresh ungerminated"),
    ),
    "dead, empty": Word("Soft or decayed, or without an embryo. Both stay in the denominator."),
    "mouldy": Word(
        "Overgrown by mould. It counts as dead; whether mould killed the seed, or grew on a dead one, is not known."
    ),
    "insect-damaged": Word("Eaten by an insect, whatever else it might have become."),
    "abnormal": Word(
        "The seedling has a defect that it will not grow out of. It counts as germinated by the radicle, and not as a normal seedling.",
        ("abnormal", "abnormal seedlings", "abnormal seedling"),
    ),
    "lost, sampled": Word(
        "Removed before its fate was known. Such a seed counts up to that day, and no further."
    ),
}

CAUSES: Mapping[str, Word] = {
    "closed coat": Word(
        "The seed is alive, and its coat let no water in. Shown where hard seeds were opened or cut and found alive, or where the viability of the lot is known."
    ),
    "dead seed": Word(
        "The seed was dead, empty or eaten before anything was done to it. Dead seeds hide in closed coats, and opening brings them to light."
    ),
    "harmed by the treatment": Word(
        "Dead, or grown to an abnormal seedling, beyond those that the lot has anyway, as untreated and hand-opened seeds or a viability test show them. The diagnosis counts the dead alone."
    ),
    "another dormancy": Word(
        "The seed took up water, is alive and waits, in a place where seeds of its lot germinate after a dormancy break."
    ),
    "conditions": Word(
        "The seed is alive and ready, and seeds of the same lot and treatment germinate elsewhere: at another temperature, in light, or later."
    ),
    "another dormancy or conditions": Word(
        "The seed is alive and took up water, and no comparison says which of the two held it back."
    ),
    "not told apart": Word(
        "Nobody looked at what was left, or the comparison is missing. On home, and where causes are joined by “or”, each of several causes may be the main one; the likeliest stands first."
    ),
    "nearly all germinated": Word(
        "No more than a tenth of the seeds is left, so no cause is looked for."
    ),
}

WORDS: Mapping[str, Word] = {
    # the seed
    "imbibition": Word("Uptake of water by a dry seed.", ("imbibition", "imbibed", "imbibing")),
    "impermeable coat": Word(
        "A coat that lets no water in. It is physical dormancy where seeds opened by hand do take up water.",
        ("impermeable coat", "impermeable coats", "impermeable"),
    ),
    "physical dormancy": Word(
        "The coat keeps water out of living seeds: intact seeds stay dry in water, and opened ones take it up."
    ),
    "dormancy break": Word(
        "What ends a dormancy other than that of the coat: cold or warm moist storage, dry storage, a growth regulator."
    ),
    "scarification": Word("Opening the coat: by blade, file, acid or heat."),
    "opened by hand": Word(
        "The coat was cut at one place, seed by seed. Such seeds show what a seed does once water gets in, without the harm of a bulk treatment.",
        ("opened by hand", "hand-opened", "opened seeds"),
    ),
    "late imbibing": Word(
        "Water gets in after a lag: the coat gave way during the test.",
        ("late imbibing", "opened later"),
    ),
    "surface film": Word(
        "Water that blotting leaves on a wet seed. It adds to the mass although no water got in."
    ),
    "pooled curve": Word("One curve through all seeds that took up water from the start."),
    "P(impermeable)": Word(
        "The probability that no water got in by the last weighing. A seed is called impermeable or imbibed only where that is as probable as the confidence asks.",
        ("P(impermeable)",),
    ),
    "float test": Word("Throwing away seeds that float, because they are thought to be dead."),
    "sensitivity, specificity": Word(
        "Of a test that calls seeds bad: the share of the bad ones that it calls bad, and that of the good ones that it calls good.",
        ("sensitivity", "specificity"),
    ),
    "wet basis, dry basis": Word(
        "Moisture as a share of the mass of the seed with its water, and as a share of its mass dried in an oven. Uptake is a share of neither, but of the mass before soaking.",
        ("wet basis", "dry basis"),
    ),
    "viability": Word("Share of the seeds that are alive, whether they germinate or not."),
    "viability test": Word("Cutting or staining seeds to see how many are alive."),
    "probit": Word(
        "A share on the scale of the normal distribution: 50 % is 0, 84 % is 1, 98 % is 2. On it the share of stored seeds alive falls in a straight line."
    ),
    "viability equation": Word(
        "How long seed keeps, from its moisture, its temperature and constants of its species. Seeds that stay dry and hard behind a closed coat are outside it.",
        ("viability equation", "published viability equation"),
    ),
    "radicle": Word("The root of the embryo. That it is out is the usual sign of germination."),
    "growth pause": Word(
        "A leaf number at which the median seedling stays at least twice as long as at those beside it, and surely longer. Seedlings often stop at two to four leaves for about two weeks (common practice, no source).",
        ("growth pause", "a pause"),
    ),
    "siblings": Word("The other seedlings of the same lot and treatment."),
    # the trial
    "lot": Word("Seeds that were collected and kept together.", ("seed lot",)),
    "dish": Word("A replicate: the seeds that shared one dish, box or tray."),
    "batch": Word(
        "Seeds that were treated together, in one bath say. What one bath does cannot be told from its treatment.",
        ("batch", "batches", "bath", "baths"),
    ),
    "condition": Word(
        "What a dish stood in besides its temperature: light, night temperature, medium, storage before.",
        ("place and condition",),
    ),
    "place": Word(
        "Temperature, light, medium and storage together: where and how a dish stood.",
        ("several places", "another place"),
    ),
    "germinable seeds": Word(
        "Share of the seeds that would germinate if the test went on for ever.",
        ("germinable seeds", "germinable fraction", "germinable"),
    ),
    "points": Word(
        "Percentage points: 54 points less than 87 % is 33 %.", ("points less", "points more")
    ),
    # temperature
    "base temperature": Word(
        "Temperature at and below which the seeds do not germinate. Never read off the lowest set point: a seed that needs three months at 8 °C has not germinated after three weeks."
    ),
    "thermal time": Word("Hours times the degrees above the base temperature."),
    "rising limb": Word(
        "The temperatures at which more warmth speeds germination, up to the optimum or the plateau.",
        ("rising limb", "rising line", "rising part"),
    ),
    "course of temperatures": Word(
        "The temperatures of a place hour by hour, along which germination is predicted.",
        ("course of temperatures", "courses of temperature", "along a course", "along the course"),
    ),
    "seeds to sow": Word(
        "The fewest of which the wanted number germinates as surely as the settings ask: the spread between dishes and what is not known of the share are both counted in."
    ),
    # figures and methods
    "interval": Word(
        "The range beside an estimate. Of a hundred intervals at 95 % about 95 hold the true value.",
        ("confidence interval",),
    ),
    "surely": Word(
        "Beyond what chance explains: the interval leaves the other possibility out, at the confidence of the run. Where many pairs were compared at once, that was allowed for."
    ),
    "bracket": Word(
        "A range without an estimate: the data single out no value within it. Where its confidence is not that of the run it stands beside it.",
        ("bracket", "bracketed"),
    ),
    "not identified": Word("This experiment cannot answer at all; the page says what would."),
    "band": Word(
        "The interval of a whole curve, time by time. It is for the mean of many dishes: a single dish strays further.",
        ("band of the curve", "shaded band", "its band", "with a band", "the band"),
    ),
    "dish spread": Word(
        "How much dishes of the same seeds differ beyond what chance alone explains. Intervals are widened for it.",
        ("dish spread", "spread between dishes"),
    ),
    "intra-dish correlation": Word(
        "Dish spread as one number: 0 where seeds of a dish are no more alike than others, 1 where all do the same."
    ),
    "residual": Word(
        "How far a dish lies from the curve fitted to it, in units of what chance allows: beyond ±2 lies one dish in twenty where dishes differ by chance alone. One is told for how many of its seeds germinated, one for how soon.",
        ("residual", "residuals"),
    ),
    "profile likelihood": Word(
        "An interval that holds every value at which the data are not much less likely than at the best one. It may be longer on one side."
    ),
    "CR2": Word(
        "A variance that takes each dish, or bath, as one observation, however its seeds depend on each other; with few dishes its degrees of freedom are few (Bell and McCaffrey)."
    ),
    "Wilson's interval": Word(
        "The interval of a share that stays between 0 and 100 % and serves next to either.",
        ("Wilson's interval", "Wilson interval", "Wilson's limits"),
    ),
    "Newcombe's interval": Word(
        "The interval of a difference of two shares, made from Wilson's intervals of both.",
        ("Newcombe's interval", "Newcombe's limits"),
    ),
    "Turnbull's distribution": Word(
        "The times of an event that is only known to lie between two looks, without assuming the form of a curve."
    ),
    "Bonferroni": Word("Limits made stricter so that several hold at once."),
    "family of times (log-logistic, log-normal, Weibull)": Word(
        "The shape in which the germination times of single seeds spread around their median. The data choose among the three.",
        ("log-logistic", "log-normal", "Weibull"),
    ),
    "response (linear, plateau, triangle, trapezoid)": Word(
        "How the germination rate changes with temperature: rising in a straight line; rising, then level; rising, then falling; rising, level, falling.",
        ("plateau response", "linear response", "triangle", "trapezoid"),
    ),
    "AIC": Word(
        "A number by which models are compared: how badly a model fits, plus a charge for each of its parameters. The lowest is best; differences below 2 mean little. Scaled means that the misfit is first divided by how much more dishes differ than chance alone explains, so that a larger model is not chosen because dishes differ."
    ),
    "p": Word(
        "The chance of a difference at least as large as the one seen if there were none. Holm-adjusted: made stricter because many pairs were compared at once, so it can call a pair unsettled whose own interval excludes 0.",
        ("Holm-adjusted", "p value", "p values"),
    ),
    "main effect, interaction": Word(
        "What a factor does on the whole, and how far that depends on another factor.",
        ("main effect", "main effects", "interaction", "interactions"),
    ),
    "equivalent": Word(
        "Shown to differ by less than the margin in the settings. Not settled: the difference may be smaller or larger than that.",
        ("equivalent", "not settled"),
    ),
    "tolerated range": Word(
        "How far the dishes of one treatment may lie apart by chance.",
        ("tolerated range", "tolerated"),
    ),
    "Fieller's interval": Word(
        "The interval of the temperature at which a straight line meets zero. It can be open on one side: then the line says too little."
    ),
    "coverage": Word(
        "How often an interval holds the truth, counted where the truth is known: in simulated studies."
    ),
    "Monte-Carlo error": Word(
        "How far a share that was counted on simulated studies can be off because they were not endlessly many."
    ),
}
