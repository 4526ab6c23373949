"""What a diagnosis rests on, in words, with the experiment that each part comes from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from hilum.analyses.rounding import percent
from hilum.diagnosis.counted import DEAD, FRESH, HARD, Group
from hilum.diagnosis.references import References


@dataclass(frozen=True)
class Evidence:
    """One piece of evidence; `experiment` is empty where it comes from several."""

    experiment: str
    says: str


def of_group(group: Group | None, known: References) -> list[Evidence]:
    """Return the evidence for a group: its own dishes first, then what it was compared with."""
    found = [Evidence(e, _counted(group, e)) for e in _experiments(group)] if group else []
    if known.weighed is not None:
        says = f"{percent(known.weighed.value)} of the weighed seeds took up no water"
        found += [Evidence(e, says) for e in known.weighed_in]
    if known.dead is not None:
        from_where = _experiments(known.dead.group) if known.dead.group else [""]
        says = f"dead before any treatment, by {known.dead.shown_by}: {_dead(known)}"
        found.append(Evidence(from_where[0], says))
    if known.hard_alive is not None:
        says = f"{percent(known.hard_alive.value)} of the hard seeds that were opened or cut were alive"
        found.append(Evidence("", says))
    for other, why in ((known.elsewhere, "elsewhere"), (known.released, "after a dormancy break")):
        if other is not None:
            share = other.total("germinated") / other.seeds
            says = f"{why} ({_place(other)}, {other.treatment}) {percent(share)} germinated"
            found.append(Evidence(_experiments(other)[0], says))
    return found


def _experiments(group: Group | None) -> list[str]:
    return list(dict.fromkeys(dish.experiment for dish in group.counted)) if group else []


def _place(group: Group) -> str:
    degrees, words = group.place
    warmth = "" if degrees == "nan" else f"{degrees} °C"
    return ", ".join(part for part in (warmth, words) if part) or "no temperature given"


def _dead(known: References) -> str:
    assert known.dead is not None  # noqa: S101
    least, most = known.dead.least.value, known.dead.most.value
    return percent(least) if most - least < 0.005 else f"{percent(least)} to {percent(most)}"


def _counted(group: Group, experiment: str) -> str:
    own = [dish for dish in group.counted if dish.experiment == experiment]

    def total(fates: Sequence[str]) -> str:
        return f"{sum(getattr(dish, fate) for dish in own for fate in fates):g}"

    many = len(own)
    text = f"{many} dish{'es' if many > 1 else ''}, {total(['seeds'])} seeds: {total(['germinated'])} germinated"
    if not group.assessed:
        return f"{text}, the others not scored"
    inside = total(["hard_dead"])
    found = f" ({inside} of them dead inside)" if inside != "0" else ""
    return f"{text}, {total(HARD)} hard{found}, {total(FRESH)} fresh, {total(DEAD)} dead or empty"
