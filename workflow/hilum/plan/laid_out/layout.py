"""Where each dish of a plan stands: drawn, but so that no treatment has a shelf, a chamber or a bath to itself.

Dishes that stand at one temperature at the same time are laid out together. Each lot and treatment of an experiment stands
once on every shelf before it stands anywhere twice, chambers take the same share of it, and shelves fill evenly; which
shelf, where on it, which bath, and in which order dishes are filled, is drawn. The draws are seeded by the plan.
"""

from __future__ import annotations

import zlib
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from string import ascii_lowercase

import numpy as np

from hilum.plan.asked.design import Plan
from hilum.plan.asked.experiments import Place, Temperatures
from hilum.plan.asked.material import ONE_BY_ONE
from hilum.settings import SettingsFault


@dataclass(frozen=True, kw_only=True)
class Standing:
    """One dish: its name, what is in it, and where it stands; `shelf` and `position` count from 1.

    `batch` names its bath, empty where there is none. `stored_d` days pass between the treatment and its sowing, None where
    nobody asks; dishes are filled in the order of their names.
    """

    dish: str
    experiment: str
    lot: str
    treatment: str
    temperature_c: float
    stored_d: float | None
    seeds: int
    chamber: str
    shelf: int
    position: int
    batch: str

    @property
    def kind(self) -> tuple[str, str, str, float, float]:
        """Return what its replicates have in common."""
        return (self.experiment, self.lot, self.treatment, self.temperature_c, self.stored_d or 0.0)

    @property
    def place(self) -> tuple[str, int, int]:
        """Return where it stands: chamber, shelf and position."""
        return (self.chamber, self.shelf, self.position)


@dataclass(frozen=True)
class _Block:
    """A shelf of a chamber, and how many dishes it has room for."""

    chamber: str
    shelf: int
    room: float


def laid_out(plan: Plan) -> list[Standing]:
    """Return every dish of a plan where it stands, in the order of experiments and names; the same plan gives the same.

    Raises SettingsFault where the room that the plan names is too small.
    """
    standing: list[Standing] = []
    for degrees, days, places in _together(plan):
        rng = _generator(plan.seed, f"{degrees:g} °C after {days:g} d")
        busy = [s for s in standing if s.temperature_c == degrees and _still_there(plan, s, days)]
        standing += _stood(plan, degrees, places, busy, rng)
    return _named(plan, standing)


def _generator(seed: int, words: str) -> np.random.Generator:
    return np.random.default_rng([seed, zlib.crc32(words.encode())])


def _together(plan: Plan) -> Iterator[tuple[float, float, list[Place]]]:
    """Yield temperature, days before sowing, and the places whose dishes are put there at once."""
    found: dict[tuple[float, float], list[Place]] = {}
    for place in plan.places():
        found.setdefault((place.temperature_c, place.stored_d or 0.0), []).append(place)
    for (degrees, days), places in sorted(found.items(), key=lambda pair: pair[0]):
        yield degrees, days, places


def _still_there(plan: Plan, dish: Standing, days: float) -> bool:
    last = plan.counted[dish.experiment].inspections.last_d
    return (dish.stored_d or 0.0) + last > days


def _blocks(plan: Plan, degrees: float, places: Iterable[Place]) -> list[_Block]:
    """Return the shelves at a temperature."""
    wanted = [plan.counted[place.experiment] for place in places]
    chambers = max(
        one.chambers if isinstance(one, Temperatures) else plan.room.chambers for one in wanted
    )
    room = float("inf") if plan.room.positions is None else float(plan.room.positions)
    names = [f"c{degrees:g}{letter}" for letter in ascii_lowercase[:chambers]]
    names = names if chambers > 1 else [f"c{degrees:g}"]
    return [_Block(name, n + 1, room) for name in names for n in range(plan.room.shelves)]


def _stood(
    plan: Plan,
    degrees: float,
    places: Sequence[Place],
    busy: Sequence[Standing],
    rng: np.random.Generator,
) -> list[Standing]:
    blocks = _blocks(plan, degrees, places)
    taken = Counter((s.chamber, s.shelf) for s in busy)
    load = np.array([float(taken[b.chamber, b.shelf]) for b in blocks])
    room = np.array([block.room for block in blocks])
    many = sum(place.dishes for place in places)
    if load.sum() + many > room.sum():
        raise SettingsFault(
            f"room: {many} dishes come to stand at {degrees:g} °C{f', beside {len(busy)} others' if busy else ''}, but "
            f"{len(blocks)} shelves with {plan.room.positions} positions have room for {room.sum():g}; give more `shelves`, "
            "`positions` or `chambers`, or plan fewer dishes."
        )
    made: list[Standing] = []
    for number in rng.permutation(len(places)):
        place = places[number]
        for block, batch in zip(
            _spread(place.dishes, blocks, load, room, rng), _baths(plan, place, rng), strict=True
        ):
            made.append(_standing(plan, place, block, batch))
    return list(_positions(plan, blocks, made, busy, rng))


def _spread(
    dishes: int,
    blocks: Sequence[_Block],
    load: np.ndarray,
    room: np.ndarray,
    rng: np.random.Generator,
) -> list[_Block]:
    """Return the shelf of each dish of one kind, and add them to `load`.

    Each goes to the chamber with fewest of its kind, there to the shelf with fewest of it, among these to the emptiest, and
    among equals at random.
    """
    chambers = np.unique([b.chamber for b in blocks], return_inverse=True)[1]
    own, chosen = np.zeros(len(blocks)), []
    for _ in range(dishes):
        in_chamber = np.bincount(chambers, weights=own)[chambers]
        order = np.lexsort((rng.random(len(blocks)), load, own, in_chamber, load >= room))
        best = int(order[0])
        own[best] += 1
        load[best] += 1
        chosen.append(blocks[best])
    return chosen


def _baths(plan: Plan, place: Place, rng: np.random.Generator) -> list[str]:
    """Return the bath of each dish of one kind, as many from each."""
    if plan.by_name[place.treatment].method in ONE_BY_ONE:
        return [""] * place.dishes
    numbers = rng.permutation(np.arange(place.dishes) % plan.room.baths) + 1
    return [f"{place.treatment} bath {n}" for n in numbers]


def _standing(plan: Plan, place: Place, block: _Block, batch: str) -> Standing:
    return Standing(
        dish="",
        experiment=place.experiment,
        lot=place.lot,
        treatment=place.treatment,
        temperature_c=place.temperature_c,
        stored_d=place.stored_d,
        seeds=plan.counted[place.experiment].seeds,
        chamber=block.chamber,
        shelf=block.shelf,
        position=0,
        batch=batch,
    )


def _positions(
    plan: Plan,
    blocks: Sequence[_Block],
    made: Sequence[Standing],
    busy: Sequence[Standing],
    rng: np.random.Generator,
) -> Iterator[Standing]:
    """Yield the dishes with their places on the shelf, drawn from those that are free."""
    for block in blocks:
        here = (block.chamber, block.shelf)
        own = [s for s in made if (s.chamber, s.shelf) == here]
        taken = {s.position for s in busy if (s.chamber, s.shelf) == here}
        last = plan.room.positions or len(own) + len(taken)
        free = [p for p in range(1, last + 1) if p not in taken][: len(own)]
        for dish, position in zip(own, rng.permutation(free).tolist(), strict=True):
            yield replace(dish, position=position)


def _named(plan: Plan, standing: Sequence[Standing]) -> list[Standing]:
    """Return the dishes with names: numbers in an order that is drawn, so that neither filling nor counting follows treatments."""
    made = []
    for one in plan.experiments:
        own = [s for s in standing if s.experiment == one.experiment]
        order = _generator(plan.seed, f"names of {one.experiment}").permutation(len(own))
        # what is sown later is filled later
        drawn = sorted((own[i] for i in order), key=lambda s: s.stored_d or 0.0)
        digits = len(str(len(own)))
        made += [
            replace(s, dish=f"{one.experiment}-d{n:0{digits}d}") for n, s in enumerate(drawn, 1)
        ]
    return made


def confounded(plan: Plan, standing: Sequence[Standing]) -> list[str]:
    """Return in sentences what these dishes could not tell apart: temperature, treatment, and where seeds stood or were treated."""
    kinds: dict[tuple[str, str, str, float, float], list[Standing]] = {}
    for dish in standing:
        kinds.setdefault(dish.kind, []).append(dish)
    shelves: dict[tuple[float, float], set[tuple[str, int]]] = {}
    for dish in standing:
        here = (dish.temperature_c, dish.stored_d or 0.0)
        shelves.setdefault(here, set()).add((dish.chamber, dish.shelf))
    many = [own for own in kinds.values() if len(own) > 1]
    on_one_shelf = [own for own in many if len({s.place[:2] for s in own}) == 1]
    with_others = [own for own in on_one_shelf if len(shelves[own[0].kind[3:]]) > 1]
    in_one_bath = [own for own in many if own[0].batch and len({s.batch for s in own}) == 1]
    alone = [own for own in kinds.values() if len(own) == 1]
    told = [
        (
            with_others,
            "all dishes of a treatment stand on one shelf, so what the shelf does and what the treatment does cannot be told "
            "apart. Spread them over the shelves.",
        ),
        (
            in_one_bath,
            "all dishes of a treatment come from one bath, oven or jar, so an accident there and what the treatment does cannot "
            "be told apart. Treat the seeds in two or more (baths, under room).",
        ),
        (
            alone,
            "one dish stands for a treatment, so what its place does and what the treatment does cannot be told apart. Sow two "
            "dishes or more.",
        ),
    ]
    return [
        *_one_chamber(plan, standing),
        *(f"In {_seeds(plan, found)} {says}" for found, says in told if found),
    ]


def _one_chamber(plan: Plan, standing: Sequence[Standing]) -> Iterator[str]:
    for one in (e for e in plan.experiments if isinstance(e, Temperatures)):
        chambers: dict[float, set[str]] = {}
        for dish in (s for s in standing if s.experiment == one.experiment):
            chambers.setdefault(dish.temperature_c, set()).add(dish.chamber)
        alone = [f"{t:g}" for t, names in sorted(chambers.items()) if len(names) == 1]
        if alone and len(chambers) > 1:
            yield (
                f"In {one.experiment} one chamber stands for each temperature ({', '.join(alone)} °C), so what a chamber does "
                "and what its temperature does cannot be told apart; no figure here allows for it. Use two chambers at each "
                "(chambers: 2), or repeat the experiment with the temperatures exchanged between chambers."
            )


def _seeds(plan: Plan, found: Sequence[Sequence[Standing]]) -> str:
    """Return which treatments of which experiments are meant: `acid (acid-30, acid-60) and keeping (acid-30)`."""
    named: dict[str, set[str]] = {}
    for own in found:
        named.setdefault(own[0].experiment, set()).add(own[0].treatment)
    words = [
        f"{experiment} ({', '.join(name for name in plan.by_name if name in names)})"
        for experiment, names in named.items()
    ]
    return " and ".join(part for part in (", ".join(words[:-1]), words[-1]) if part)
