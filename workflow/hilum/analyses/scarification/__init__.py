"""Scarification: how long, how strong, and what harm it does."""

from hilum.analyses import Analysis, Source

ANALYSIS = Analysis(
    title="Dose of scarification",
    question="How long or how strong a treatment opens coats without harming the seeds?",
    needs=("dishes", "outcomes"),
    uses=("counts", "events", "viability", "weighings"),
    headlines=("best_duration", "germination_at_best", "window_low", "window_high"),
    method=r"""
Treatments that differ in one number of one step (duration, strength, temperature, strokes) are doses of one series. Of
the seeds of a dish those that stayed hard and those that took up water were counted, and of the latter those that
germinated normally. Seeds take up water with the probability $p(x) = p_0 + (1 - p_0)\,o(x)$, where $o$ rises with log dose as
a logistic, and those that did germinate with the probability $[p_0 v_0 + (p - p_0) v_1]\,S(x)/p$: seeds permeable by
nature and opened ones have viabilities of their own ($v_0$, $v_1$), and $S$, a falling logistic of log dose, is the share unharmed.
Seeds opened by hand have $o = S = 1$. Both binomial likelihoods were maximised together; normal terms that
weigh less than one seed held parameters of which the data say nothing. The best dose has the highest share of normally germinated
seeds of those sown; its window is where that share is within 0.05 of the best.

Effects of the dish, or of the bath where treatments had several, on the logit of either probability were estimated by moments, pooled
over the series of the experiment. Intervals are profile likelihood intervals at the wider of two thresholds: from these
effects, and from the cluster-robust CR2 variance with the degrees of freedom of Bell and McCaffrey. Without any replicate a
correlation of {{ settings.dish_correlation_when_unknown | number }} was assumed.

Harm is dead seeds and abnormal seedlings beyond those that the lot has anyway: of a dose that opens the share $\lambda = 1 - H/H_0$
of the closed coats ($H$ hard seeds, $H_0$ untreated) it was their share of the seeds sown less $(1 - \lambda)\,d_0 + \lambda\,r$, with
$d_0$ that of untreated seeds and $r$ that of seeds opened by hand, or the dead of a viability test. Its limits combine
those of the terms (Zou and Donner). Death inside a seed that stayed hard was not counted.
""".strip(),
    sources=(
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
