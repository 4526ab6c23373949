"""Storage: how long treated seed keeps."""

from hilum.analyses import Analysis, Source

ANALYSIS = Analysis(
    title="Keeping in store",
    question="How long does seed keep after the treatment?",
    needs=(("viability", "dishes"),),
    uses=("counts", "events", "outcomes"),
    headlines=(
        "half_viability_period",
        "p85",
        "ki",
        "sigma",
        "predicted_viability",
        "viability",
        "half_viability_ratio",
    ),
    method=r"""
Seed of each lot and treatment was tested after different times in one store. Alive are the seeds that germinated, normally or not, and
those that stayed hard or fresh and were shown alive, of all seeds but lost ones; or those alive in a viability test. Their number in a
dish or sample after $p$ days was taken as binomial with the probability $\Phi(K_i - p/\sigma)$: the seeds of a lot die at ages that are
normal with the standard deviation $\sigma$, and $K_i$ is the probit of the share alive before storage. The likelihood was maximised
with normal terms that weigh less than two seeds. The half-viability period is $K_i\,\sigma$; after the time p85
the share alive is 0.85 of $\Phi(K_i)$.

Intervals hold all that a figure can be where the likelihood ratio stays below the wider of two thresholds: from effects of
dishes, estimated by moments and pooled over the experiment, and from the cluster-robust CR2 variance with the degrees of freedom
of Bell and McCaffrey. Where the shares alive at the storage times surely (by F) lay further from the curve than dishes of one time
from each other, or bent away from it (by the score of a square of time), nothing was taken from it; such tests see large departures alone. Dishes alone at their times showed it by their distance from the curve; with hardly more dishes than parameters a
correlation of {{ settings.dish_correlation_when_unknown | number }} was assumed. Seeds left hard or fresh that nobody looked at were taken as dead, as alive, and as alive early or late alone; an interval holds
all four, and with more than one such seed in twenty no value is given. Nor is one given that lies further off than twice the longest
storage tested, or whose upper limit lies further off than five times, and a figure without an upper limit is a lower limit. Ratios of half-viability periods combine the limits
of both on the logarithm (Zou and Donner). Shares alive at each time have Wilson's limits, widened for the spread between dishes.

Lines of crops follow the published viability equation, $\log_{10}\sigma = K_E - C_W \log_{10} m - C_H t - C_Q t^2$, with moisture $m$
(% of the fresh weight), temperature $t$ (°C) and the constants of each crop, from the start of the seeds here. It was found to hold from 5 to
25 % and from −20 to 90 °C.
""".strip(),
    sources=(
        Source(
            key="Ellis and Roberts 1980",
            text="Ellis R.H., Roberts E.H. (1980). Annals of Botany 45:13–30: the viability equation, and the constants of barley.",
            from_memory="volume, pages, equation and constants",
        ),
        Source(
            key="Ellis and Roberts 1981",
            text="Ellis R.H., Roberts E.H. (1981). Seed Science and Technology 9:373–409: the constants of onion.",
            from_memory="volume, pages and constants",
        ),
        Source(
            key="Ellis, Osei-Bonsu and Roberts 1982",
            text="Ellis R.H., Osei-Bonsu K., Roberts E.H. (1982). Annals of Botany 50:69–82: the constants of soybean.",
            from_memory="volume, pages and constants",
        ),
        Source(
            key="Bell and McCaffrey 2002",
            text="Bell R.M., McCaffrey D.F. (2002). Survey Methodology 28:169–181.",
        ),
        Source(
            key="Zou and Donner 2008",
            text="Zou G.Y., Donner A. (2008). Statistics in Medicine 27:1693–1702.",
        ),
    ),
)
