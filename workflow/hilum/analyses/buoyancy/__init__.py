"""Buoyancy: what floating tells of seeds, and what it does not."""

from hilum.analyses import Analysis, Source
from hilum.analyses.further import SEED, Further, Meaning

ANALYSIS = Analysis(
    title="Float test",
    question="Is the float test worth anything for these seeds?",
    needs=("weighings",),
    uses=("outcomes",),
    headlines=(
        "sinking_t50",
        "still_floating",
        "sensitivity",
        "specificity",
        "predictive_value_floating",
        "predictive_value_sinking",
        "live_thrown_away",
        "youden_index",
    ),
    method=r"""
Each seed was seen to float or to sink at several hours in water; looks after the radicle was out were not used. Seeds can sink and
come up again, so the time to final sinking lies between the last look at which a seed floated and the next: it is
interval-censored, and right-censored where the seed floated at its last look. Its distribution is the nonparametric maximum of the
likelihood (Turnbull), and the time by which half of the seeds have sunk is read from it. Its lower limit is the last
look at which surely less than half had sunk, its upper limit the first at which surely more than half had. "Surely" is by
Wilson's limits of the share, with seeds that may or may not have sunk by then counted against the claim (Brookmeyer and
Crowley). No form of the distribution is assumed.

The float test calls floating seeds bad. At each hour it was held against what became of the seeds: alive are those that germinated,
normally or not, or were shown alive by cutting or tetrazolium; dead those found dead, empty or insect-damaged, and hard or fresh ones
shown dead. Seeds of which nobody knows were left out. Sensitivity, specificity and predictive values have Wilson's limits, with
the correction of Brown, Cai and DasGupta for shares next to 0 or 1, widened for the spread between dishes or batches where seeds had several. Youden's index is the share of the dead seeds that floated less
that of the live ones; its limits combine theirs (Newcombe). The test is said to tell something only at an hour at which both these
limits exclude 0 and Fisher's exact test finds a difference, with the confidence divided among all hours (Bonferroni).
""".strip(),
    sources=(
        Source(
            key="Turnbull 1976",
            text="Turnbull B.W. (1976). Journal of the Royal Statistical Society B 38:290–295.",
        ),
        Source(
            key="Brookmeyer and Crowley 1982",
            text="Brookmeyer R., Crowley J. (1982). Biometrics 38:29–41: limits of a median.",
        ),
        Source(
            key="Wilson 1927",
            text="Wilson E.B. (1927). Journal of the American Statistical Association 22:209–212.",
        ),
        Source(
            key="Brown, Cai and DasGupta 2001",
            text="Brown L.D., Cai T.T., DasGupta A. (2001). Statistical Science 16:101–133: Wilson's interval near 0 and 1.",
        ),
        Source(key="Youden 1950", text="Youden W.J. (1950). Cancer 3:32–35."),
        Source(
            key="Fisher 1935",
            text="Fisher R.A. (1935). Journal of the Royal Statistical Society 98:39–82.",
        ),
        Source(
            key="Newcombe 1998",
            text="Newcombe R.G. (1998). Statistics in Medicine 17:873–890: method 10.",
        ),
    ),
    tables={
        "seeds": Further(
            title="Each seed in water",
            one_row_is="one seed that was seen to float or to sink",
            columns={
                **SEED,
                "looks": Meaning("How often it was looked at, up to the radicle."),
                "last_seen_floating_h": Meaning(
                    "Last look at which it floated; empty where it never did.", "h"
                ),
                "sunk_by_h": Meaning(
                    "First look after that, at which it had sunk for good; empty where it floated to the end.",
                    "h",
                ),
                "came_up_again": Meaning("Whether it sank and came up again: yes or no."),
                "fate": Meaning("alive or dead, as shown later; empty where nobody knows."),
            },
        ),
    },
)
