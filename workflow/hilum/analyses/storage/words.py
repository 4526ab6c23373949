"""The sentences of this analysis: why there is no figure of how long seed keeps, and what would settle it."""

from __future__ import annotations

from typing import Literal

from hilum.analyses.condition import number
from hilum.analyses.quantities import DAYS_A_MONTH
from hilum.analyses.rounding import short, shown
from hilum.analyses.storage.stored import Kept

Outcome = Literal[
    "estimated",
    "far",
    "no_fall",
    "unsure",
    "rising",
    "low_start",
    "bent",
    "all_dead",
    "single_time",
    "not_assessed",
]
# from so many on months are told in whole ones
_WHOLE = 10.0
# a figure further off than this many times the longest storage tested is not claimed
FAR = 2.0
# nor is an upper limit further off than this many times
OPEN = 5.0
# two years are 730 days to those who test, and 730.5 to the calendar
NEARLY = 1.02
# with more seeds than this of which nobody knows no value is claimed
VAGUE = 0.05
CUT = (
    "Cut or stain the hard and fresh seeds that are left at the end of each test, and enter in outcomes.csv how many "
    "were alive: nobody knows that of {share} of the seeds."
)


def span(days: float) -> str:
    """Return days of storage as people think of them: `45 d`, `18 months`."""
    if days < 2 * DAYS_A_MONTH:
        return f"{short(days)} d"
    months = days / DAYS_A_MONTH
    return f"{shown(months) if months >= _WHOLE else short(months, 2)} months"


def needs(outcome: Outcome, kept: Kept) -> str:
    """Return why there is no figure, and what would settle it; empty where there is one."""
    last = span(kept.last)
    first = span(kept.times[0]) if kept.times else ""
    return {
        "estimated": "",
        "far": f"It lies further off than {number(FAR)} times the {last} that were tested, where the curve is a guess. "
        "Keep enough seed in the store and test it again.",
        "no_fall": f"No loss was seen yet: within {last} as many seeds stayed alive as before, as far as these tests can tell. "
        "Keep enough seed in the store, and test it again after twice that time.",
        "unsure": "The seeds seem to die, but too few dishes or samples were tested, or they differ too much, to say how late half of "
        "them will be dead. Test more dishes at each time, early and late.",
        "rising": "More seeds were alive late than early, which no seed can do. Perhaps the early samples were poor ones, or living "
        "seeds were taken for dead: cut or stain what does not germinate, and test a new sample before storage.",
        "low_start": "Less than half of the seeds were alive before storage, so that there is no time after which half of them are.",
        "bent": "The seeds do not die as a probit says: their shares lie further from the curve than samples of one time from each "
        "other. Some may never die in this time, or the store changed. Go by the shares seen at each test, and test more often where "
        "they fall.",
        "all_dead": f"All seeds were dead at the first test, after {first}: when they died cannot be told. "
        + (
            "Test earlier, the first time before storage."
            if kept.times and kept.times[0] > 0
            else "They were dead before they were stored: look for what killed them in the treatment or in the lot."
        ),
        "single_time": f"There is one storage time alone, {first}; a fall needs two or more, better five, the first before "
        "storage. Rows of one store must name the same temperature and moisture.",
        "not_assessed": "No test tells how many seeds were alive after how long. Enter stored_d (0 before storage), and what is "
        "left of each dish in outcomes.csv.",
    }[outcome]


def untested(kept: Kept) -> str:
    """Return why no share is claimed so long after the last test."""
    return (
        f"It lies further off than {number(FAR)} times the {span(kept.last)} that were tested: what is sure is that no more "
        "seeds will be alive then than at the last test."
    )
