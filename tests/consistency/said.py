"""No two sentences of a report contradict each other, and none contradicts the raw tables.

`VERDICTS` says which words mean what; a sentence that the code learns to write belongs there too.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tests.consistency.figures import Reader
from tests.consistency.markup import sections, sentences, text
from tests.consistency.recount import Seeds
from tests.consistency.told import Group
from tests.consistency.violation import Violation

# words → what they say of the coats of a lot, and of its opened seeds
VERDICTS: tuple[tuple[str, str, str], ...] = (
    (r"Closed coats hold water out", "coat", "closed"),
    (r"keeps water out of .* of the intact seeds, and opened seeds take it up", "coat", "closed"),
    (r"The coats let water in", "coat", "open"),
    (r"Water gets into the intact seeds", "coat", "open"),
    (r"The coat is not what keeps them from germinating", "coat", "open"),
    (r"Whether coats hold water out is not settled", "coat", "disputed"),
    (r"Whether coats hold water out of untreated seeds is not settled", "coat", "unsettled"),
    (r"Untreated seeds stay hard: their coats hold water out", "coat", "closed"),
    (r"Whether the coats hold water out is not known", "coat", "unscored"),
    (r"Whether the coats hold water out was not tested", "coat", "untested"),
    (
        r"whether (?:untreated )?coats hold water out (?:as well )?was not tested",
        "coat",
        "untested",
    ),
    (r"opened by hand, the living seeds germinate", "opened seeds", "germinate"),
    (r"no physical dormancy was found, and opened seeds germinate", "opened seeds", "germinate"),
    (r"Opened seeds germinate", "opened seeds", "germinate"),
    (r"another dormancy lies behind", "opened seeds", "wait"),
    (
        r"(?:but another dormancy holds seeds back|^Another dormancy holds seeds back)",
        "opened seeds",
        "wait",
    ),
)
_MENDED = ("Nothing to mend", "Nearly all germinated")
# of the seeds: "nearly all" leaves no more than this (the report's own bound is 0.1)
_NEARLY = 0.15
_UNTREATED = "intact"
_BY_HAND = "chipped"


@dataclass(frozen=True)
class Verdict:
    """What a sentence says of a lot."""

    lot: str
    topic: str
    value: str
    where: str
    sentence: str

    def __str__(self) -> str:
        """Return the sentence with its page."""
        return f"{self.where}: “{self.sentence}”"


def violations(reader: Reader) -> list[Violation]:
    """Return the contradictions between sentences of a report."""
    found = [
        *_lots(reader),
        *_groups(reader),
        *_none(reader),
        *_usual_place(reader),
        *_most(reader),
        *_no_figure(reader),
    ]
    return list(dict.fromkeys(found))


# lots


def verdicts(reader: Reader) -> list[Verdict]:
    """Return what all pages say of each lot, in words that are verdicts."""
    return [
        Verdict(lot, topic, value, where, sentence)
        for where, lot, sentence in _of_lots(reader)
        for pattern, topic, value in VERDICTS
        if re.search(pattern, sentence)
    ] + [*_named_coats(reader)]


def _of_lots(reader: Reader) -> Iterator[tuple[str, str, str]]:
    """Yield each sentence that is about one lot: page, lot, sentence."""
    lots = [row["lot"] for row in reader.built.raw.tables[""]["lots"]]
    for name, page in reader.built.pages.items():
        for section in sections(page):
            for sentence in sentences(section.body):
                told = [lot for lot in lots if lot in sentence or lot == section.title]
                if name.startswith("lots/"):
                    told = [sections(page)[0].title]
                elif not told:
                    told = _lots_of(reader, name)
                if len(told) == 1:
                    yield name, told[0], sentence


def _lots_of(reader: Reader, page: str) -> list[str]:
    tables = reader.built.raw.tables.get(page.partition("/")[2], {})
    return list(
        dict.fromkeys(row["lot"] for rows in tables.values() for row in rows if "lot" in row)
    )


def _named_coats(reader: Reader) -> Iterator[Verdict]:
    """Yield what a cause named for untreated or hand-opened seeds says of the lot."""
    for group in reader.groups:
        if len(group["named"]) != 1 or not group["sown"]:
            continue
        where, cause = f"lots page of {group['lot']}, {group['treatment']}", group["named"][0]
        if group["treatment"] == _UNTREATED and cause == "impermeable_coat":
            yield Verdict(
                group["lot"],
                "coat",
                "closed",
                where,
                "Why the others did not germinate: closed coat.",
            )
        if group["treatment"] == _BY_HAND and cause == "other_dormancy":
            yield Verdict(
                group["lot"],
                "opened seeds",
                "wait",
                where,
                "Why the others did not germinate: another dormancy.",
            )


def _lots(reader: Reader) -> Iterator[Violation]:
    told: dict[tuple[str, str], dict[str, Verdict]] = {}
    for verdict in verdicts(reader):
        told.setdefault((verdict.lot, verdict.topic), {}).setdefault(verdict.value, verdict)
    for (lot, topic), values in told.items():
        if len(values) > 1:
            both = " and ".join(sorted(values))
            says = "; but ".join(str(v) for v in values.values())
            yield Violation(
                f"{topic} said to be {both}" if topic == "coat" else f"{topic} said to {both}",
                f"{lot}: {says}",
            )


# groups of seeds


def _groups(reader: Reader) -> Iterator[Violation]:
    for group in reader.groups:
        if group["sown"]:
            yield from _mended(reader, group)


def _mended(reader: Reader, group: Group) -> Iterator[Violation]:
    """Yield where nothing is to be mended, though a cause is named or living seeds are left."""
    action, named = group["next_action"], group["named"]
    says_all = any(words in action for words in _MENDED) or not named
    if not says_all:
        return
    seeds = reader.of_group(group)
    if named and "nonviable" not in named:
        yield Violation(
            "nothing to mend, with a cause named",
            f"{seeds}: “{action}”, beside: {', '.join(named)}",
        )
    own = [d for d in reader.counted.of(seeds) if d.inspected]
    if any(d.changed for d in own):
        return
    of = sum(d.of for d in own)
    if not of:
        return
    up, living = sum(d.up(None) for d in own) / of, sum(_living(d.outcomes) for d in own) / of
    scored = all(d.scored for d in own)
    if not named and 1 - up > _NEARLY:
        yield Violation(
            "nearly all germinated, where many did not",
            f"{seeds}: “{action}”; counted: {100 * up:.3g} % germinated",
        )
    elif scored and living > _NEARLY:
        yield Violation(
            "nothing to mend, where living seeds were left",
            f"{seeds}: “{action}”; counted: {100 * living:.3g} % left alive",
        )


def _living(outcomes: Mapping[str, tuple[int, int | None]]) -> int:
    return sum(alive or 0 for fate, (_, alive) in outcomes.items() if fate in ("hard", "fresh"))


def _none(reader: Reader) -> Iterator[Violation]:
    """Yield where none is said to have germinated, or stayed hard, though some did."""
    for name, page in reader.built.pages.items():
        experiment = name.partition("/")[2]
        if not name.startswith("experiments/"):
            continue
        among = reader.in_experiment(experiment, "time_course")
        for line in page.split("\n"):
            found = re.match(r"- (.*?): (?:nothing|none) germinated\b", text(line))
            for part in found[1].split("; ") if found else ():
                plain = re.sub(r" and \d+ more$", "", part)
                seeds = reader.named(plain, among, f"{name}, none germinated")
                yield from _some_did(reader, experiment, name, seeds, text(line))
    for drawn in reader.built.figures:
        if (
            drawn.analysis == "time_course"
            and "No seed stayed hard to the end" in drawn.figure.caption
        ):
            hard = sum(d.left("hard") for d in reader.counted.dishes if d.experiment == drawn.page)
            if hard:
                yield Violation(
                    "no seed hard, where some were",
                    f"{drawn.page}: “{drawn.figure.caption}”; counted: {hard} hard",
                )


def _some_did(
    reader: Reader, experiment: str, page: str, seeds: Seeds | None, line: str
) -> Iterator[Violation]:
    if seeds is None or seeds not in reader.counted.seeds:
        return
    up = sum(d.up(None) for d in reader.counted.of(seeds, [experiment]))
    if up:
        yield Violation(
            "none germinated, where some did",
            f"{page}: {seeds}: “{line[:160]}”; counted: {up} germinated",
        )


# places


def _usual_place(reader: Reader) -> Iterator[Violation]:
    """Yield figures under “At a place, where nothing else is said” that are of another place."""
    for section in sections(reader.built.pages["index"]):
        said = re.search(r"At ((?:(?!\bAt ).)*?), where nothing else is said", text(section.body))
        for found in _UNPLACED.finditer(section.body):
            group = reader.by_anchor(section.title, found["anchor"])
            if group is None or not group["sown"] or found["at"]:
                continue
            words = reader.of_group(group).words
            if said is None or not _same_place(said[1], words):
                place = (
                    f"“At {said[1]}, where nothing else is said”" if said else "no place is said"
                )
                yield Violation(
                    "home tells a figure without its place",
                    f"{section.title}: {place}, but {reader.of_group(group)}",
                )
    for drawn in reader.built.figures:
        if drawn.analysis == "lot":
            yield from _caption_place(reader, drawn.figure)


_UNPLACED = re.compile(
    r'<span class="finding"><a href="lots/[^"#]*#(?P<anchor>[^"]*)">[^<]*</a>(?P<at> at )?'
)


def _caption_place(reader: Reader, figure: Any) -> Iterator[Violation]:
    """Yield names without a place in a chart's caption for which no seeds of the usual place have that cause."""
    lot = re.sub(r"^What became of the seeds of (.*), and why$", r"\1", figure.title)
    usual = re.search(r"At ((?:(?!\bAt ).)*?) where nothing else is said", figure.caption)
    main = re.search(
        r"Main cause where one explains most of what failed: (.*?)\)\. ", figure.caption
    )
    if not main:
        return
    for cause, names in re.findall(r"([a-z ]+) \(((?:[^()]|\([^()]*\))*)(?:\)|$)", main[1]):
        for treatment in {t["treatment"] for t in reader.groups if t["lot"] == lot}:
            if re.search(rf"(?:^|, ){re.escape(treatment)}(?:,|$)", names):
                own = [
                    g
                    for g in reader.groups
                    if (g["lot"], g["treatment"]) == (lot, treatment) and len(g["named"]) == 1
                ]
                here = [g for g in own if usual and _same_place(usual[1], reader.of_group(g).words)]
                if usual and not here:
                    yield Violation(
                        "caption tells a cause without its place",
                        f"{lot}: “{cause} ({names})”, at {usual[1]}: {treatment} has no one cause there",
                    )


def _same_place(said: str, words: frozenset[str]) -> bool:
    return frozenset(w.strip() for w in re.split(r", (?![^(]*\))", said)) == words


# the most, and none


def _no_figure(reader: Reader) -> Iterator[Violation]:
    """Yield words of a program that stand where a reader expects a figure or a name."""
    for name, page in reader.built.pages.items():
        for sentence in sentences(page):
            if re.search(r"\b(?:nan|NaN|None|inf|undefined|null)\b", sentence):
                yield Violation("no figure where one is expected", f"{name}: “{sentence[:200]}”")


def _most(reader: Reader) -> Iterator[Violation]:
    """Yield where most are said to have germinated of some seeds, though more did of others beside them."""
    for drawn in reader.built.figures:
        found = re.search(
            r"Most seeds germinated normally after (.*?): (\d+) %", drawn.figure.caption
        )
        if drawn.analysis == "scarification" and found:
            shares = [
                (row["seeds"], float(row["germinated normally"])) for row in drawn.figure.rows
            ]
            yield from _more(drawn.page, found[0], float(found[2]), shares)
    for name, page in reader.built.pages.items():
        for sentence in sentences(page) if name.startswith("experiments/") else ():
            top = re.search(r"Most germinated of (.*?), ([\d.]+) %", sentence)
            if top:
                others = re.findall(r"([^\s(]+) \(([\d.]+) %\)", sentence[top.end() :])
                shares = [(other, float(share)) for other, share in others]
                yield from _more(name, sentence, float(top[2]), shares)


def _more(
    page: str, said: str, most: float, shares: Sequence[tuple[str, float]]
) -> Iterator[Violation]:
    # both are rounded to the percent
    more = [f"{name} {share:.3g} %" for name, share in shares if share > most + 1]
    if more:
        says = f"{page}: “{said}”, beside {', '.join(more)}"
        yield Violation("most germinated, where more did", says)
