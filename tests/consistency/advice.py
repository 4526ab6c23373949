"""No advice for work that the tables already hold, and none that the seeds there cannot follow.

`RULES` names the kinds of work that the code can ask for, the words by which it does, and what in the raw tables would make
the advice empty.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from tests.consistency.figures import Reader
from tests.consistency.markup import sections, sentences, text
from tests.consistency.recount import Kept, Seeds
from tests.consistency.violation import Violation

_OPENED = frozenset({"chipping", "filing"})
_BREAKS = frozenset({"cold_moist", "warm_moist", "growth_regulator"})
_TWENTY = 20


@dataclass(frozen=True)
class Asked:
    """A sentence that asks for work: of which seeds (or of a whole lot), and on the page of which experiment."""

    where: str
    lot: str
    seeds: Seeds | None
    experiment: str
    sentence: str


class Bench:
    """What the raw tables hold of a lot: dishes, treatments, tests and weighings."""

    def __init__(self, reader: Reader) -> None:
        """Take the tables of a report's study."""
        self.reader = reader
        self.methods: dict[str, set[str]] = {}
        for row in reader.built.raw.tables[""]["treatments"]:
            self.methods.setdefault(row["treatment"], set()).add(row["method"])

    def dishes(self, asked: Asked) -> list[Kept]:
        """Return the inspected dishes of the seeds asked about."""
        experiments = [asked.experiment] if asked.experiment else []
        own = self.reader.counted.of(asked.seeds, experiments) if asked.seeds else []
        return [d for d in own if d.inspected]

    def of_lot(self, lot: str, keep: Callable[[Kept], bool]) -> list[Kept]:
        """Return the inspected dishes of a lot of which something holds."""
        return [
            d for d in self.reader.counted.dishes if d.seeds.lot == lot and d.inspected and keep(d)
        ]

    def by_hand(self, treatment: str) -> bool:
        """Return whether coats were opened by hand and nothing else done."""
        return bool(self.methods[treatment] & _OPENED) and self.methods[treatment] <= _OPENED | {
            "none"
        }

    def opens(self, treatment: str) -> bool:
        """Return whether a treatment works on the coat at all."""
        return bool(self.methods.get(treatment, {"?"}) - _BREAKS - {"none"})

    def untreated(self, treatment: str) -> bool:
        """Return whether nothing was done."""
        return self.methods.get(treatment) == {"none"}

    def coat(self, treatment: str) -> frozenset[str]:
        """Return what was done to the coat."""
        return frozenset(self.methods[treatment] - _BREAKS - {"none"})

    def tests(self, lot: str) -> bool:
        """Return whether the viability of the untreated lot was tested."""
        return any(row["lot"] == lot for _, row in self.reader.built.raw.rows("viability"))

    def weighed(self, lot: str, keep: Callable[[str], bool]) -> bool:
        """Return whether seeds of a lot were weighed after a treatment of a kind."""
        return any(
            row["lot"] == lot and keep(row["treatment"])
            for _, row in self.reader.built.raw.rows("weighings")
        )


Check = Callable[[Bench, Asked], str]


def _scored(bench: Bench, asked: Asked) -> str:
    own = bench.dishes(asked)
    return "all of their dishes were scored" if own and all(d.scored for d in own) else ""


def _experiment_scored(bench: Bench, asked: Asked) -> str:
    own = [
        d for d in bench.reader.counted.dishes if d.experiment == asked.experiment and d.inspected
    ]
    return "all dishes of the experiment were scored" if own and all(d.scored for d in own) else ""


def _fates_known(*fates: str) -> Check:
    def known(bench: Bench, asked: Asked) -> str:
        own = [d for d in bench.dishes(asked) if d.outcomes]
        left = sum(d.left(f) for d in own for f in fates)
        if (
            own
            and all(d.scored for d in bench.dishes(asked))
            and not left
            and not any(d.changed for d in own)
        ):
            return f"no {' or '.join(fates)} seed was left"
        told = [alive for d in own for f, (n, alive) in d.outcomes.items() if f in fates and n]
        if told and all(alive is not None for alive in told):
            return f"the living among the {' and '.join(fates)} seeds were told"
        if told and _all_cut(bench, asked, fates):
            return f"the {' and '.join(fates)} seeds were cut (assessed_by: cutting), and only `alive` is blank"
        return ""

    return known


def _all_cut(bench: Bench, asked: Asked, fates: Sequence[str]) -> bool:
    names = {(d.experiment, d.name) for d in bench.dishes(asked)}
    rows = [
        r
        for e, r in bench.reader.built.raw.rows("outcomes")
        if (e, r.get("dish")) in names and r["outcome"] in fates
    ]
    return bool(rows) and all(r.get("assessed_by") in ("cutting", "tetrazolium") for r in rows)


def _twenty_hard(bench: Bench, asked: Asked) -> str:
    found = _fates_known("hard")(bench, asked)
    left = sum(d.left("hard") for d in bench.dishes(asked))
    return found or (f"only {left} of their seeds were hard" if left < _TWENTY else "")


def _hard_opened(bench: Bench, asked: Asked) -> str:
    own = [d for d in bench.dishes(asked) if d.outcomes]
    if own and not sum(d.left("hard") for d in own):
        return "no hard seed was left"
    return _opened_there(bench, asked)


def _opened_there(bench: Bench, asked: Asked) -> str:
    """Return where seeds opened by hand stand beside those asked about, in the same place."""
    words = asked.seeds.words if asked.seeds else None
    own = bench.of_lot(
        asked.lot, lambda d: bench.by_hand(d.seeds.treatment) and words in (None, d.seeds.words)
    )
    return f"seeds opened by hand are there ({_where(own)})" if own else ""


def _reference(bench: Bench, asked: Asked) -> str:
    return _opened_there(bench, asked) or (
        "the viability of the lot was tested" if bench.tests(asked.lot) else ""
    )


def _side_by_side(bench: Bench, asked: Asked) -> str:
    def places(keep: Callable[[str], bool]) -> set[frozenset[str]]:
        return {
            d.seeds.words
            for d in bench.of_lot(asked.lot, lambda d: keep(d.seeds.treatment) and d.scored)
        }

    both = places(bench.untreated) & places(bench.by_hand)
    return "untreated and hand-opened seeds stand side by side, and were scored" if both else ""


def _opened_followed(bench: Bench, asked: Asked) -> str:
    own = bench.of_lot(
        asked.lot, lambda d: bench.by_hand(d.seeds.treatment) and bool(d.outcomes) and d.scored
    )
    return f"seeds opened by hand were followed to their end ({_where(own)})" if own else ""


def _already_open(bench: Bench, asked: Asked) -> str:
    return (
        "these seeds were opened by hand"
        if asked.seeds and bench.by_hand(asked.seeds.treatment)
        else _opened_there(bench, asked)
    )


def _break(bench: Bench, asked: Asked) -> str:
    if not asked.seeds:
        return ""
    own = asked.seeds
    if bench.methods[own.treatment] & _BREAKS:
        return "these seeds had one"
    same = bench.of_lot(
        asked.lot,
        lambda d: (
            d.seeds.words == own.words
            and bool(bench.methods[d.seeds.treatment] & _BREAKS)
            and bench.coat(d.seeds.treatment) == bench.coat(own.treatment)
        ),
    )
    return f"seeds treated alike had one there ({_where(same)})" if same else ""


def _other_warmth(bench: Bench, asked: Asked) -> str:
    """Return where the same treatment was sown at another temperature, in the experiment where one is asked of."""
    if not asked.seeds:
        return ""
    own = asked.seeds
    others = bench.of_lot(
        asked.lot,
        lambda d: (
            d.seeds.treatment == own.treatment
            and _warmth(d.seeds) != _warmth(own)
            and _store(d.seeds) == _store(own)
        ),
    )
    return f"they were sown there ({_where(others)})" if others else ""


def _warmth(seeds: Seeds) -> frozenset[str]:
    return frozenset(w for w in seeds.words if "°C" in w and not w.startswith("stored"))


def _store(seeds: Seeds) -> frozenset[str]:
    return frozenset(
        w for w in seeds.words if w.startswith("stored") and not w.startswith("stored 0 d")
    )


def _opened_or_warmer(bench: Bench, asked: Asked) -> str:
    found = [why for why in (_opened_there(bench, asked), _other_warmth(bench, asked)) if why]
    return "; ".join(found) if len(found) == 2 else ""


def _dead_known(bench: Bench, asked: Asked) -> str:
    own = bench.dishes(asked)
    told = [
        alive for d in own for f, (n, alive) in d.outcomes.items() if f in ("hard", "fresh") and n
    ]
    return (
        "what was left was cut, and the living told"
        if own and all(d.scored for d in own) and all(a is not None for a in told)
        else ""
    )


def _over(bench: Bench, asked: Asked) -> str:
    own = bench.dishes(asked)
    return "no seed is left that could germinate" if own and all(d.over for d in own) else ""


def _dishes_enough(bench: Bench, asked: Asked) -> str:
    many = len(bench.dishes(asked))
    return f"there are {many} dishes" if many >= 4 else ""


def _one_dish(bench: Bench, asked: Asked) -> str:
    groups: dict[Seeds, int] = {}
    for dish in bench.reader.counted.dishes:
        if dish.experiment == asked.experiment and dish.inspected:
            groups[dish.seeds] = groups.get(dish.seeds, 0) + 1
    most = max(groups.values(), default=0)
    return f"there are {most} dishes to a curve" if most > 1 else ""


def _sown(bench: Bench, asked: Asked) -> str:
    found = asked.seeds and bench.of_lot(
        asked.lot, lambda d: d.seeds.treatment == asked.seeds.treatment
    )  # type: ignore[union-attr]
    return f"they were sown and looked at ({_where(found)})" if found else ""


def _way(name: str) -> Check:
    """Return whether a treatment named as a way to open coats is none."""

    def check(bench: Bench, asked: Asked) -> str:
        found = re.search(name, asked.sentence)
        ways = re.split(r"; ", found[1]) if found else []
        closed = [w for w in ways if w in bench.methods and not bench.opens(w)]
        return f"{', '.join(closed)} opens no coat" if closed else ""

    return check


def _gently(bench: Bench, asked: Asked) -> str:
    return (
        "nothing was done to these seeds"
        if asked.seeds and bench.untreated(asked.seeds.treatment)
        else ""
    )


def _both_sown(bench: Bench, asked: Asked) -> str:
    opened = bench.of_lot(asked.lot, lambda d: bench.by_hand(d.seeds.treatment))
    plain = bench.of_lot(asked.lot, lambda d: bench.untreated(d.seeds.treatment))
    return f"both were sown ({_where([*opened, *plain])})" if opened and plain else ""


def _both_weighed(bench: Bench, asked: Asked) -> str:
    both = bench.weighed(asked.lot, bench.by_hand) and bench.weighed(asked.lot, bench.untreated)
    return "both were weighed" if both else ""


def _plain_there(bench: Bench, asked: Asked) -> str:
    own = bench.of_lot(
        asked.lot,
        lambda d: bench.untreated(d.seeds.treatment) and asked.experiment in ("", d.experiment),
    )
    return f"untreated seeds are there ({_where(own)})" if own else ""


def _at_zero(bench: Bench, asked: Asked) -> str:
    hours = [
        float(r["soaked_h"])
        for _, r in bench.reader.built.raw.rows("weighings")
        if r["lot"] == asked.lot and r.get("floats")
    ]
    return "seeds were looked at at 0 h" if hours and min(hours) == 0 else ""


def _where(dishes: Sequence[Kept]) -> str:
    return ", ".join(dict.fromkeys(d.experiment for d in dishes))


# words that ask for work → the kind of work → why there is none to do; the first that fits a sentence is taken
RULES: tuple[tuple[str, str, Check], ...] = (
    (r"Score the seeds that are left at the end", "score what was scored", _scored),
    (r"At the end, press or cut the seeds that did not germinate", "score what was scored", _experiment_scored),
    (r"[Cc]ut or stain the fresh seeds", "cut fresh seeds", _fates_known("fresh")),
    (r"Cut or stain the hard and fresh seeds at the end", "cut hard and fresh seeds", _fates_known("hard", "fresh")),
    (r"Open twenty of the hard seeds by hand", "open twenty hard seeds", _twenty_hard),
    (r"open the hard seeds \(chip or file them\)", "open hard seeds", _hard_opened),
    (r"Open the coats: chip twenty seeds by hand", "sow opened seeds beside", _already_open),
    (r"Sow hand-opened seeds of the same lot beside", "sow opened seeds beside, or test viability", _reference),
    (r"sow seeds opened by hand beside intact ones", "sow opened seeds beside (elsewhere in the study)", _both_sown),
    (r"germinate opened seeds .* beside intact ones", "sow opened seeds beside (elsewhere in the study)", _both_sown),
    (r"Open seeds of the same lot by hand and sow them beside", "sow opened seeds beside", _opened_there),
    (r"Sow untreated seeds of the same lot beside", "sow untreated seeds beside", _plain_there),
    (r"that takes untreated and hand-opened seeds, side by side", "sow opened beside untreated seeds", _side_by_side),
    (r"that takes opened seeds followed to their end", "follow opened seeds to their end", _opened_followed),
    (r"give some of the seeds a dormancy break", "break the dormancy", _break),
    (r"sow the same treatment at another temperature", "sow at another temperature", _other_warmth),
    (r"try opened seeds, or another temperature", "open seeds, or sow at another temperature", _opened_or_warmer),
    (r"Cut some of the seeds to see whether they are alive", "cut some seeds", _dead_known),
    (r"more may have been to come", "wait for more to come", _over),
    (r"sow at least three, better four", "sow three or four dishes", _dishes_enough),
    (r"With one dish to a curve nobody can see", "sow a second dish", _one_dish),
    (r"Sow seeds of this treatment and count", "sow the treatment", _sown),
    (r"Open the coats as", "open coats as no treatment does", _way(r"Open the coats as (\S+) did")),
    (r"Open the coats that way", "open coats as no treatment does", _way(r"after another treatment \(([^)]*)\)")),
    (r"Treat the seeds more gently", "treat more gently", _gently),
    (r"Chip or file some seeds one by one and weigh them beside", "weigh opened seeds beside", _both_weighed),
    (r"look earlier", "look earlier", _at_zero),
)  # fmt: skip


def violations(reader: Reader) -> list[Violation]:
    """Return the advice of a report for which there is no work left, or that nobody can follow."""
    bench = Bench(reader)
    found = [v for asked in every(reader) for v in _judged(bench, asked)]
    return list(dict.fromkeys(found))


def _judged(bench: Bench, asked: Asked) -> Iterator[Violation]:
    for words, kind, check in RULES:
        if re.search(words, asked.sentence):
            why = check(bench, asked)
            if why:
                name = str(asked.seeds) if asked.seeds else asked.lot or asked.experiment
                yield Violation(
                    f"advice: {kind}, where {_plain(why)}",
                    f"{asked.where}: {name}: “{asked.sentence[:200]}”; but {why}",
                )


def _plain(why: str) -> str:
    """Return a reason without the names of experiments and numbers, for counting."""
    return re.sub(r"\d+", "some", re.sub(r" \([a-z, ]+\)", "", why))


def every(reader: Reader) -> Iterator[Asked]:
    """Yield each sentence of the report that may ask for work."""
    yield from _of_diagnosis(reader)
    for name, page in reader.built.pages.items():
        if name.startswith("experiments/"):
            yield from _of_experiment(reader, name, page)
        elif name.startswith("lots/"):
            yield from _of_lot(name, sections(page)[0].title, sections(page)[0].body)
        elif name == "index":
            for section in sections(page)[1:]:
                yield from _of_lot(name, section.title, section.body)


def _of_diagnosis(reader: Reader) -> Iterator[Asked]:
    for group in reader.groups:
        seeds = reader.of_group(group)
        for sentence in dict.fromkeys([group["next_action"], *group["missing"]]):
            place = "next action" if sentence == group["next_action"] else "what would tell more"
            yield Asked(f"lot page, {place}", group["lot"], seeds, "", sentence)


def _of_lot(page: str, lot: str, body: str) -> Iterator[Asked]:
    """Yield the sentences on a lot as a whole; those in its table are of groups of seeds."""
    before = body.partition('<div class="scroll"')[0].partition("<figure")[0]
    for sentence in sentences(before):
        yield Asked(page, lot, None, "", sentence)


def _of_experiment(reader: Reader, page: str, body: str) -> Iterator[Asked]:
    experiment = page.partition("/")[2]
    tables = reader.built.raw.tables[experiment]
    lots = list(dict.fromkeys(r["lot"] for rows in tables.values() for r in rows if "lot" in r))
    alone = lots[0] if len(lots) == 1 else ""
    for section in sections(body):
        among = reader.in_experiment(experiment, section.anchor.replace("-", "_"))
        for line in section.body.split("\n"):
            words = text(line)
            if not words.startswith("- "):
                continue
            names, _, sentence = words.removeprefix("- ").partition(": ")
            named = [
                _meant(reader, part, among)
                for part in re.sub(r" and \d+ more$", "", names).split("; ")
            ]
            seeds = [s for s in named if s is not None]
            for one in seeds:
                yield Asked(page, one.lot, one, experiment, sentence)
            if not seeds:
                lot = next((lot for lot in lots if lot in words), alone)
                yield Asked(page, lot, None, experiment, words.removeprefix("- "))


def _meant(reader: Reader, name: str, among: Sequence[Seeds]) -> Seeds | None:
    """Return the seeds that a bullet begins with, None where it begins with a sentence."""
    before = len(reader.unread)
    found = reader.named(name, among, "advice")
    del reader.unread[before:]
    return found if found and found in reader.counted.seeds else None
