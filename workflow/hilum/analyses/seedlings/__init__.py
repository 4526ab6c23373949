"""Seedlings: whether a growth pause is normal, and which seedlings are later than their siblings."""

from hilum.analyses import Analysis, Source
from hilum.analyses.further import LOT, TREATMENT, Further, Meaning
from hilum.analyses.quantities import FRACTION

ANALYSIS = Analysis(
    title="Seedlings",
    question="Is this growth pause normal, and which seedlings are late?",
    needs=("stages",),
    headlines=("leaf_t5", "leaf_t50", "leaf_t95", "pause_t5", "pause_t50", "pause_t95", "stay_t50"),
    outdoors=True,
    method=r"""
A seedling got a leaf between the last look without it and the first look with it; leaves that fell count. Times from germination
are interval-censored, and right-censored where the seedling was not seen to get there: it died, was not looked at again, or
the experiment ended. The stay at a leaf number lies between two such times, so its beginning and its end are both known only
between looks (De Gruttola and Lagakos); its beginning was taken to be anywhere between its looks with the same chance. Log-logistic,
log-normal and Weibull distributions were fitted by maximum likelihood. Quantiles are those of the best by AIC. Their intervals hold
all that a quantity can be where $-2$ log likelihood ratio stays below $n\ln(1 + t^2/(n-1))$, $t$ Student's with $n-1$ degrees of
freedom and $n$ the seedlings that got there, and they are the widest of all families whose AIC is within 4 of the best. Where fewer
than five seedlings got there, or all within looks too far apart, no family was assumed: the limits are the last look at which the
share was surely below, and the first at which it was surely above (Brookmeyer and Crowley), by the exact limits of Clopper and
Pearson. Where trays are named, limits lie at least $t$ standard errors off on the logarithm, where the variance is the wider of that
with a component between trays, estimated by moments, and the cluster-robust CR2 variance (Bell and McCaffrey), and limits of shares are Wilson's, widened for the trays; else seedlings were taken as independent. A value is told only where Turnbull's distribution, which assumes no family either, gets there.

A pause is a leaf number at which the median stay is at least twice as long as at the leaf numbers up to two before and two after
it, and surely longer than each of them: the interval of their ratio, from intervals that hold at once (Bonferroni), lies above 1
(Zou and Donner). There is no pause where the
stay at every leaf number is surely less than twice as long as one beside it. Seedlings pause at different leaf numbers where a quarter of them, and
at least three, surely did so one by one, at more than one leaf number.

Each seedling was held against its siblings alone, the others of its lot and treatment: the chance of a sibling to have no more
leaves by the day of its last look, and to stay as long in the pause. It is later than 95 % of its siblings where either is
below 0.05, which one in twenty is by chance alone. It is later than chance explains where Holm's procedure over both comparisons of
all seedlings of the experiment says so at {{ (1 - settings.confidence) | number("fraction") }}.
""".strip(),
    sources=(
        Source(
            key="De Gruttola and Lagakos 1989",
            text="De Gruttola V., Lagakos S.W. (1989). Biometrics 45:1–11: times whose beginning and end are both censored.",
        ),
        Source(
            key="Turnbull 1976",
            text="Turnbull B.W. (1976). Journal of the Royal Statistical Society B 38:290–295.",
        ),
        Source(
            key="Brookmeyer and Crowley 1982",
            text="Brookmeyer R., Crowley J. (1982). Biometrics 38:29–41: limits of a median.",
        ),
        Source(
            key="Clopper and Pearson 1934",
            text="Clopper C.J., Pearson E.S. (1934). Biometrika 26:404–413: exact limits of a share.",
        ),
        Source(
            key="Bell and McCaffrey 2002",
            text="Bell R.M., McCaffrey D.F. (2002). Survey Methodology 28:169–181: trays.",
        ),
        Source(
            key="Zou and Donner 2008",
            text="Zou G.Y., Donner A. (2008). Statistics in Medicine 27:1693–1702: limits of a difference from those of its parts.",
        ),
        Source(
            key="Holm 1979",
            text="Holm S. (1979). Scandinavian Journal of Statistics 6:65–70: many tests at once.",
        ),
    ),
    tables={
        "seedlings": Further(
            title="Each seedling",
            one_row_is="one seedling that was followed by itself",
            columns={
                "seedling": Meaning("The seedling, as named in stages.csv."),
                "lot": LOT,
                "treatment": TREATMENT,
                "looks": Meaning("How often it was seen alive."),
                "last_look_d": Meaning("Its last look alive, since germination.", "d"),
                "leaves": Meaning("Leaves that it had by then."),
                "state": Meaning(
                    "before the pause, in the pause, grew on, or died; alive where its siblings have no pause in common."
                ),
                "pause_leaves": Meaning(
                    "Leaves at which it paused: those of its siblings, else its own; empty where there is none."
                ),
                "pause_at_least_d": Meaning("Its pause lasted at least so long.", "d"),
                "pause_at_most_d": Meaning(
                    "Its pause lasted at most so long; empty where it was not seen to end.", "d"
                ),
                "siblings_no_further": Meaning(
                    "Share of siblings expected to have no more leaves by its last look; empty where it cannot be told.",
                    FRACTION,
                ),
                "siblings_pausing_as_long": Meaning(
                    "Share of siblings expected to pause as long as it surely did; empty where it cannot be told.",
                    FRACTION,
                ),
                "later": Meaning(
                    "no; than 95 %: later than 95 % of its siblings, as one in twenty is by chance; than chance explains."
                ),
            },
        ),
    },
)
