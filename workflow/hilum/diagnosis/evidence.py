"""What a diagnosis rests on, in words, with the experiment that each part comes from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from hilum.analyses.rounding import percent
from hilum.diagnosis.counted import DEAD, FRESH, HARD, Group
from hilum.diagnosis.gather import Dish
from hilum.diagnosis.references import References
from hilum.diagnosis.words import place_of


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
        from_where = _experiments(known.dead.group) if known.dead.group else []
        says = f"dead before any treatment, by {known.dead.shown_by}: {_dead(known)}"
        found.append(Evidence(from_where[0] if len(from_where) == 1 else "", says))
    if known.hard_alive is not None:
        says = f"{percent(known.hard_alive.value)} of the hard seeds that were opened or cut were alive"
        found.append(Evidence("", says))
    for other, why in ((known.elsewhere, "elsewhere"), (known.released, "after a dormancy break")):
        if other is not None:
            share, where = other.total("germinated") / other.seeds, _experiments(other)
            says = f"{why} ({_seeds_of(other)}) {percent(share)} germinated"
            found.append(Evidence(where[0] if len(where) == 1 else "", says))
    return found


def _experiments(group: Group | None) -> list[str]:
    return list(group.by_experiment) if group else []


def _seeds_of(group: Group) -> str:
    """Return which seeds a figure of another group is of: place and treatment, and what else its reader must know."""
    return ", ".join(
        [
            _place(group),
            group.treatment,
            *(
                [f"{len(_experiments(group))} experiments together"]
                * (len(_experiments(group)) > 1)
            ),
            *(["each dish at its own last look"] * group.ends_differ),
            *([f"{group.lost:g} lost or sampled seeds left out"] * (group.lost > 0)),
        ]
    )


def _place(group: Group) -> str:
    return place_of(*group.place) or "no temperature given"


def _dead(known: References) -> str:
    assert known.dead is not None  # noqa: S101
    least, most = known.dead.least.value, known.dead.most.value
    return percent(least) if most - least < 0.005 else f"{percent(least)} to {percent(most)}"


def _counted(group: Group, experiment: str) -> str:
    own = group.by_experiment[experiment]

    def total(*ends: str) -> float:
        return sum(dish.total(*ends) for dish in own)

    parts = [f"{total('germinated'):g} germinated"]
    if any(dish.scored and dish.total("germinated") < dish.seeds for dish in own):
        inside = total("hard_dead")
        found = f" ({inside:g} of them dead inside)" if inside else ""
        parts += [f"{total(*HARD):g} hard{found}", f"{total(*FRESH, 'fresh_dead'):g} fresh"]
        parts.append(f"{total(*(end for end in DEAD if end != 'fresh_dead')):g} dead or empty")
    if total("unscored"):
        parts.append(f"{total('unscored'):g} not scored")
    return f"{_sown(own)}: {', '.join(parts)}"


def _sown(dishes: Sequence[Dish]) -> str:
    """Return the dishes and their seeds in words; dishes of one seed are single seeds."""
    seeds = sum(dish.seeds for dish in dishes)
    if all(dish.seeds <= 1 for dish in dishes):
        return f"{seeds:g} single seed{'s' if seeds > 1 else ''}"
    many, lost = len(dishes), sum(dish.lost for dish in dishes)
    rest = f" ({lost:g} more were lost or sampled)" if lost else ""
    return f"{many} dish{'es' if many > 1 else ''}, {seeds:g} seeds{rest}"
