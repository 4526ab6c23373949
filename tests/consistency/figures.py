"""Every figure of seeds that a report prints, read back as records, and those of the same seeds held against each other."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from hilum.report.diagnosed import anchor
from hilum.diagnosis.words import NAMES
from hilum.fates import BY_NAME
from tests.consistency.built import Built, Drawn
from tests.consistency.markup import Section, sections, sheets, text
from tests.consistency.recount import TOLERANCE_H, Counted, Seeds, count

# a share without digits behind the point is told to half a percent
_NUMBER = r"(-?\d[\d,]*(?:\.\d+)?)"
_SHARE = re.compile(rf"{_NUMBER} %(?: \({_NUMBER} to {_NUMBER} %\))?")
_CLOCK = {"h": 1.0, "d": 24.0, "hours": 1.0, "days": 24.0}
_BY = re.compile(rf"by {_NUMBER} (h|d|hours|days)\b")
FATE_WORDS = {
    "germinated": "germinated",
    "germinated normally": "normal",
    "abnormal": "abnormal",
    "hard": "hard",
    "fresh": "fresh",
    "dead or empty": "dead or empty",
    "insect-damaged": "insect-damaged",
}
# files keep six significant digits of a fraction
EXACT = 3
Group = Mapping[str, Any]


@dataclass(frozen=True)
class Printed:
    """A number as printed, in percent: `places` are its decimals."""

    value: float
    places: int

    def agrees(self, other: Printed) -> bool:
        """Return whether one number can have been rounded to both."""
        return abs(self.value - other.value) <= self.step + other.step + 1e-6

    def holds(self, share: float) -> bool:
        """Return whether a fraction is rounded to this."""
        return abs(100 * share - self.value) <= self.step + 1e-6

    @property
    def step(self) -> float:
        """Return half a unit of the last digit."""
        return 0.5 * 10**-self.places


@dataclass(frozen=True, kw_only=True)
class Told:
    """A figure of some seeds: where it stands, of which experiments it says it is, what, by which hour, and the numbers."""

    where: str
    seeds: Seeds
    experiments: tuple[str, ...]
    quantity: str
    value: Printed
    low: Printed | None = None
    high: Printed | None = None
    by_h: float | None = None
    said: str = ""

    def __str__(self) -> str:
        """Return the figure with its place."""
        limits = f" ({self.low.value:g} to {self.high.value:g})" if self.low and self.high else ""
        when = f" by {self.by_h:g} h" if self.by_h is not None else ""
        return f"{self.where}: {self.seeds}: {self.quantity}{when} {self.value.value:g} %{limits}"


def printed(words: str) -> Printed:
    """Return a number as printed."""
    plain = words.replace(",", "")
    return Printed(float(plain), len(plain.partition(".")[2]))


def exact(share: float) -> Printed:
    """Return a fraction of a file as percent with all its digits."""
    return Printed(100 * share, EXACT)


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
        return _seeds(group["lot"], group["treatment"], group["temperature_c"], group["condition"])

    def named(self, name: str, among: Sequence[Seeds], where: str) -> Seeds | None:
        """Return the seeds that a name means: those that have all its words, and fewest others."""
        words = _words(name)
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
        found = [*self.estimates(), *self.diagnosis(), *self.lot_pages(), *self.home(), *self.experiment_pages()]
        found += self.weighed()
        for drawn in self.built.figures:
            found += self.chart(drawn)
        return found

    # files

    def estimates(self) -> Iterator[Told]:
        """Yield shares of the seeds sown from the tables of estimates."""
        for path in sorted(self.built.study.estimates.glob("*/time_course.csv")):
            experiment = path.parent.name
            for row in _csv(path):
                if row["status"] == "estimated" and row["quantity"] in _SHARES and not row["versus"]:
                    seeds = _seeds(row["lot"], row["treatment"], _float(row["temperature_c"]), row["condition"])
                    yield Told(
                        where=f"estimates/{experiment}/time_course.csv",
                        seeds=seeds,
                        experiments=(experiment,),
                        quantity=_SHARES[row["quantity"]],
                        value=exact(float(row["value"])),
                        low=exact(float(row["low"])),
                        high=exact(float(row["high"])),
                        by_h=_float(row["at"]),
                        said=row["needs"],
                    )

    def diagnosis(self) -> Iterator[Told]:
        """Yield fates from diagnosis.csv, and those that its evidence counts experiment by experiment."""
        for row in _csv(self.built.study.diagnosis.with_suffix(".csv")):
            seeds = _seeds(row["lot"], row["treatment"], _float(row["temperature_c"]), row["condition"])
            if row["layer"] == "fate" and row["status"] == "estimated" and row["temperature_c"]:
                yield Told(
                    where="diagnosis.csv",
                    seeds=seeds,
                    experiments=_told_in(row["evidence"], self.built.raw.experiments),
                    quantity=_FATES[row["name"]],
                    value=exact(float(row["fraction"])),
                    low=exact(float(row["low"])),
                    high=exact(float(row["high"])),
                )

    def weighed(self) -> Iterator[Told]:
        """Yield the shares of weighed seeds that stayed dry, from the estimates and from the sentences that rest on them."""
        for path in sorted(self.built.study.estimates.glob("*/imbibition.csv")):
            experiment = path.parent.name
            for row in _csv(path):
                if row["quantity"] == "impermeable_fraction" and row["status"] == "estimated":
                    yield _impermeable(f"estimates/{experiment}/imbibition.csv", row["lot"], row["treatment"], exact(float(row["value"])), experiment)
        for name, page in self.built.pages.items():
            for section in sections(page):
                lot = sections(page)[0].title if name.startswith("lots/") else section.title
                words = text(section.body)
                for found in re.finditer(rf"water (?:out of|gets into the intact seeds \(impermeable:) {_SHARE.pattern}", words):
                    if lot in {g["lot"] for g in self.groups}:
                        yield _impermeable(name, lot, "intact", printed(found[1]))
                group = self.by_anchor(lot, section.anchor)
                for found in re.finditer(r"(\S+): (\d+ %) of the weighed seeds took up no water", words):
                    if group is not None and found[1] in self.built.raw.experiments:
                        yield _impermeable(f"{name}, evidence", lot, group["treatment"], _share_of(found[2]), found[1])

    # pages

    def home(self) -> Iterator[Told]:
        """Yield what home says of each group."""
        for section in sections(self.built.pages["index"]):
            for found in _FINDING.finditer(section.body):
                group = self.by_anchor(section.title, found["anchor"])
                if group is None or not group["sown"]:
                    continue
                words = text(found["said"])
                share = re.search(rf"{_SHARE.pattern} germinated", words)
                if share:
                    told = self._told(f"index, {section.title}", self.of_group(group), words, share, "germinated")
                    yield replace(told, by_h=_hour(words))
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
            found = {w: _share_of(part) for part in own[2].split(", ") if (w := _fate_of(part))}
            for fate in FATE_WORDS.values():
                if fate in found or (fate == "germinated" and found):
                    value = found.get(fate, Printed(0, 0))
                    yield Told(where=where, seeds=seeds, experiments=(), quantity=fate, value=value, by_h=_hour(own[0]), said=own[0])
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
        counted = re.match(r"(\d+) dish(?:es)?, (\d+) seeds?: (\d+) germinated", says)
        if counted and int(counted[2]):
            share = int(counted[3]) / int(counted[2])
            yield Told(
                where=f"{where}, evidence", seeds=self.of_group(group), experiments=(experiment,), quantity="germinated",
                value=exact(share), said=says, by_h=_hour(says),
            )  # fmt: skip
        beside = re.match(r"(?:elsewhere|after a dormancy break) \((.*), ([^,]*)\) (\d+ %) germinated", says)
        if beside:
            place = self._same_lot(group["lot"], f"{beside[1]}, {beside[2]}", where)
            if place:
                yield Told(
                    where=f"{where}, evidence", seeds=place, experiments=(experiment,), quantity="germinated",
                    value=_share_of(beside[3]), said=says,
                )  # fmt: skip

    def _advice(self, where: str, group: Group, words: str) -> Iterator[Told]:
        for pattern, by_place in _BESIDE:
            for found in pattern.finditer(words):
                name = f"{group['treatment']}, {found['name']}" if by_place else f"{found['name']}, {_place(group)}"
                seeds = self._same_lot(group["lot"], name, where)
                if seeds:
                    yield Told(
                        where=where, seeds=seeds, experiments=(), quantity="germinated", value=_share_of(found["share"]), said=found[0]
                    )

    def _shortfall(self, where: str, lot: str, body: str) -> Iterator[Told]:
        words = text(body)
        for found in re.finditer(rf"Of (\S+) seeds(?: at ([^,]*? °C[^,]*(?:, [a-z][^%]*?)??))?, {_SHARE.pattern} ?germinated ?(?:\({_NUMBER} to {_NUMBER} %\))?", words):
            seeds = self._same_lot(lot, ", ".join(p for p in (found[1], found[2]) if p), f"{where}, {lot}, shortfall")
            if seeds:
                low, high = found[6], found[7]
                yield Told(
                    where=f"{where}, {lot}, shortfall", seeds=seeds, experiments=(), quantity="germinated", value=printed(found[3]),
                    low=printed(low) if low else None, high=printed(high) if high else None, said=found[0],
                )  # fmt: skip

    def _same_lot(self, lot: str, name: str, where: str) -> Seeds | None:
        among = [self.of_group(g) for g in self.groups if g["lot"] == lot and g["sown"]]
        return self.named(name, among, where)

    def _lot_sheet(self, where: str, lot: str, section: Section) -> Iterator[Told]:
        for sheet in sheets(section.body):
            for plain, raw in zip(sheet.rows, sheet.raw, strict=True):
                link = re.search(r"experiments/([^\"]*)\.html", raw[0])
                name = plain[0].removeprefix("germinated, ")
                seeds = self._same_lot(lot, name, f"{where}, lot sheet") if link else None
                if link and seeds:
                    yield Told(
                        where=f"{where}, lot sheet", seeds=seeds, experiments=(link[1],), quantity="germinated, mean of dishes",
                        value=_share_of(plain[1]), said=", ".join(plain),
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

        def told(name: str, words: str, place: str, found: re.Match[str] | None, quantity: str = "germinated") -> Iterator[Told]:
            seeds = self.named(name, among, f"{where}, {place}")
            if found and seeds:
                one = self._told(f"{where}, {place}", seeds, words, found, quantity)
                yield replace(one, experiments=(experiment,), by_h=_hour(words))

        for line in section.body.split("\n"):
            words = text(line)
            bullet = re.match(r"- (.*?): (none germinated by|[\d.]+ %.*? germinated by)", words)
            if bullet:
                shown = words if "none germinated" not in words else words.replace("none germinated", "0 % germinated")
                yield from told(bullet[1], shown, "answer", re.search(rf"{_SHARE.pattern} germinated", shown))
            yield from self._most(f"{where}, answer", experiment, words, among)
        for sheet in sheets(section.body):
            for row in sheet.rows:
                if sheet.label.startswith("Germinated, germinable"):
                    shown = row[1].replace("none germinated", "0 % germinated")
                    yield from told(row[0], shown, "answer", re.search(rf"{_SHARE.pattern} germinated", shown))
                elif sheet.label.startswith("Agreement of replicate"):
                    yield from told(row[0], row[2], "replicates", _SHARE.search(row[2]), "germinated, mean of dishes")

    def _most(self, where: str, experiment: str, words: str, among: Sequence[Seeds]) -> Iterator[Told]:
        found = re.match(r"(?P<place>.*?): (?:treatments differ|no sure difference).*?Most germinated of (?P<top>.*?), (?P<share>[\d.]+ % \([^)]*\))(?P<rest>.*)", words)
        if not found:
            return
        named = [(found["top"], found["share"])]
        named += re.findall(r"(?:fewer of |, )([^(,]*?) \(([\d.]+ %)\)", found["rest"])
        for treatment, share in named:
            seeds = self.named(f"{found['place']}, {treatment}", among, where)
            said = _SHARE.match(share)
            if seeds and said:
                one = self._told(where, seeds, words, said, "germinated")
                yield replace(one, experiments=(experiment,))

    def in_experiment(self, experiment: str, analysis: str) -> list[Seeds]:
        """Return the seeds of which an analysis of an experiment has estimates."""
        path = self.built.study.estimates / experiment / f"{analysis}.csv"
        rows = _csv(path) if path.exists() else []
        made = (_seeds(r["lot"], r["treatment"], _float(r["temperature_c"]), r["condition"]) for r in rows)
        return list(dict.fromkeys(made))

    def _told(self, where: str, seeds: Seeds, words: str, found: re.Match[str], quantity: str) -> Told:
        value, low, high = found.groups()[:3]
        return Told(
            where=where, seeds=seeds, experiments=(), quantity=quantity, value=printed(value),
            low=printed(low) if low else None, high=printed(high) if high else None, said=words,
        )  # fmt: skip

    # figures

    def chart(self, drawn: Drawn) -> Iterator[Told]:
        """Yield what a figure draws, lists, says below it and reads aloud."""
        figure, where = drawn.figure, f"{drawn.page}, {drawn.analysis} chart {drawn.figure.name}"
        among = self.in_experiment(drawn.page, drawn.analysis)
        if drawn.analysis == "time_course" and figure.name.startswith("germination-"):
            lot = figure.title.removeprefix("Germination of ")
            yield from self._course(where, drawn.page, figure, [s for s in among if s.lot == lot])
        elif drawn.analysis == "time_course" and figure.name == "fates":
            yield from self._fates(where, drawn.page, figure, among)
        elif drawn.analysis == "temperature" and figure.name.startswith("germination-"):
            yield from self._warmth(where, drawn.page, figure, among)
        elif drawn.analysis == "scarification" and figure.name.startswith("fates-by-dose"):
            yield from self._doses(where, drawn.page, figure)
        elif drawn.analysis == "lot":
            yield from self._causes(where, figure)

    def _course(self, where: str, experiment: str, figure: Any, among: Sequence[Seeds]) -> Iterator[Told]:
        last = {row["seeds"]: row["germinated"] for row in figure.rows}
        told: list[tuple[str, str, Printed]] = [(name, "rows", Printed(float(share), 2)) for name, share in last.items()]
        for row in _drawn_rows(figure.spec):
            if row.get("kind") == "seen":
                name = ", ".join(p for p in (row["series"], row["panel"]) if p)
                told = [t for t in told if (t[0], t[1]) != (name, "drawn")]
                told.append((name, "drawn", exact(float(row["germinated"]))))
        finding = re.search(r"Germinated by the last inspection: (.*?)\.(?: |$)", figure.caption)
        ends = re.sub(r"^from | to (?=[^;]*%$)", ";", finding[1]) if finding else ""
        told += [(n, "caption", _share_of(s)) for n, s in re.findall(r"([^;]+?) ([\d.]+ %)", ends)]
        told += [(n, "description", _share_of(s)) for n, s in re.findall(r"(?:\. |; )([^;]+?): ([\d.]+ %) germinated", figure.description)]
        for name, place, value in told:
            seeds = self.named(name, among, f"{where}, {place}")
            if seeds:
                yield Told(where=f"{where}, {place}", seeds=seeds, experiments=(experiment,), quantity="germinated", value=value)

    def _fates(self, where: str, experiment: str, figure: Any, among: Sequence[Seeds]) -> Iterator[Told]:
        told = [(r["seeds"], r["fate"], "rows", Printed(float(r["share"]), 2)) for r in figure.rows]
        told += [(r["seeds"], r["fate"], "drawn", exact(float(r["share"]))) for r in _drawn_rows(figure.spec)]
        words = figure.description.removeprefix("Stacked shares of the seeds sown. ").removesuffix(".")
        for part in words.split("; "):
            name, _, shares = part.rpartition(": ")
            told += [(name, fate, "description", _share_of(s)) for s, fate in re.findall(r"(\d+ %) ([a-z ]+)", shares)]
        most = re.match(r"Most hard seeds: (\d+ %) in (.*?)\. Shares", figure.caption)
        if most:
            told.append((most[2], "hard", "caption", _share_of(most[1])))
        for name, fate, place, value in told:
            seeds = self.named(name, among, f"{where}, {place}")
            if seeds and fate in FATE_WORDS:
                yield Told(where=f"{where}, {place}", seeds=seeds, experiments=(experiment,), quantity=FATE_WORDS[fate], value=value, said="fates")

    def _warmth(self, where: str, experiment: str, figure: Any, among: Sequence[Seeds]) -> Iterator[Told]:
        # estimates of a series have no temperature: seeds are those sown
        own = {(s.lot, s.treatment) for s in among}
        sown = [s for s in self.counted.seeds if (s.lot, s.treatment) in own and experiment in self.counted.experiments(s)]
        if len(own) > 1:
            return  # one chart for each series, told apart by its title
        finding = re.search(r"Germinated by the last inspection: (.*?)\. Points", figure.caption)
        told = [(n, "caption", _share_of(s)) for n, s in re.findall(r"(?:^|; )([^;]+?) ([\d.]+ %)", finding[1])] if finding else []
        last = {row["temperature"]: row["germinated"] for row in figure.rows}
        told += [(str(n), "rows", Printed(float(v), 1)) for n, v in last.items() if v is not None]
        for name, place, value in told:
            seeds = self.named(name, sown, f"{where}, {place}")
            if seeds:
                yield Told(where=f"{where}, {place}", seeds=seeds, experiments=(experiment,), quantity="germinated", value=value)

    def _doses(self, where: str, experiment: str, figure: Any) -> Iterator[Told]:
        here = [s for s in self.counted.seeds if experiment in self.counted.experiments(s) and s.lot in figure.title]
        names = {"untreated": "intact", "opened by hand": "chipped"}
        for row in figure.rows:
            treatment = names.get(row["seeds"], f"acid-{row['dose']:g}")
            own = [s for s in here if s.treatment == treatment]
            if len(own) == 1:
                share = float(row["germinated normally"]) + float(row["abnormal"])
                yield Told(where=f"{where}, rows", seeds=own[0], experiments=(experiment,), quantity="germinated", value=Printed(share, 1), said="fates")
                for fate in ("hard", "fresh", "dead or empty"):
                    yield Told(where=f"{where}, rows", seeds=own[0], experiments=(experiment,), quantity=FATE_WORDS[fate], value=Printed(float(row[fate]), 2), said="fates")

    def _causes(self, where: str, figure: Any) -> Iterator[Told]:
        lot = re.sub(r"^What became of the seeds of (.*), and why$", r"\1", figure.title)
        for row in _drawn_rows(figure.spec):
            if row.get("part") == "germinated":
                seeds = self._same_lot(lot, row["seeds"], where)
                if seeds:
                    yield Told(where=f"{where}, drawn", seeds=seeds, experiments=(), quantity="germinated", value=exact(float(row["share"])))
                    yield Told(where=f"{where}, label", seeds=seeds, experiments=(), quantity="germinated", value=printed(row["label"].rstrip("%")))


_SHARES = {"germinated": "germinated", "hard": "hard", "fresh": "fresh", "dead": "dead or empty"}
_FATES = {name: BY_NAME[own].title for name, own in NAMES.items()}
_FINDING = re.compile(r'<span class="finding"><a href="lots/[^"#]*#(?P<anchor>[^"]*)">(?P<said>.*?)(?=<span class="finding">|</td>)', re.DOTALL)
_BESIDE = (
    (re.compile(r"(?:Open the coats as|Treat them as|Break the dormancy first, as) (?P<name>\S+?)(?: did)?: (?P<share>\d+ %) germinated there"), False),
    (re.compile(r"or as (?P<name>\S+) \((?P<share>\d+ %) germinated there\)"), False),
    (re.compile(r"Sow at (?P<name>.*?), where (?P<share>\d+ %) germinated"), True),
)  # fmt: skip


def _seeds(lot: str, treatment: str, degrees: float | None, condition: str) -> Seeds:
    words = [] if degrees is None else [f"{degrees:g} °C"]
    return Seeds(lot, treatment, frozenset([*words, *(w for w in _split(condition) if w)]))


def _impermeable(where: str, lot: str, treatment: str, value: Printed, *experiments: str) -> Told:
    seeds = Seeds(lot, treatment, frozenset({"weighed"}))
    return Told(where=where, seeds=seeds, experiments=experiments, quantity="no water got in", value=value)


def _split(words: str) -> list[str]:
    return [w.strip() for w in re.split(r", (?![^(]*\))", words) if w.strip()]


def _words(name: str) -> frozenset[str]:
    return frozenset(_split(name))


def _place(group: Group) -> str:
    warm = "" if group["temperature_c"] is None else f"{group['temperature_c']:g} °C"
    return ", ".join(p for p in (warm, group["condition"]) if p)


def _hour(words: str) -> float | None:
    found = _BY.search(words)
    return float(found[1].replace(",", "")) * _CLOCK[found[2]] if found else None


def _share_of(words: str) -> Printed:
    found = re.search(rf"{_NUMBER} %", words)
    return printed(found[1]) if found else Printed(float("nan"), 0)


def _fate_of(part: str) -> str:
    word = re.sub(r" \(.*\)", "", re.sub(rf"{_NUMBER} %", "", part)).strip()
    return FATE_WORDS.get(word, "")


def _told_in(evidence: str, experiments: Iterable[str]) -> tuple[str, ...]:
    return tuple(e for e in experiments if re.search(rf"(?:^|; ){re.escape(e)}: \d+ dish", evidence))


def _float(cell: str) -> float | None:
    return float(cell) if cell else None


def _csv(path: Any) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _drawn_rows(spec: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
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


__all__ = ["Counted", "Printed", "Reader", "Told", "TOLERANCE_H"]
