"""Figures of seeds that charts draw, list in their tables, say in their captions and read aloud."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from tests.consistency.built import Drawn
from tests.consistency.recount import Seeds
from tests.consistency.told import FATE_WORDS, Printed, Told, exact, printed, share_of

if TYPE_CHECKING:
    from tests.consistency.figures import Reader


def chart(reader: Reader, drawn: Drawn) -> Iterator[Told]:
    """Yield what a figure draws, lists, says below it and reads aloud."""
    figure, where = drawn.figure, f"{drawn.page}, {drawn.analysis} chart {drawn.figure.name}"
    among = reader.in_experiment(drawn.page, drawn.analysis)
    if drawn.analysis == "time_course" and figure.name.startswith("germination-"):
        lot = figure.title.removeprefix("Germination of ")
        yield from _course(reader, where, drawn.page, figure, [s for s in among if s.lot == lot])
    elif drawn.analysis == "time_course" and figure.name == "fates":
        yield from _fates(reader, where, drawn.page, figure, among)
    elif drawn.analysis == "temperature" and figure.name.startswith("germination-"):
        yield from _warmth(reader, where, drawn.page, figure, among)
    elif drawn.analysis == "scarification" and figure.name.startswith("fates-by-dose"):
        yield from _doses(reader, where, drawn.page, figure)
    elif drawn.analysis == "lot":
        yield from _causes(reader, where, figure)


def _course(
    reader: Reader, where: str, experiment: str, figure: Any, among: Sequence[Seeds]
) -> Iterator[Told]:
    last = {row["seeds"]: row["germinated"] for row in figure.rows}
    # the picture ends at the last look that the dishes of a group share
    hours = {"d": 24.0, "h": 1.0}[figure.units["time"]]
    ends_h = {row["seeds"]: hours * float(row["time"]) for row in figure.rows}
    told: list[tuple[str, str, Printed]] = [
        (name, "rows", Printed(float(share), 2)) for name, share in last.items()
    ]
    for row in drawn_rows(figure.spec):
        if row.get("kind") == "seen":
            name = ", ".join(p for p in (row["series"], row["panel"]) if p)
            told = [t for t in told if (t[0], t[1]) != (name, "drawn")]
            told.append((name, "drawn", exact(float(row["germinated"]))))
    finding = re.search(r"Germinated by the last inspection: (.*?)\.(?: |$)", figure.caption)
    ends = re.sub(r"^from | to (?=[^;]*%$)", ";", finding[1]) if finding else ""
    told += [(n, "caption", share_of(s)) for n, s in re.findall(r"([^;]+?) ([\d.]+ %)", ends)]
    told += [
        (n, "description", share_of(s))
        for n, s in re.findall(r"(?:\. |; )([^;]+?): ([\d.]+ %) germinated", figure.description)
    ]
    until = {
        seeds: hour
        for name, hour in ends_h.items()
        if (seeds := reader.named(name, among, f"{where}, rows"))
    }
    for name, place, value in told:
        seeds = reader.named(name, among, f"{where}, {place}")
        if seeds:
            yield Told(
                where=f"{where}, {place}",
                seeds=seeds,
                experiments=(experiment,),
                quantity="germinated",
                value=value,
                by_h=until.get(seeds),
            )


def _fates(
    reader: Reader, where: str, experiment: str, figure: Any, among: Sequence[Seeds]
) -> Iterator[Told]:
    told = [(r["seeds"], r["fate"], "rows", Printed(float(r["share"]), 2)) for r in figure.rows]
    told += [
        (r["seeds"], r["fate"], "drawn", exact(float(r["share"]))) for r in drawn_rows(figure.spec)
    ]
    words = figure.description.removeprefix("Stacked shares of the seeds sown. ").removesuffix(".")
    for part in words.split("; "):
        name, _, shares = part.rpartition(": ")
        told += [
            (name, fate, "description", share_of(s))
            for s, fate in re.findall(r"(\d+ %) ([a-z ]+)", shares)
        ]
    most = re.match(r"Most hard seeds: (\d+ %) in (.*?)\. Shares", figure.caption)
    if most:
        told.append((most[2], "hard", "caption", share_of(most[1])))
    for name, fate, place, value in told:
        seeds = reader.named(name, among, f"{where}, {place}")
        if seeds and fate in FATE_WORDS:
            yield Told(
                where=f"{where}, {place}",
                seeds=seeds,
                experiments=(experiment,),
                quantity=FATE_WORDS[fate],
                value=value,
                said="fates",
            )


def _warmth(
    reader: Reader, where: str, experiment: str, figure: Any, among: Sequence[Seeds]
) -> Iterator[Told]:
    # estimates of a series have no temperature: seeds are those sown
    own = {(s.lot, s.treatment) for s in among}
    sown = [
        s
        for s in reader.counted.seeds
        if (s.lot, s.treatment) in own and experiment in reader.counted.experiments(s)
    ]
    if len(own) > 1:
        return  # one chart for each series, told apart by its title
    finding = re.search(r"Germinated by the last inspection: (.*?)\. Points", figure.caption)
    told = (
        [
            (n, "caption", share_of(s))
            for n, s in re.findall(r"(?:^|; )([^;]+?) ([\d.]+ %)", finding[1])
        ]
        if finding
        else []
    )
    last = {row["temperature"]: row["germinated"] for row in figure.rows}
    told += [(str(n), "rows", Printed(float(v), 1)) for n, v in last.items() if v is not None]
    for name, place, value in told:
        seeds = reader.named(name, sown, f"{where}, {place}")
        if seeds:
            yield Told(
                where=f"{where}, {place}",
                seeds=seeds,
                experiments=(experiment,),
                quantity="germinated",
                value=value,
            )


def _doses(reader: Reader, where: str, experiment: str, figure: Any) -> Iterator[Told]:
    here = [
        s
        for s in reader.counted.seeds
        if experiment in reader.counted.experiments(s) and s.lot in figure.title
    ]
    names = {"untreated": "intact", "opened by hand": "chipped"}
    for row in figure.rows:
        treatment = names.get(row["seeds"], f"acid-{row['dose']:g}")
        own = [s for s in here if s.treatment == treatment]
        if len(own) == 1:
            share = float(row["germinated normally"]) + float(row["abnormal"])
            yield Told(
                where=f"{where}, rows",
                seeds=own[0],
                experiments=(experiment,),
                quantity="germinated",
                value=Printed(share, 1),
                said="fates",
            )
            for fate in ("hard", "fresh", "dead, in any way"):
                yield Told(
                    where=f"{where}, rows",
                    seeds=own[0],
                    experiments=(experiment,),
                    quantity=FATE_WORDS[fate],
                    value=Printed(float(row[fate]), 2),
                    said="fates",
                )


def _causes(reader: Reader, where: str, figure: Any) -> Iterator[Told]:
    lot = re.sub(r"^What became of the seeds of (.*), and why$", r"\1", figure.title)
    for row in drawn_rows(figure.spec):
        if row.get("part") == "germinated":
            seeds = reader.same_lot(lot, row["seeds"], where)
            if seeds:
                yield Told(
                    where=f"{where}, drawn",
                    seeds=seeds,
                    experiments=(),
                    quantity="germinated",
                    value=exact(float(row["share"])),
                )
                yield Told(
                    where=f"{where}, label",
                    seeds=seeds,
                    experiments=(),
                    quantity="germinated",
                    value=printed(row["label"].rstrip("%")),
                )


def drawn_rows(spec: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    """Yield every row of data of a specification."""
    for rows in spec.get("datasets", {}).values():
        yield from rows
    yield from _inline(spec)


def _inline(part: Any) -> Iterator[Mapping[str, Any]]:
    if isinstance(part, Mapping):
        data = part.get("data")
        if isinstance(data, Mapping) and isinstance(data.get("values"), list):
            yield from data["values"]
        for key, value in part.items():
            if key not in ("data", "datasets"):
                yield from _inline(value)
    elif isinstance(part, list):
        for value in part:
            yield from _inline(value)
