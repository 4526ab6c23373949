"""Time course: how many seeds germinate, and how fast."""

from hilum.analyses import Analysis, Source
from hilum.analyses.further import CONDITION, LOT, TEMPERATURE, TREATMENT, Further, Meaning

ANALYSIS = Analysis(
    title="Time course of germination",
    question="How many seeds germinated, how fast, and does a treatment change that?",
    needs=("dishes", "counts"),
    uses=("events", "outcomes", "weighings"),
    headlines=(
        "t10",
        "t50",
        "t90",
        "germinable_fraction",
        "germinated",
        "difference",
        "time_ratio",
    ),
    method=r"""
Seeds that germinated between two inspections were counted as just that. The fraction germinated by time $t$ was
$F(t) = G\,F_0((\ln t - \ln t_{50})/\sigma)$ with the germinable fraction $G$: seeds that never germinate are a part of the
sample, not late ones. The log-logistic, log-normal and Weibull families were fitted by maximum likelihood on the
counts, and the one of lowest AIC was kept for the whole experiment, the likelihood scaled for the spread between
dishes. A germinable fraction was given as a number only where 95 % of the germinable seeds had surely
germinated at the last inspection, or every seed had; else as a bracket.

Dishes differ more than a binomial. A random effect of the dish on log time and one on $\operatorname{logit} G$ were estimated by
moments from the dish scores, pooled over the experiment; intervals of times, slope and germinable fraction
are profile likelihood intervals at the threshold $c\,t^2_\nu$, where $c$ is the variance with dish effects over the
variance without, or by the cluster-robust CR2 variance with the degrees of freedom of Bell and McCaffrey,
whichever is wider; with two dishes the pooled effects alone count, at the pool's own degrees of freedom. Where no
curve has two dishes, or a single pair looks more alike than that, an intra-dish correlation of {{ settings.dish_correlation_when_unknown | number }} was assumed, and
two and a half times that for log times, and the interval says so.
Standard errors are those of the likelihood, with seeds taken as independent.

Final fractions have Wilson intervals, with the correction of Brown, Cai and DasGupta where only a few seeds have the property or lack it,
their differences Newcombe's, both widened for the intra-dish correlation of a beta-binomial; equivalence was tested by two one-sided tests with a margin of {{ settings.equivalence_margin | number("fraction") }}. Ratios of $t_{50}$ combine both profile intervals (Zou and
Donner). $p$ values are Holm-adjusted within each lot, temperature and condition.
Where dishes cross two or more factors completely, main effects and interactions of final germination were tested by an
analysis of deviance, $F$ over the mean deviance between dishes of one combination. Seeds lost or taken as
samples were followed until then (Kaplan and Meier); dead seeds stayed in the denominator. Indices of the seeds that
germinated (Coolbear et al., Farooq et al., Kotowski, Maguire, Ranal and Santana) were computed dish by dish by their published definitions; the $t$ interval of the germination
speed index, a sum over seeds, was taken on its cube root. Replicates were held against the tolerances of
7 CFR 201.55(a), or against theory (Miles) for other numbers of seeds from ten on. Each dish was held against the curve of its group
by two residuals, divided by $\sqrt{1 - h}$ for the part $h$ that the dish has in the curve, seeds taken as independent: the
quantile residual of the number germinated, at the middle of its binomial chance (Dunn and Smyth), and the standardised
mean place of the germinated seeds in the fitted distribution of their times, by ridits (Bross).
""".strip(),
    sources=(
        Source(
            key="Ritz et al. 2013",
            text="Ritz C., Pipper C.B., Streibig J.C. (2013). European Journal of Agronomy 45:1–6.",
            doi="10.1016/j.eja.2012.10.003",
            from_memory="",
        ),
        Source(
            key="Bell and McCaffrey 2002",
            text="Bell R.M., McCaffrey D.F. (2002). Survey Methodology 28:169–181.",
        ),
        Source(
            key="Brown, Cai and DasGupta 2001",
            text="Brown L.D., Cai T.T., DasGupta A. (2001). Statistical Science 16:101–133: Wilson's interval near 0 and 1.",
        ),
        Source(
            key="Newcombe 1998",
            text="Newcombe R.G. (1998). Statistics in Medicine 17:873–890.",
        ),
        Source(
            key="Zou and Donner 2008",
            text="Zou G.Y., Donner A. (2008). Statistics in Medicine 27:1693–1702.",
        ),
        Source(key="Holm 1979", text="Holm S. (1979). Scandinavian Journal of Statistics 6:65–70."),
        Source(
            key="Kaplan and Meier 1958",
            text="Kaplan E.L., Meier P. (1958). Journal of the American Statistical Association 53:457–481.",
        ),
        Source(
            key="Ranal and Santana 2006",
            text="Ranal M.A., Santana D.G. de (2006). Revista Brasileira de Botânica 29:1–11.",
        ),
        Source(
            key="Coolbear et al. 1984",
            text="Coolbear P., Francis A., Grierson D. (1984). Journal of Experimental Botany 35:1609–1617: time to the middle seed.",
        ),
        Source(
            key="Farooq et al. 2005",
            text="Farooq M., Basra S.M.A., Ahmad N., Hafeez K. (2005). Journal of Integrative Plant Biology 47:187–193: time to half of the germinated seeds.",
        ),
        Source(
            key="Kotowski 1926",
            text="Kotowski F. (1926). Proceedings of the American Society for Horticultural Science 23:176–184: coefficient of velocity.",
        ),
        Source(
            key="Maguire 1962",
            text="Maguire J.D. (1962). Crop Science 2:176–177: germination speed index.",
        ),
        Source(
            key="7 CFR 201.55",
            text="United States Code of Federal Regulations, title 7, section 201.55(a): tolerances between replicates.",
            from_memory="",
        ),
        Source(
            key="Dunn and Smyth 1996",
            text="Dunn P.K., Smyth G.K. (1996). Journal of Computational and Graphical Statistics 5:236–244: residuals of dishes.",
        ),
        Source(
            key="Bross 1958",
            text="Bross I.D.J. (1958). Biometrics 14:18–38: residuals of dishes.",
        ),
    ),
    tables={
        "comparisons": Further(
            title="Chances of the differences",
            one_row_is="one pair of treatments of a lot at one temperature and condition",
            columns={
                "lot": LOT,
                "treatment": TREATMENT,
                "versus": Meaning("The treatment that this one is compared with."),
                "temperature_c": TEMPERATURE,
                "condition": CONDITION,
                "p_difference": Meaning("Holm-adjusted p of equal final germination."),
                "p_time_ratio": Meaning(
                    "Holm-adjusted p of equal t50; empty where a t50 is not known well enough."
                ),
            },
        ),
        "factors": Further(
            title="Crossed factors",
            one_row_is="one main effect or interaction on final germination",
            columns={
                "term": Meaning("The factor, or the factors of the interaction."),
                "factors": Meaning("How many factors: 1 is a main effect."),
                "deviance": Meaning("Deviance that the term explains."),
                "degrees_of_freedom": Meaning("Degrees of freedom of the term."),
                "f": Meaning(
                    "Deviance over its degrees of freedom, divided by the mean deviance between dishes."
                ),
                "dish_degrees_of_freedom": Meaning("Degrees of freedom between dishes."),
                "p": Meaning("Chance of an F at least as large if the term did nothing."),
            },
        ),
    },
)
