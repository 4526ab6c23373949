"""The sentences of this analysis: why there is no best dose, and what would settle it."""

from __future__ import annotations

from typing import Literal

from hilum.analyses.condition import number
from hilum.analyses.scarification.sown import Sown

Outcome = Literal[
    "estimated",
    "open_above",
    "open_below",
    "above",
    "below",
    "too_few_doses",
    "not_assessed",
    "not_closed",
    "not_opened",
    "none_germinated",
    "all_dead",
]
NO_REFERENCE = (
    "Open seeds of the same lot by hand and sow them beside the others: without them, seeds that the treatment "
    "killed cannot be told from seeds that were dead before."
)
NO_PLAIN = (
    "Sow untreated seeds of the same lot beside the others: without them it is not known how many coats the "
    "treatment opened, nor how many dead seeds were there to be seen."
)


def needs(outcome: Outcome, sown: Sown) -> str:
    """Return why there is no figure of the best dose, and what would settle it; empty where there is one."""
    doses, unit = sown.doses, sown.series.unit
    lowest = f"{number(round(doses[0], 3))} {unit}" if doses else ""
    highest = f"{number(round(doses[-1], 3))} {unit}" if doses else ""
    return {
        "estimated": "",
        "open_above": f"The best may lie beyond the highest dose tried. Add a dose above {highest}.",
        "open_below": f"The best may lie anywhere below. Add doses below {lowest}.",
        "above": f"The best lies outside what was tried: germination still rises at {highest}. Add doses above it.",
        "below": f"The best lies outside what was tried: germination falls from {lowest} on. Add doses below it.",
        "too_few_doses": f"A best dose needs four different doses or more, untreated seeds among them; "
        f"{len(doses) + bool(sown.of('untreated'))} can be used here. Add doses between and beyond them.",
        "not_assessed": "No dish tells what its dose did: nobody looked at the seeds that were left, or they were opened or moved "
        "during the test. Enter what is left at the end in outcomes.csv as hard, fresh or dead: without that, a closed coat "
        "cannot be told from a dead seed.",
        "not_closed": "So few of the untreated seeds here were hard that no dose can show what it opens. Look for another cause.",
        "not_opened": f"No dose opened coats: as many seeds stay hard as without treatment. Try more than {highest}, "
        "or open seeds by hand.",
        "none_germinated": "No treated seed germinated normally. Cut the fresh seeds to see whether they are alive, and "
        "try hand-opened seeds at another temperature before more doses.",
        "all_dead": f"Every dose killed the seeds that it opened. Try doses well below {lowest}, and stop at the first that "
        "leaves coats thin.",
    }[outcome]
