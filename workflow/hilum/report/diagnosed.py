"""The diagnosis in words: each lot in a few sentences and one table for home, and all of it on a page of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from markupsafe import Markup

from hilum import fates as fates_of
from hilum.analyses.estimate import Estimate
from hilum.analyses.rounding import percent
from hilum.diagnosis.words import CAUSES, NAMES, figure, place, place_of, settled, usual_place
from hilum.markup import address, escape, slug
from hilum.report import grid
from hilum.report.numbers import GAP, interval, number

Group = Mapping[str, Any]
FATES = {name: fates_of.BY_NAME[ends].title for name, ends in NAMES.items()}
# home is one screen: the places of a treatment where something else held seeds back
_MORE_PLACES = 3
# of the seeds sown: home names abnormal seedlings where they are more than a stray one or two
_MANY_ABNORMAL = 0.05
_SEVERAL, _NONE = "not told apart", "nearly all germinated"


@dataclass(frozen=True)
class Diagnosed:
    """The diagnosis as read back from disk; `pages` names the page of each lot."""

    groups: Sequence[Group]
    lots: Sequence[Mapping[str, Any]]
    pages: Mapping[str, str]

    def of_lot(self, lot: str) -> list[Group]:
        """Return the groups of a lot."""
        return self._by_lot.get(lot, [])

    @cached_property
    def _by_lot(self) -> dict[str, list[Group]]:
        found: dict[str, list[Group]] = {}
        for group in self.groups:
            found.setdefault(group["lot"], []).append(group)
        return found


def in_order(groups: Sequence[Group], treatments: Sequence[str]) -> list[Group]:
    """Return groups as pages list them: treatments as the study's own table does, the coldest place of each first."""
    place = {treatment: i for i, treatment in enumerate(dict.fromkeys(treatments))}

    def key(group: Group) -> tuple[int, bool, float]:
        degrees = group["temperature_c"]
        return place.get(group["treatment"], len(place)), degrees is None, degrees or 0.0

    return sorted(groups, key=key)


def pages_of(lots: Sequence[str]) -> dict[str, str]:
    """Return a file name for the page of each lot: its own name in plain letters, numbered where two agree."""
    found: dict[str, str] = {}
    for lot in lots:
        plain = slug(lot)[:60] or "lot"
        taken = [name for name in found.values() if name == plain or name.startswith(f"{plain}--")]
        found[lot] = f"{plain}--{len(taken) + 1}" if taken else plain
    return found


def interval_of(bounds: Mapping[str, float]) -> Markup:
    """Return a share with its interval, or its bracket."""
    has_figure, value = settled(bounds), figure(bounds)
    return interval(
        Estimate(
            quantity="hard",
            value=value if has_figure else None,
            low=min(bounds["low"], value),
            high=max(bounds["high"], value),
            unit="fraction",
            status="estimated" if has_figure else "bracketed",
            method="diagnosis",
            needs="" if has_figure else "see there",
        )
    )


def anchor(group: Group) -> str:
    """Return where the diagnosis page tells of a group."""
    return slug(group["treatment"], place(group))


def lot_words(lot: Mapping[str, Any], groups: Sequence[Group]) -> list[Markup]:
    """Return what is known of a lot as a whole, in sentences: what holds back most of it, then coats and shortfall.

    `groups` are all of its groups.
    """
    said = [_main_cause(groups), _coats(lot, groups)]
    if lot["waiting_at_most"]:
        most = percent(lot["waiting_at_most"])
        said.append(escape(f"At most {most} of the opened seeds may wait for something else."))
    short = lot["shortfall"]
    if short is not None:
        said.append(_shortfall(short) + _held_back(short, groups))
    return [sentence for sentence in said if sentence]


def _untreated(groups: Sequence[Group]) -> Group | None:
    """Return the untreated seeds of a lot where they did best, None where none were sown."""
    return next((g for g in groups if g["untreated"] and g["sown"] and g["at_its_best"]), None)


def _main_cause(groups: Sequence[Group]) -> Markup:
    """Return what holds back most of the untreated seeds of a lot."""
    group = _untreated(groups)
    if group is None:
        return Markup("")
    if not group["named"]:
        return Markup("Nearly all untreated seeds germinate.")
    if len(group["named"]) > 1:
        failed = percent(1 - group["germinated"])
        return Markup("Of the untreated seeds {} did not germinate: {}.").format(
            failed, escape(_unclear(group))
        )
    cause = group["named"][0]
    bounds = group["causes"][cause]
    most = figure(bounds) > _MOST
    return _HOLDS[cause].format(
        "Most of these seeds" if most else "Many of these seeds", interval_of(bounds)
    )


_MOST = 0.5
_HOLDS = {
    "impermeable_coat": Markup("{} are held back by closed coats: {}."),
    "nonviable": Markup("{} are dead: {}."),
    "harmed": Markup("{} were harmed: {}."),
    "other_dormancy": Markup("{} wait, with another dormancy than that of the coat: {}."),
    "conditions": Markup("{} wait for other conditions: {}."),
}


def _unclear(group: Group) -> str:
    """Return the causes that are not told apart, or that too many are left to list."""
    named = group["named"]
    if len(named) <= _FEW_CAUSES:
        return f"{' or '.join(CAUSES[n] for n in named)}, not told apart"
    return "cause not clear"


_FEW_CAUSES = 2


def _coats(lot: Mapping[str, Any], groups: Sequence[Group]) -> Markup:
    """Return the one verdict on the coats of a lot, and on what lies behind them, in a sentence."""
    text = _dormancy(lot)
    group = _untreated(groups)
    behind = group["causes"]["impermeable_coat"] if group else None
    if (
        lot["physical_dormancy"] == "shown"
        and group
        and group["named"] == ["nonviable"]
        and behind
        and settled(behind)
    ):
        rest = f"Closed coats hold back the living rest, {percent(figure(behind))}"
        text = text.replace("Closed coats hold water out", rest, 1)
    return escape(text)


def _dormancy(lot: Mapping[str, Any]) -> str:
    """Return the verdict on the coats of a lot, and on another dormancy, in sentences."""
    coat, second, done = lot["physical_dormancy"], lot["second"], lot["done"]
    if coat == "shown":
        return f"Closed coats hold water out (physical dormancy){_BEHIND[second]}"
    if coat == "not_found":
        return f"The coats let water in: no physical dormancy was found{_NO_COAT[second]}"
    said = _COATS[coat]
    if coat == "untested" and done["intact_sown"] and done["opened_sown"]:
        said = _UNSCORED
    return said + _BESIDE[second]


_COATS = {
    "hard": "Untreated seeds stay hard: their coats hold water out. Whether opened seeds take it up and germinate was not tested: sow some "
    "beside them.",
    "open": "Whether coats hold water out of untreated seeds is not settled: sow more of them, opened and not, side by side.",
    "disputed": "Whether coats hold water out is not settled: of the untreated seeds those that were weighed and those that were sown, "
    "or two experiments, say different things. Weigh intact seeds of those that are sown.",
    "untested": "Whether the coats hold water out was not tested: that takes untreated and hand-opened seeds, side by side.",
}
_UNSCORED = "Whether the coats hold water out is not known: score what is left of the untreated and of the hand-opened seeds."
_BEHIND = {
    "alone": ": opened by hand, the living seeds germinate.",
    "combined": ", and another dormancy lies behind: opened seeds stay alive and wait.",
    "open": ". Whether another dormancy lies behind it is not settled: too few opened seeds tell.",
    "untested": ". Whether another dormancy lies behind it was not tested: that takes opened seeds followed to their end.",
}
_NO_COAT = {
    "alone": ", and opened seeds germinate.",
    "combined": ", but another dormancy holds seeds back.",
    "open": ".",
    "untested": ".",
}
_BESIDE = {
    "alone": " Opened seeds germinate.",
    "combined": " Another dormancy holds seeds back.",
    "open": "",
    "untested": "",
}


def _shortfall(short: Mapping[str, Any]) -> Markup:
    """Return how many seeds germinated at best beside how many were expected."""
    where = place_of(*short["place"])
    found = interval_of(
        {
            "least": short["germinated"],
            "most": short["germinated"],
            "low": short["low"],
            "high": short["high"],
        }
    )
    what = Markup("{}{}, {} germinated. The lot was expected to reach {}: ").format(
        escape(short["treatment"]),
        escape(f" and kept at {where}") if where else "",
        found,
        number(short["expected"], "fraction"),
    )
    what = what[0].upper() + what[1:]
    more = short["germinated"] >= short["expected"]
    if more:
        return what + "it does."
    # the interval reaches the figure that was expected although the test says otherwise, or the other way round
    if short["high"] >= short["expected"] or short["p"] > 0.05:
        return what + "whether it does is open."
    chance = "p < 0.001" if short["p"] < 0.001 else f"p = {short['p']:.2g}"
    return what + escape(f"it surely falls short ({chance}).")


def _held_back(short: Mapping[str, Any], groups: Sequence[Group]) -> Markup:
    """Return what held back the others of the seeds that fell short, where one cause did."""
    for group in groups:
        here = group["at_its_best"] and group["treatment"] == short["treatment"]
        if here and len(group["named"]) == 1 and short["germinated"] < short["expected"]:
            cause = group["named"][0]
            return Markup(" What held most of the others back: {}, {} of the seeds.").format(
                CAUSES[cause], interval_of(group["causes"][cause])
            )
    return Markup("")


def home_place(groups: Sequence[Group]) -> str:
    """Return the place of most lines of a lot's table, where nothing else is said."""
    return usual_place(_for_home(groups))


def home_table(groups: Sequence[Group], page: str) -> Markup:
    """Return the table of a lot: what held seeds back, in which treatments and places, and what to do next."""
    chosen, usual = _for_home(groups), home_place(groups)
    together: dict[str, list[Group]] = {}
    for group in chosen:
        together.setdefault(_kind(group), []).append(group)
    lines = [_line(kind, own, usual, page) for kind, own in together.items()]
    heads = ["why the others did not germinate", "seeds", "what next"]
    return grid.grid(heads, lines, f"What was found for lot {groups[0]['lot']}", stacked=True)


def overview(found: Diagnosed, lots: Sequence[Mapping[str, str]]) -> Markup:
    """Return one line for each lot: what most of its seeds did at best, and what held back the others."""
    lines = []
    for row in lots:
        link = Markup('<a href="{}">{}</a>').format(
            address("lots", f"{found.pages[row['lot']]}.html"), escape(row["lot"])
        )
        groups = [g for g in found.of_lot(row["lot"]) if g["sown"]]
        best = max(
            (g for g in groups if g["at_its_best"]),
            key=lambda g: float(g["germinated"]),
            default=None,
        )
        if best is None:
            lines.append([link, row["taxon"], "not sown", "", ""])
            continue
        share = number(best["germinated"], "fraction", half_width=0.01)
        causes = dict.fromkeys(CAUSES[g["named"][0]] for g in groups if len(g["named"]) == 1)
        lines.append([link, row["taxon"], share, best["treatment"], ", ".join(causes)])
    heads = ["lot", "taxon", "germinated at best", "after", "main causes of failure"]
    return grid.grid(heads, lines, "Lots of the study")


def _for_home(groups: Sequence[Group]) -> list[Group]:
    chosen: list[Group] = []
    for treatment in dict.fromkeys(group["treatment"] for group in groups):
        own = [group for group in groups if group["treatment"] == treatment]
        best = next(g for g in own if g["at_its_best"])
        others = [
            g
            for g in own
            if g is not best
            and len(g["named"]) == 1
            and g["named"] != best["named"]
            and _surely_worse(g, best)
        ]
        told: dict[str, Group] = {}
        for group in others:
            told.setdefault(group["named"][0], group)
        chosen += [best, *list(told.values())[:_MORE_PLACES]]
    return chosen


def _surely_worse(group: Group, best: Group) -> bool:
    """Return whether fewer seeds of a group germinated than of the best one, by intervals that lie apart."""
    if not group["sown"] or not best["sown"]:
        return True
    here, there = (float(g["fates"]["germinated"][e]) for g, e in ((group, "high"), (best, "low")))
    return here < there


def _kind(group: Group) -> str:
    named = group["named"]
    return CAUSES[named[0]] if len(named) == 1 else _SEVERAL if named else _NONE


def _line(kind: str, groups: Sequence[Group], usual: str, page: str) -> list[object]:
    seeds = Markup("").join(_seeds(group, usual, page) for group in groups)
    actions = list(dict.fromkeys(group["next_action"] for group in groups))
    told = Markup("").join(
        Markup('<span class="finding">{}{}</span>').format(
            _who(actions, action, groups), escape(action.replace(" %", f"{GAP}%"))
        )
        for action in actions
    )
    return [kind, seeds, told]


def _who(actions: Sequence[str], action: str, groups: Sequence[Group]) -> Markup:
    """Return the treatments that an action is for, where a line has several actions."""
    if len(actions) == 1:
        return Markup("")
    names = dict.fromkeys(g["treatment"] for g in groups if g["next_action"] == action)
    return Markup("<em>{}:</em> ").format(escape(", ".join(names)))


def _seeds(group: Group, usual: str, page: str) -> Markup:
    """Return one group: its name with a link, how many germinated, and the share of what held back the others."""
    link = Markup('<a href="{}#{}">{}</a>').format(
        address("lots", f"{page}.html"), anchor(group), escape(group["treatment"])
    )
    where = place(group)
    if where and where != usual:
        link += escape(f" at {where}")
    if not group["sown"]:
        return Markup('<span class="finding">{}: weighed, not sown</span>').format(link)
    share = interval_of(group["fates"]["germinated"])
    told = Markup('{}: <span class="figure">{}</span> germinated').format(link, share)
    if len(group["experiments"]) > 1:
        told += Markup('<span class="note">{}</span>').format(_pooled(group))
    for said in which_seeds(group):
        told += Markup('<span class="note">{}</span>').format(escape(said))
    if group["abnormal"] >= _MANY_ABNORMAL:
        told += Markup(
            '<span class="note">abnormal seedlings among them: {} of the seeds</span>'
        ).format(percent(group["abnormal"]))
    named = group["named"]
    if len(named) == 1:
        cause = interval_of(group["causes"][named[0]])
        told += Markup('<span class="note">{} <span class="figure">{}</span></span>').format(
            escape(CAUSES[named[0]]), cause
        )
    elif named:
        told += Markup('<span class="note">{}</span>').format(escape(_why_unclear(group)))
    return Markup('<span class="finding">{}</span>').format(told)


def which_seeds(group: Group) -> list[str]:
    """Return of which seeds, and by when, the shares of a group are, where that is not all of them and one time."""
    said = []
    if group["lost"]:
        said.append(f"{group['lost']:g} lost or sampled seeds left out")
    if group["ends_differ"]:
        said.append("each dish at its own last look")
    return said


def _why_unclear(group: Group) -> str:
    """Return why no cause is named: which are not told apart, or that too few seeds failed to say."""
    failed = 1 - group["germinated"]
    if len(group["named"]) <= _FEW_CAUSES:
        return _unclear(group)
    few = ", too few to say why" if failed <= _FEW_FAILED else ""
    return f"cause not clear: {percent(failed)} did not germinate{few}"


_FEW_FAILED = 0.25


def _pooled(group: Group) -> Markup:
    """Return that seeds of several experiments are told together, with the figure of each."""
    each = Markup(", ").join(
        Markup('{} in <a href="{}">{}</a>').format(
            percent(one["germinated"]),
            address("experiments", f"{one['experiment']}.html"),
            escape(one["experiment"]),
        )
        for one in group["experiments"]
    )
    return Markup("{} experiments together: {}").format(len(group["experiments"]), each)


def group_table(group: Group) -> Markup:
    """Return the causes of a group with their shares, those that could explain anything."""
    lines: list[list[object]] = [
        [CAUSES[cause], Markup('<span class="figure">{}</span>').format(interval_of(bounds))]
        for cause, bounds in group["causes"].items()
        if bounds["high"] > 0
    ]
    return grid.grid(
        ["cause", "of the seeds sown"],
        _ordered(lines),
        f"Causes: {group['treatment']}, {place(group)}",
    )


def _ordered(lines: list[list[object]]) -> list[list[object]]:
    order = list(CAUSES.values())
    return sorted(lines, key=lambda line: order.index(str(line[0])))


def fates(group: Group) -> str:
    """Return the fates of a group in one line."""
    told = [
        f"{FATES[name]} {percent(group['fates'][name]['least'])}"
        for name in FATES
        if group["fates"][name]["least"] > 0
    ]
    if group["abnormal"]:
        told[0] += f" ({percent(group['abnormal'])} abnormal)"
    if group["unscored"]:
        told.append(f"not scored {percent(group['unscored'])}")
    return ", ".join(told)


def evidence(group: Group) -> list[Markup]:
    """Return the evidence of a group, with links to the experiments."""
    made = []
    for piece in group["evidence"]:
        said = escape(piece["says"])
        if piece["experiment"]:
            page = address("..", "experiments", f"{piece['experiment']}.html")
            said = Markup('<a href="{}">{}</a>: {}').format(page, escape(piece["experiment"]), said)
        made.append(said)
    return made


def in_full(group: Group) -> dict[str, Any]:
    """Return a group as the page of its lot tells it."""
    where = place(group)
    return {
        **group,
        "title": f"{group['treatment']}, {where}" if where else group["treatment"],
        "which": which_seeds(group),
        "anchor": anchor(group),
        "fates": fates(group),
        "named": [CAUSES[cause] for cause in group["named"]],
        "table": group_table(group),
        "evidence": evidence(group),
    }
