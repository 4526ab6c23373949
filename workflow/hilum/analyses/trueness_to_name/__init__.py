"""Trueness to name: what measured traits tell of the taxon on a label, and what they cannot tell."""

from hilum.analyses import Analysis, Source
from hilum.analyses.further import LOT, Further, Meaning

_TAXON = Meaning("The taxon that the range was published for.")
_TRAIT = Meaning("The trait, as named in traits.csv.")
_PUBLISHED = Meaning("The published range with its unit, or the states that occur.")

ANALYSIS = Analysis(
    title="Trueness to name",
    question="Are these the seeds on the label?",
    needs=("traits",),
    uses=("reference_traits", "lots"),
    headlines=("outside_range",),
    method=r"""
Each measured trait was held against the range that was published for the taxon on the label and for the taxa that it is mistaken for;
a trait that is no number against the states that occur. Where several sources were given, the widest range and all their states were
used, and the ends of a range belong to it. Printed ends were taken to be rounded: a specimen counts as outside only half a printed step
beyond them, the step being that of the column rounded_to, else that of the decimals as typed. A range is no distribution: all that was assumed is that it covers at least
{{ settings.range_covers | number("fraction") }} of the specimens of its taxon. Then the number of specimens outside is at most
binomial, and the chance of as many or more outside if the lot were of that taxon was computed exactly, trait by trait. With all traits of a
taxon taken into account (Holm), a taxon was called not compatible where that chance was below
{{ (1 - settings.confidence) | number("fraction") }} for any of them, so that a true taxon is excluded wrongly in at most that share of
lots, whatever the traits have to do with each other. A taxon that is not excluded is compatible, and no more: nothing here says that a lot *is*
of a taxon. The share of the lot outside a range has exact limits (Clopper and Pearson). The share of the lot that lies between its smallest and its largest
specimen is a tolerance limit for any distribution (Wilks).

For taxa that were not told apart, the specimens needed were computed for each trait that is published of both: as many as exclude the one in
four samples of five if the lot is like the other, with specimens spread evenly over the range of that one. That is a guess for planning, and
no claim rests on it.
""".strip(),
    sources=(
        Source(
            key="Clopper and Pearson 1934",
            text="Clopper C.J., Pearson E.S. (1934). Biometrika 26:404–413: exact limits of a share.",
        ),
        Source(
            key="Holm 1979",
            text="Holm S. (1979). Scandinavian Journal of Statistics 6:65–70: several tests at once.",
        ),
        Source(
            key="Wilks 1941",
            text="Wilks S.S. (1941). Annals of Mathematical Statistics 12:91–96: tolerance limits for any distribution.",
        ),
    ),
    tables={
        "ranges": Further(
            title="Each trait against each taxon",
            one_row_is="one trait of a lot, held against what is published of one taxon",
            columns={
                "lot": LOT,
                "taxon": _TAXON,
                "trait": _TRAIT,
                "published": _PUBLISHED,
                "specimens": Meaning("Specimens of the lot of which the trait is known."),
                "outside": Meaning("Specimens outside the range, or with another state."),
                "below": Meaning("Specimens below the range; 0 for states."),
                "above": Meaning("Specimens above the range; 0 for states."),
                "p": Meaning("Chance of so many outside if the lot were of the taxon."),
                "p_adjusted": Meaning(
                    "The same with all traits of the taxon taken into account (Holm)."
                ),
                "excludes": Meaning("Whether this trait excludes the taxon: yes or no."),
                "source": Meaning("Where the range was published."),
            },
        ),
        "outside": Further(
            title="Specimens unlike the label",
            one_row_is="one trait of a specimen that lies outside what is published of the taxon on the label",
            columns={
                "specimen": Meaning("The specimen, as named in traits.csv."),
                "lot": LOT,
                "trait": _TRAIT,
                "measured": Meaning("What was measured, with its unit, or the state judged."),
                "published": _PUBLISHED,
            },
        ),
    },
)
