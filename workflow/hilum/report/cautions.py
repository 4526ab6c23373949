"""Cautions in plain words, tied to the treatments of a study; they defer to training and local rules."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from hilum.report.results import Row


@dataclass(frozen=True, kw_only=True)
class Hazard:
    """One hazard: the methods of treatments.csv that bring it, what to mind, and whether it is for trained people alone."""

    name: str
    title: str
    methods: frozenset[str]
    short: str
    text: str
    trained: bool = False


HAZARDS = (
    Hazard(
        name="acid",
        title="Acid",
        methods=frozenset({"acid"}),
        trained=True,
        short="Acid burns skin and eyes: only trained people under supervision, with the protection that its "
        "safety data sheet names. Dry seeds and dry tools only: concentrated acid boils up and spits where water meets it. "
        "Under a fume hood, with running water and an eye wash within reach. Drain all acid off the seeds before they are "
        "rinsed, at once, in plenty of cold water. Who dilutes pours acid into water, never the reverse. Try a small sample "
        "first, and leave no bath alone.",
        text="Strong acid burns skin and eyes, and its fumes harm the lungs. It is for people trained in it, "
        "never alone, under a fume hood, with the goggles or face shield, gloves and apron that the supplier's "
        "safety data sheet names. **Pour acid into water, never water into acid.** Concentrated acid heats and spits where "
        "it meets water: put dry seeds with dry, acid-proof tools into a dry vessel, keep solvents and anything that burns "
        "away, and stay with the bath until it is done, however long. Drain the acid off the seeds first, then rinse them at "
        "once in plenty of cold running water for several minutes, until an indicator paper shows no acid, before anyone "
        "touches them. Have running water and an eye wash within reach: on skin or in an eye, rinse at once and for a "
        "quarter of an hour at least, and see a doctor. Treat a small sample of each lot first. Neutralise and dispose of what "
        "is left by your local rules; this page is no leave to pour anything down a drain. (Common practice; "
        "handbooks differ, and the safety data sheet of your acid comes first.)",
    ),
    Hazard(
        name="chemicals",
        title="Solvents, growth regulators and other agents",
        methods=frozenset({"growth_regulator", "other"}),
        short="Read the supplier's safety data sheet of the agent first; gloves, ventilation, no flame near "
        "solvents.",
        text="Read the supplier's safety data sheet of every agent before it is opened, also of the solvent "
        "that it came in. Gloves and goggles, good ventilation, no flame or spark near a solvent, nothing "
        "to eat or drink in the room. Label every vessel with its content and date. Dispose of it by your local rules.",
    ),
    Hazard(
        name="heat",
        title="Hot water and dry heat",
        methods=frozenset({"hot_water", "dry_heat"}),
        short="Hot water, steam and hot trays scald: insulated gloves, a steady surface, no open cup carried "
        "about.",
        text="Hot water, steam and hot trays scald. Work on a steady surface with insulated gloves and goggles, "
        "carry no open vessel of hot water about, and let things cool before you open them. Never leave a bath "
        "or an oven with plant material in it unattended.",
    ),
    Hazard(
        name="blades",
        title="Blades, files and abrasives",
        methods=frozenset({"chipping", "filing", "sandpaper"}),
        short="A hard seed slips under a blade: hold it in a clamp, never in the fingers, cut away from the "
        "hand, and wear goggles.",
        text="A hard seed slips, and the blade finds the finger. Hold the seed in a clamp or in forceps, never "
        "in the fingers, cut away from the hand, and wear goggles, since chips fly. The dust of seed coats can "
        "irritate and bring allergies: sand wet or under a hood, with a dust mask. Blades go into a sharps box.",
    ),
    Hazard(
        name="cold",
        title="Freezing and liquid nitrogen",
        methods=frozenset({"freeze_thaw"}),
        trained=True,
        short="Deep cold burns, and boiling nitrogen takes the air from a room: trained people only, in a "
        "ventilated room.",
        text="Deep cold burns the skin, frozen seeds and vessels can burst, and boiling nitrogen displaces the "
        "air of a room without a smell. It is for trained people with cryogenic gloves, a face shield and a "
        "ventilated room, by your institution's rules.",
    ),
)
RELEASE = Hazard(
    name="release",
    title="Sowing and planting out",
    methods=frozenset(),
    short="Seed that germinates well can also spread. Before anything is sown outdoors, ask the authority for nature "
    "protection: many places need a permit, demand seed of local origin, or forbid the species.",
    text="Seed that germinates well can also spread. Before plants go into open land or water, ask the authority for "
    "nature protection: many places need a permit, demand seed of local origin, or forbid the species. Do not let trial "
    "plants seed themselves, and destroy what is left over so that it cannot grow.",
)


def _harmless(row: Row) -> bool:
    """Return whether a step of its own kind is only water, as rinsing and soaking are."""
    return row["method"] == "other" and "water" in row.get("agent", "").lower()


def hazards_of(treatments: Iterable[Row], *, outdoors: bool = False) -> tuple[Hazard, ...]:
    """Return the hazards that the methods of these treatments bring, and that of sowing outdoors, in a fixed order."""
    methods = {row["method"] for row in treatments if not _harmless(row)}
    found = tuple(hazard for hazard in HAZARDS if hazard.methods & methods)
    return (*found, RELEASE) if outdoors else found
