"""Imbibition: whether water gets into the seeds."""

from hilum.analyses import Analysis, Source
from hilum.analyses.further import SEED, Further, Meaning
from hilum.analyses.quantities import FRACTION

ANALYSIS = Analysis(
    title="Imbibition",
    question="Does water get into the seeds, and which treatments opened the coat?",
    needs=("weighings",),
    uses=("treatments", "lots"),
    headlines=("impermeable_fraction", "half_time", "plateau_uptake", "initial_rate"),
    method=r"""
Seeds were weighed dry and while they soaked; uptake is $100\,(m_t - m_0)/m_0$ on the mass before soaking, after any
scarification. Weighings from the first sight of the radicle on were not used. A mixture over the seeds of the
experiment had three kinds of seed: impermeable (only a surface film, which differs between treatments),
imbibing from the start, and imbibing late, with an onset at any time up to the last weighing. A seed of true mass before soaking
$\mu$ weighed $\mu(1 + f + A\,S(t - t_0))$ plus the error of the balance, which the weighing of the dry seed has as well;
$f$ is the film, $A$ the final uptake, $t_0$ the onset, and $S$ an exponential or a Peleg curve, with or without a lag.
That error was taken to be about one step of the balance. Where seeds lost more than twice what step and film explain from
one weighing to the next, it was also taken to be the median loss over 0.95 (that of two normal readings whose $\sigma$ is 1),
and the guess that explains all weighings better was kept.
True mass, final uptake and speed differed between seeds; speeds entered by the tangent at each seed's best value. The
curve was chosen by AIC on the seeds that surely began to imbibe together. One last weighing in twenty may have
carried a drop that blotting missed.

Parameters have weak prior distributions (film 2 %, final uptake 110 %, half-time 8 h, each known only to a
factor, and a seed mass that varies by 16 %), and differ between treatments or lots as far as the data say so. A seed's
probability of being impermeable is an average over 64 draws of all parameters around the posterior mode, weighted by
the posterior density, and over the impermeable fraction of its lot and treatment with Jeffreys' prior; the limits of
that fraction are quantiles of the same average, or mid-P limits on the expected number of impermeable seeds, whichever are
wider. Where seeds came in several batches, Wilson's limits widened for the spread between batches are used if they are
wider. The limits of an onset are those of late seeds alone, and reach down to the start unless that is improbable: what
is so of most seeds must not hide the few that differ. A seed is
called impermeable or imbibed when the probability reaches {{ settings.confidence | number("fraction") }}, otherwise uncertain. Half-time, initial
rate and plateau have $t$ limits on the logarithm, with the disagreement of the candidate curves added by their Akaike
weights. The smallest detectable gain is $3.29$ standard deviations of an impermeable seed's gain: 5 % false alarms,
5 % missed.

Of seeds weighed together only a fraction can be told, as the ratio of their gain to that of opened seeds of the same
lot, each less a film.
""".strip(),
    sources=(
        Source(
            key="Peleg 1988",
            text="Peleg M. (1988). Journal of Food Science 53:1216–1219.",
            doi="10.1111/j.1365-2621.1988.tb13565.x",
            from_memory="",
        ),
        Source(
            key="Currie 1968",
            text="Currie L.A. (1968). Analytical Chemistry 40:586–593: limits of detection.",
        ),
        Source(
            key="Brown, Cai and DasGupta 2001",
            text="Brown L.D., Cai T.T., DasGupta A. (2001). Statistical Science 16:101–133: Jeffreys' interval.",
        ),
        Source(
            key="Lancaster 1961",
            text="Lancaster H.O. (1961). Journal of the American Statistical Association 56:223–234: mid-P limits.",
        ),
        Source(
            key="Buckland et al. 1997",
            text="Buckland S.T., Burnham K.P., Augustin N.H. (1997). Biometrics 53:603–618: "
            "variance with Akaike weights.",
        ),
        Source(
            key="Lindstrom and Bates 1990",
            text="Lindstrom M.J., Bates D.M. (1990). Biometrics 46:673–687: tangents at each unit's best value.",
        ),
    ),
    tables={
        "seeds": Further(
            title="Each seed that was weighed",
            one_row_is="one seed that was weighed by itself",
            columns={
                **SEED,
                "p_impermeable": Meaning(
                    "Probability that no water got in by the last weighing.", FRACTION
                ),
                "call": Meaning(
                    "impermeable or imbibed where that is as probable as the confidence asks, else uncertain."
                ),
                "onset_h": Meaning(
                    "When water began to get in; 0 is from the start, empty where it may not have.",
                    "h",
                ),
                "onset_low_h": Meaning(
                    "Lower limit of the onset; 0 unless the start is improbable.", "h"
                ),
                "onset_high_h": Meaning("Upper limit of the onset, if the seed was late.", "h"),
                "uptake_pct": Meaning(
                    "Uptake at the last weighing, of the mass before soaking.", "%"
                ),
            },
        ),
    },
)
