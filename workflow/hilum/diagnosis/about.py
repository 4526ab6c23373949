"""The diagnosis as the methods page tells it; it stands outside the registry, since it needs all experiments at once."""

from hilum.analyses import Source

TITLE = "Why seeds did not germinate"
METHOD = r"""
Fates were counted and causes inferred. Each seed sown germinated, or was hard, fresh, dead or empty, insect-damaged or mouldy;
seeds lost or taken as samples were left out, and seeds that nobody scored could have been any of these. Each seed that did not germinate has one cause: a closed coat, death before any treatment, harm
by the treatment, another dormancy, or the conditions. A cause explains at least the seeds that it alone can explain, and at
most all that it could. With $d$ the share of the lot that was dead before any treatment (by a viability test, or among seeds
opened by hand) and $D$ the share seen dead on the dish, $d - D$ of the seeds hide dead in closed coats where the treatment can do no harm; where
it can, between $d - D$ and the smaller of $d$ and the hard seeds that nobody opened. Closed coats explain the other hard seeds, and
harm what is dead beyond the dead that could have come to light. Fresh seeds waited for other conditions as far as more seeds of their lot and
treatment germinated elsewhere, and had another dormancy as far as more germinated after a dormancy break. Where a comparison was not made the
share is a range.

Limits are Wilson's, widened for one intra-dish correlation of the whole study, drawn towards
{{ settings.dish_correlation_when_unknown | number }} as if twelve further dishes had shown that. Those of fates are the ones of the experiment's own page. Those of causes were taken
at a confidence at which six shares hold at once (Bonferroni, {{ settings.confidence | number("fraction") }} together); sums and differences combine those of their terms (Zou and Donner). A cause was left out of those named only where another surely
explains more seeds.
""".strip()
SHEET_TITLE = "Lot sheets"
SHEET_METHOD = r"""
The mass of a thousand seeds is that of the untreated seeds weighed before soaking, in replicates of the one size in which most seeds were weighed,
with limits of Student's $t$; their coefficient of variation has the limits of a normal variance. Moisture was determined by
drying: the water lost, $m_b - m_a$, of the seeds as they were, $m_b - m_c$ (wet basis), and of their dry matter, $m_a - m_c$ (dry basis), with $m_c$ the container.
Dishes of a germination test agree where they lie no further apart than the published tolerance for 100-seed replicates, or, for other numbers from ten on,
than chance exceeds in 2.5 % of samples. Of eight replicates of 100 seeds a coefficient of variation of 4 % is tolerated, and of two determinations of moisture
a difference of 0.2 points (International Rules for Seed Testing, chapters 10 and 9).
""".strip()
SHEET_SOURCES = (
    Source(
        key="7 CFR 201.55",
        text="United States Code of Federal Regulations, title 7, section 201.55(a): tolerances between replicates.",
        from_memory="",
    ),
    Source(
        key="Miles 1963",
        text="Miles S.R. (1963). Proceedings of the International Seed Testing Association 28:525–686.",
    ),
)
SOURCES = (
    Source(
        key="Wilson 1927",
        text="Wilson E.B. (1927). Journal of the American Statistical Association 22:209–212.",
    ),
    Source(
        key="Zou and Donner 2008",
        text="Zou G.Y., Donner A. (2008). Statistics in Medicine 27:1693–1702.",
    ),
)
