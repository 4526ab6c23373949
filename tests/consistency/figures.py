"""Every figure of seeds that a report prints, read back as records: from files, from pages, and from the charts."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cached_property

from hilum.report.diagnosed import anchor
from tests.consistency import charts
from tests.consistency.built import Built
from tests.consistency.markup import Section, sections, sheets, text
from tests.consistency.recount import Seeds, count
from tests.consistency.told import (
    FATE_WORDS,
    NUMBER,
    SHARE,
    Group,
    Printed,
    Told,
    exact,
    fate_of,
    hour,
    impermeable,
    number,
    place_of,
    printed,
    rows_of,
    seeds_of,
    share_of,
    told_in,
    words_of,
)

_SHARES = {"germinated": "germinated", "hard": "hard", "fresh": "fresh", "dead": "dead, in any way"}
_FATES = {
    "germinated": "germinated",
    "hard": "hard",
    "fresh": "fresh",
    "dead_or_empty": "dead or empty",
    "insect_damaged": "insect-damaged",
    "mouldy": "mouldy",
}
_FINDING = re.compile(
    r'<span class="finding"><a href="lots/[^"#]*#(?P<anchor>[^"]*)">(?P<said>.*?)(?=<span class="finding">|</td>)',
    re.DOTALL,
)
_BESIDE = (
    (re.compile(r"(?:Open the coats as|Treat them as|Break the dormancy first, as) (?P<name>\S+?)(?: did)?: (?P<share>\d+ %) germinated there"), False),
    (re.compile(r"or as (?P<name>\S+) \((?P<share>\d+ %) germinated there\)"), False),
    (re.compile(r"Sow at (?P<name>.*?), where (?P<share>\d+ %) germinated"), True),
)  # fmt: skip
_DRY = rf"water (?:out of|gets into the intact seeds \(impermeable:) {SHARE.pattern}"


class Reader:
    """Read the figures of one built report."""

    def __init__(self, built: Built) -> None:
        """Name the groups of seeds that pages tell of."""
        self.built = built
        self.counted = count(built.raw)
        self.groups: list[Group] = list(built.diagnosis["groups"])
        self.unread: list[str] = []

    # names

    def of_group(self, group: Group) -> Seeds:
        """Return the seeds of a group of the diagnosis."""
        return seeds_of(
            group["lot"], group["treatment"], group["temperature_c"], group["condition"]
        )

    def named(self, name: str, among: Sequence[Seeds], where: str) -> Seeds | None:
        """Return the seeds that a name means: those that have all its words, and fewest others."""
        words = words_of(name) - {"no temperature noted"}
        able = sorted((s for s in among if words <= s.names), key=lambda s: len(s.names))
        if not able or (len(able) > 1 and len(able[0].names) == len(able[1].names)):
            fits = f"fits {len(able)} groups of seeds" if able else "fits no seeds"
            self.unread.append(f"{where}: the name '{name}' {fits}")
            return None
        return able[0]

    def by_anchor(self, lot: str, mark: str) -> Group | None:
        """Return the group of a lot whose paragraph has this anchor."""
        return next((g for g in self.groups if g["lot"] == lot and anchor(g) == mark), None)

    # everything

    def all(self) -> list[Told]:
        """Return every figure of the report."""
        found = [
            *self.estimates(),
            *self.diagnosis(),
            *self.lot_pages(),
            *self.home(),
            *self.experiment_pages(),
        ]
        found += self.weighed()
        for drawn in self.built.figures:
            found += charts.chart(self, drawn)
        return found

    # files

    def estimates(self) -> Iterator[Told]:
        """Yield shares of the seeds sown from the tables of estimates."""
        for path in sorted(self.built.study.estimates.glob("*/time_course.csv")):
            experiment = path.parent.name
            for row in rows_of(path):
                if (
                    row["status"] == "estimated"
                    and row["quantity"] in _SHARES
                    and not row["versus"]
                ):
                    seeds = seeds_of(
                        row["lot"], row["treatment"], number(row["temperature_c"]), row["condition"]
                    )
                    yield Told(
                        where=f"estimates/{experiment}/time_course.csv",
                        seeds=seeds,
                        experiments=(experiment,),
                        quantity=_SHARES[row["quantity"]],
                        value=exact(float(row["value"])),
                        low=exact(float(row["low"])),
                        high=exact(float(row["high"])),
                        by_h=number(row["at"]),
                        said=row["needs"],
                    )

    def diagnosis(self) -> Iterator[Told]:
        """Yield fates from diagnosis.csv, and those that its evidence counts experiment by experiment."""
        for row in rows_of(self.built.study.diagnosis.with_suffix(".csv")):
            seeds = seeds_of(
                row["lot"], row["treatment"], number(row["temperature_c"]), row["condition"]
            )
            if row["layer"] == "fate" and row["status"] == "estimated" and row["temperature_c"]:
                yield Told(
                    where="diagnosis.csv",
                    seeds=seeds,
                    experiments=told_in(row["evidence"], self.built.raw.experiments),
                    quantity=_FATES[row["name"]],
                    value=exact(float(row["fraction"])),
                    low=exact(float(row["low"])),
                    high=exact(float(row["high"])),
                )

    def weighed(self) -> Iterator[Told]:
        """Yield the shares of weighed seeds that stayed dry, from the estimates and from the sentences that rest on them."""
        for path in sorted(self.built.study.estimates.glob("*/imbibition.csv")):
            where, experiment = f"estimates/{path.parent.name}/imbibition.csv", path.parent.name
            for row in rows_of(path):
                if row["quantity"] == "impermeable_fraction" and row["status"] == "estimated":
                    value = exact(float(row["value"]))
                    yield impermeable(where, row["lot"], row["treatment"], value, experiment)
        for name, page in self.built.pages.items():
            for section in sections(page):
                lot = sections(page)[0].title if name.startswith("lots/") else section.title
                yield from self._dry(name, lot, section)

    def _dry(self, where: str, lot: str, section: Section) -> Iterator[Told]:
        words, group = text(section.body), self.by_anchor(lot, section.anchor)
        if lot in {g["lot"] for g in self.groups}:
            for found in re.finditer(_DRY, words):
                yield impermeable(where, lot, "intact", printed(found[1]))
        if group is not None:
            for found in re.finditer(
                r"(\S+): (\d+ %) of the weighed seeds took up no water", words
            ):
                value = share_of(found[2])
                yield impermeable(f"{where}, evidence", lot, group["treatment"], value, found[1])

    # pages

    def home(self) -> Iterator[Told]:
        """Yield what home says of each group."""
        for section in sections(self.built.pages["index"]):
            for found in _FINDING.finditer(section.body):
                group = self.by_anchor(section.title, found["anchor"])
                if group is None or not group["sown"]:
                    continue
                words = text(found["said"])
                share = re.search(rf"{SHARE.pattern} germinated", words)
                if share:
                    told = self._told(
                        f"index, {section.title}", self.of_group(group), words, share, "germinated"
                    )
                    yield replace(told, by_h=hour(words))
            yield from self._shortfall("index", section.title, section.body)

    def lot_pages(self) -> Iterator[Told]:
        """Yield what the page of each lot says: its fates, its evidence, its advice and its sheet."""
        for name, page in self.built.pages.items():
            if not name.startswith("lots/"):
                continue
            parts = sections(page)
            lot = parts[0].title
            yield from self._shortfall(name, lot, parts[0].body)
            for section in parts[1:]:
                group = self.by_anchor(lot, section.anchor)
                if section.anchor == "lot-sheet":
                    yield from self._lot_sheet(name, lot, section)
                elif group is not None and group["sown"]:
                    yield from self._group(f"{name}, {section.title}", group, section)

    def _group(self, where: str, group: Group, section: Section) -> Iterator[Told]:
        seeds, words = self.of_group(group), text(section.body)
        own = re.search(r"Of ([\d,]+) seeds: ([^.]*(?:\.\d[^.]*)*)\.", words)
        if own:
            found = {w: share_of(part) for part in own[2].split(", ") if (w := fate_of(part))}
            for fate in FATE_WORDS.values():
                if fate in found or (fate == "germinated" and found):
                    value = found.get(fate, Printed(0, 0))
                    yield Told(
                        where=where,
                        seeds=seeds,
                        experiments=(),
                        quantity=fate,
                        value=value,
                        by_h=hour(own[0]),
                        said=own[0],
                    )
        for line in section.body.split("\n"):
            if line.startswith("- "):
                yield from self._evidence(where, group, text(line[2:]))
        box = re.search(r"What to do next</p>\s*(.*?)</div>", section.body, re.DOTALL)
        if box:
            yield from self._advice(f"{where}, what to do next", group, text(box[1]))

    def _evidence(self, where: str, group: Group, line: str) -> Iterator[Told]:
        experiment, _, says = line.partition(": ")
        if experiment not in self.built.raw.experiments:
            return
        counted = re.match(
            r"(?:(\d+) dish(?:es)?, )?(\d+) (?:single )?seeds?(?: \(\d+ more were lost or sampled\))?: (\d+) germinated",
            says,
        )
        if counted and int(counted[2]):
            share = int(counted[3]) / int(counted[2])
            yield Told(
                where=f"{where}, evidence", seeds=self.of_group(group), experiments=(experiment,), quantity="germinated",
                value=exact(share), said=says, by_h=hour(says),
            )  # fmt: skip
        says = re.sub(
            r", (?:\d+ experiments together|each dish at its own last look|\d+ lost or sampled seeds left out)",
            "",
            says,
        )
        beside = re.match(
            r"(?:elsewhere|after a dormancy break) \((.*), ([^,]*)\) (\d+ %) germinated", says
        )
        if beside:
            place = self.same_lot(group["lot"], f"{beside[1]}, {beside[2]}", where)
            if place:
                yield Told(
                    where=f"{where}, evidence", seeds=place, experiments=(experiment,), quantity="germinated",
                    value=share_of(beside[3]), said=says,
                )  # fmt: skip

    def _advice(self, where: str, group: Group, words: str) -> Iterator[Told]:
        for pattern, by_place in _BESIDE:
            for found in pattern.finditer(words):
                name = (
                    f"{group['treatment']}, {found['name']}"
                    if by_place
                    else f"{found['name']}, {place_of(group)}"
                )
                seeds = self.same_lot(group["lot"], name, where)
                if seeds:
                    yield Told(
                        where=where,
                        seeds=seeds,
                        experiments=(),
                        quantity="germinated",
                        value=share_of(found["share"]),
                        said=found[0],
                    )

    def _shortfall(self, where: str, lot: str, body: str) -> Iterator[Told]:
        words = text(body)
        for found in re.finditer(
            rf"Of (\S+) seeds(?: at ([^,]*? °C[^,]*(?:, [a-z][^%]*?)??))?, {SHARE.pattern} ?germinated ?(?:\({NUMBER} to {NUMBER} %\))?",
            words,
        ):
            seeds = self.same_lot(
                lot, ", ".join(p for p in (found[1], found[2]) if p), f"{where}, {lot}, shortfall"
            )
            if seeds:
                low, high = found[6], found[7]
                yield Told(
                    where=f"{where}, {lot}, shortfall", seeds=seeds, experiments=(), quantity="germinated", value=printed(found[3]),
                    low=printed(low) if low else None, high=printed(high) if high else None, said=found[0],
                )  # fmt: skip

    def same_lot(self, lot: str, name: str, where: str) -> Seeds | None:
        """Return the seeds of a lot that a name means."""
        among = [self.of_group(g) for g in self.groups if g["lot"] == lot and g["sown"]]
        return self.named(name, among, where)

    def _lot_sheet(self, where: str, lot: str, section: Section) -> Iterator[Told]:
        for sheet in sheets(section.body):
            for plain, raw in zip(sheet.rows, sheet.raw, strict=True):
                link = re.search(r"experiments/([^\"]*)\.html", raw[0])
                name = plain[0].removeprefix("germinated, ")
                seeds = self.same_lot(lot, name, f"{where}, lot sheet") if link else None
                if link and seeds:
                    yield Told(
                        where=f"{where}, lot sheet", seeds=seeds, experiments=(link[1],), quantity="germinated, mean of dishes",
                        value=share_of(plain[1]), said=", ".join(plain),
                    )  # fmt: skip

    def experiment_pages(self) -> Iterator[Told]:
        """Yield what the page of each experiment says of its time course."""
        for name, page in self.built.pages.items():
            experiment = name.partition("/")[2]
            if name.startswith("experiments/"):
                for section in sections(page):
                    if section.anchor in ("time-course", "time-course-details"):
                        yield from self._time_course(name, experiment, section)

    def _time_course(self, where: str, experiment: str, section: Section) -> Iterator[Told]:
        among = self.in_experiment(experiment, "time_course")
        told: list[tuple[str, str, str]] = []
        for line in section.body.split("\n"):
            words = text(line)
            bullet = re.match(r"- (.*?): (none germinated by|[\d.]+ %.*? germinated by)", words)
            told += [(bullet[1], words, "answer")] if bullet else []
            yield from self._most(f"{where}, answer", experiment, words, among)
        for sheet in sheets(section.body):
            answer = sheet.label.startswith("Germinated, germinable")
            if answer or sheet.label.startswith("Agreement of replicate"):
                place = "answer" if answer else "replicates"
                told += [(row[0], row[1 if answer else 2], place) for row in sheet.rows]
        for name, words, place in told:
            shown = words.replace("none germinated", "0 % germinated")
            found = re.search(rf"{SHARE.pattern} germinated" if place == "answer" else SHARE, shown)
            seeds = self.named(name, among, f"{where}, {place}")
            if found and seeds:
                quantity = "germinated" if place == "answer" else "germinated, mean of dishes"
                one = self._told(f"{where}, {place}", seeds, shown, found, quantity)
                yield replace(one, experiments=(experiment,), by_h=hour(shown))

    def _most(
        self, where: str, experiment: str, words: str, among: Sequence[Seeds]
    ) -> Iterator[Told]:
        found = re.match(
            r"(?P<place>.*?): (?:treatments differ|no sure difference).*?Most germinated of (?P<top>.*?), (?P<share>[\d.]+ % \([^)]*\))(?P<rest>.*)",
            words,
        )
        if not found:
            return
        named = [(found["top"], found["share"])]
        named += re.findall(r"(?:fewer of |, )([^(,]*?) \(([\d.]+ %)\)", found["rest"])
        for treatment, share in named:
            seeds = self.named(f"{found['place']}, {treatment}", among, where)
            said = SHARE.match(share)
            if seeds and said:
                one = self._told(where, seeds, words, said, "germinated")
                # the lines below it tell by when
                by_h = self._ends.get((experiment, seeds))
                yield replace(one, experiments=(experiment,), by_h=by_h)

    @cached_property
    def _ends(self) -> dict[tuple[str, Seeds], float | None]:
        told = (t for t in self.estimates() if t.quantity == "germinated")
        return {(t.experiments[0], t.seeds): t.by_h for t in told}

    def in_experiment(self, experiment: str, analysis: str) -> list[Seeds]:
        """Return the seeds of which an analysis of an experiment has estimates."""
        path = self.built.study.estimates / experiment / f"{analysis}.csv"
        rows = rows_of(path) if path.exists() else []
        made = (
            seeds_of(r["lot"], r["treatment"], number(r["temperature_c"]), r["condition"])
            for r in rows
        )
        return list(dict.fromkeys(made))

    def _told(
        self, where: str, seeds: Seeds, words: str, found: re.Match[str], quantity: str
    ) -> Told:
        value, low, high = found.groups()[:3]
        return Told(
            where=where, seeds=seeds, experiments=(), quantity=quantity, value=printed(value),
            low=printed(low) if low else None, high=printed(high) if high else None, said=words,
        )  # fmt: skip
