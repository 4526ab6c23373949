"""Temperature: base temperature, thermal time, and where warmth stops helping."""

from hilum.analyses import Analysis, Source
from hilum.analyses.temperature.tables import TABLES

ANALYSIS = Analysis(
    title="Response to temperature",
    question="From which temperature on do the seeds germinate, and how much warmth do they need?",
    needs=("dishes", "counts"),
    uses=("events", "outcomes", "weighings", "chamber_log", "temperature_courses"),
    headlines=(
        "base_temperature",
        "thermal_time_50",
        "plateau_low",
        "plateau_high",
        "optimum_temperature",
        "ceiling_temperature",
        "t50",
        "predicted_at_constant",
        "predicted_along_course",
        "seeds_to_sow",
        "seeds_to_sow_along",
    ),
    method=r"""
One likelihood held the counts of all dishes at all temperatures. By time $t$ a fraction
$F(t) = G\,F_0(\ln(R(T)\,t)/\sigma)$ of the seeds had germinated, where $G$ is the germinable fraction, $F_0$ log-logistic,
log-normal or Weibull with its median at 0, and $R(T)$ the rate of the median germinable seed: seeds differ in the
thermal time that they need, and share the base. $R$ was *linear* above the base temperature $T_b$, *plateau* (linear up to a
temperature, then flat), *triangle* (falling to a ceiling beyond an optimum) or *trapezoid*. Seeds that germinated between
two inspections were counted as just that, and a temperature at which nothing germinated as its seeds still waiting.

In a further model seeds differ in their base temperature $b$ and share the thermal time $\theta$: $F(t) = G\,F_0((T - b_{50} -
\theta/t)/s)$, linear or with a plateau. Where its scaled AIC was lower by more than 2 than that of every other, the base
temperature is a bracket that holds the intervals of both: neither alone held the truth often enough where seeds differ in both.
Alternating temperatures acted by the mean of the rates over the day. Where the chamber was logged, hours were counted by the
rates at the logged temperatures, as hours at the chamber's mean temperature that would have brought the seeds as far.

Every stretch between two tested temperatures in which the curve could bend was fitted on its own. Families and
responses were compared by AIC, the likelihood scaled for the spread between dishes. A straight line, which through a plateau is
too flat, was held against the chosen curve that bends, or against a plateau, by the likelihood ratio scaled in the same way, at level 0.05. Whether one germinable fraction
serves for all temperatures at which seeds germinated was tested by the likelihood ratio, scaled in the same way (Rao and Scott
1981) and referred to $F$, at level 0.15; where it does not, each had its own. Where fewer than half of the germinable seeds had
time to germinate at the coolest of them no test can tell, and it had one of its own. Temperatures without germination share
the fraction of the nearest that had some; they were left out only if every curve contradicts them (level 0.01).

Intervals are profile likelihood intervals in which the quantity itself is a parameter, at the threshold $c\,t^2_\nu$: $c$ is
the variance with dish effects on log time and on $\operatorname{logit} G$, estimated by moments from the dish scores, over the
variance without, or the cluster-robust CR2 variance with the degrees of freedom of Bell and McCaffrey, whichever is
wider. A base temperature was given as a number only where two germinating temperatures lay on the rising limb in every
curve that the data allow, the profile was not flat, and its limits were not merely the coolest temperature that
germinated; else its interval is given as a bracket. The temperature to add is the one for which the
counts expected of as many seeds (Kullback and Leibler 1951) narrow that interval most. Where more than a tenth of the
seeds stayed hard no base temperature was given.

Where the base temperature is a number, germination was predicted at constant temperatures. The band of a predicted share holds
what it is along that line through the parameters on which it changes most for what the likelihood loses, as far as the same
threshold allows. It is for the mean of many dishes, takes the response as known, and holds the bands of all families within
2 AIC of the chosen one, with and without a fraction for the coolest where no test can tell. The seeds to sow are the fewest of which the wanted number ({{ settings.seedlings_wanted | join }}) germinates with {{ settings.sowing_confidence | number("fraction") }} probability: under a
beta-binomial whose correlation comes from the dish effects, averaged over the uncertainty of the share. Along a course of temperatures $R(T)\,t$ is the rate added up over its hours, counted at least
hourly with temperatures changing evenly between two readings; everything else is as at a constant temperature.

Beside the likelihood stands the classical line through the rates $1/t_g$ of the single dishes, for $g$ = 10 to 90 % of the germinable seeds,
with Fieller's interval of its base. Each dish was held against the curve by two residuals, divided by $\sqrt{1 - h}$ for its
part $h$ of the parameters, seeds taken as independent: the quantile residual of the number germinated, at the middle of its
binomial chance (Dunn and Smyth), and the standardised mean place of the germinated seeds in the fitted distribution of
their times, by ridits (Bross).
""".strip(),
    sources=(
        Source(
            key="Garcia-Huidobro et al. 1982",
            text="Garcia-Huidobro J., Monteith J.L., Squire G.R. (1982). Journal of Experimental Botany 33:288–296.",
            doi="10.1093/jxb/33.2.288",
            from_memory="",
        ),
        Source(
            key="Ellis et al. 1987",
            text="Ellis R.H., Simon G., Covell S. (1987). Journal of Experimental Botany 38:1033–1043.",
            doi="10.1093/jxb/38.6.1033",
            from_memory="",
        ),
        Source(
            key="Rao and Scott 1981",
            text="Rao J.N.K., Scott A.J. (1981). Journal of the American Statistical Association 76:221–230.",
        ),
        Source(
            key="Bell and McCaffrey 2002",
            text="Bell R.M., McCaffrey D.F. (2002). Survey Methodology 28:169–181.",
        ),
        Source(
            key="Kullback and Leibler 1951",
            text="Kullback S., Leibler R.A. (1951). Annals of Mathematical Statistics 22:79–86.",
        ),
        Source(
            key="Fieller 1954",
            text="Fieller E.C. (1954). Journal of the Royal Statistical Society B 16:175–185.",
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
    tables=TABLES,
)
