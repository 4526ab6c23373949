"""The room that a plan has: chambers, shelves, places on them, and the baths that seeds are treated in."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, Field

from hilum.plan.asked.material import Part
from hilum.tables.experiment import zone


def _a_zone(name: str) -> str:
    if zone(name) is None:
        raise ValueError("no such time zone; write a name such as Europe/Lisbon, or +02:00")
    return name


TimeZone = Annotated[str, AfterValidator(_a_zone)]


class Room(Part):
    """Where dishes stand, and in how many baths, ovens or jars the seeds of one treatment are treated."""

    chambers: Annotated[
        int,
        Field(
            ge=1,
            le=20,
            description="Chambers at one temperature. An experiment over temperatures has a key of its own, which may ask for more.",
        ),
    ] = 1
    shelves: Annotated[
        int,
        Field(
            ge=1,
            le=50,
            description="Shelves of each chamber. Each lot and treatment stands once on every shelf, as far as its dishes go, in an "
            "order that is drawn: shelves differ in light and warmth.",
        ),
    ] = 1
    positions: Annotated[
        int | None,
        Field(
            ge=1,
            le=1000,
            description="Dishes that one shelf has room for; without it, as many as come to stand there.",
        ),
    ] = None
    baths: Annotated[
        int,
        Field(
            ge=1,
            le=20,
            description="Baths, ovens or jars in which the seeds of one treatment are treated, a share of its dishes from each. With "
            "one, what an accident of the bath does and what the treatment does cannot be told apart.",
        ),
    ] = 1
