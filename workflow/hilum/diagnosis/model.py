"""The diagnosis of a study: for each lot, treatment, temperature and condition, fates, causes and what to do next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, fields
from typing import Any

import numpy as np

from hilum import fates
from hilum.analyses.estimate import Status, Tables
from hilum.analyses.rounding import percent
from hilum.diagnosis import counted, done, evidence, gather, lots, verdict
from hilum.diagnosis.agreement import agreements
from hilum.diagnosis.causes import CAUSES, MIXED, Bounds, Inferred, infer, infer_from_weighings
from hilum.diagnosis.counted import FRESH, HARD, Group, Shares
from hilum.diagnosis.references import References, Study, treatments
from hilum.diagnosis.words import NAMES, SETTLED
from hilum.stats.shares import ALL, NONE, Share

# shares that must hold at once: germinated, hard, fresh, dead, what the lot's reference and another place tell
_AT_ONCE = 6
# as they were seen: a fresh seed that was cut and found dead is dead as a cause only
_SEEN = {"germinated": ("germinated",), "hard": HARD, "fresh": (*FRESH, "fresh_dead")}
# what a time course calls all the dead together, where none died in another way
_QUANTITY = {"dead_or_empty": "dead"}
FATES: Mapping[str, tuple[str, ...]] = {
    name: _SEEN.get(name, fates.told()[own]) for name, own in NAMES.items()
}


@dataclass(frozen=True, kw_only=True)
class Findings:
    """What was found of one experiment: its checked tables, weighed shares, and verdicts on coats.

    `weighed` holds (lot, treatment) → value, low, high of the impermeable fraction; `coats` lot → verdict; `told` what its time
    course says of the seeds sown: (lot, treatment, °C as text, condition) → quantity → value, low, high.
    """

    tables: Tables
    weighed: Mapping[tuple[str, str], tuple[float, float, float]]
    coats: Mapping[str, str]
    told: Mapping[tuple[str, str, str, str], Mapping[str, tuple[float, float, float]]] = field(
        default_factory=dict
    )


# what each column of the diagnosis says, for dictionary and data package
MEANINGS = {
    "lot": "The seed lot.",
    "treatment": "The treatment.",
    "temperature_c": "Temperature in °C; empty for seeds that were weighed only.",
    "condition": "Light, night temperature, medium and storage in words; empty where plain.",
    "layer": "fate (counted on the dish) or cause (inferred).",
    "name": "The fate or the cause; each seed that did not germinate has one of each.",
    "fraction": "Share of the seeds sown, from 0 to 1; empty unless the status is estimated.",
    "low": "Lower end of the interval or bracket; those of all causes of a row's seeds hold at once, that of a fate alone.",
    "high": "Upper end of the interval or bracket.",
    "status": "estimated, or bracketed where the comparison that would settle it was not made.",
    "evidence": "What the figure rests on, with the experiment it comes from.",
    "needs": "What would settle a bracket.",
    "next_action": "What to do next with these seeds.",
}


@dataclass(frozen=True, kw_only=True)
class Row:
    """One fate or cause of one group: its share of the seeds sown."""

    lot: str
    treatment: str
    temperature_c: float | None
    condition: str
    layer: str
    name: str
    fraction: float | None
    low: float | None
    high: float | None
    status: Status
    evidence: str
    needs: str
    next_action: str


COLUMNS = tuple(f.name for f in fields(Row))


@dataclass(frozen=True)
class Diagnosis:
    """All rows, and the same by group and lot for the pages."""

    rows: tuple[Row, ...]
    drawing: Mapping[str, Any]


def diagnose(
    findings: Mapping[str, Findings],
    *,
    lot_table: Mapping[str, np.ndarray],
    treatment_table: Mapping[str, np.ndarray] | None,
    confidence: float,
    correlation_when_unknown: float,
) -> Diagnosis:
    """Return the diagnosis over all experiments (name → what was found there)."""
    tables = {name: found.tables for name, found in findings.items()}
    groups = counted.groups(gather.dishes(tables))
    at_once = 1 - (1 - confidence) / _AT_ONCE
    study = Study(
        groups=groups,
        shares=Shares(counted.correlation(groups, correlation_when_unknown), at_once),
        treatments=treatments(treatment_table),
        tested=gather.viability(tables),
        weighed=_weighed(findings, at_once, confidence),
        confidence=confidence,
        told=_told(findings, groups),
    )
    cases = [_case(group, study) for group in groups]
    cases += [
        _weighed_case(*key, study)
        for key in study.weighed
        if key not in {(g.lot, g.treatment) for g in groups}
    ]
    rows = tuple(row for case in cases for row in case.rows())
    return Diagnosis(
        rows,
        {
            "groups": [case.drawn() for case in cases],
            "lots": _lots(study, cases, findings, lot_table),
        },
    )


def _told(
    findings: Mapping[str, Findings], groups: Sequence[Group]
) -> dict[int, Mapping[str, Share]]:
    """Return what the experiment of a group says of its seeds; of those of several experiments none says all."""
    found: dict[int, Mapping[str, Share]] = {}
    for group in groups:
        names = list(group.by_experiment)
        key = (group.lot, group.treatment, *group.place)
        if len(names) == 1 and key in findings[names[0]].told:
            told = findings[names[0]].told[key]
            found[group.index] = {name: Share(*limits) for name, limits in told.items()}
    return found


def _weighed(
    findings: Mapping[str, Findings], at_once: float, confidence: float
) -> dict[tuple[str, str], tuple[Share, tuple[str, ...]]]:
    """Return the impermeable share of each lot and treatment: of several experiments that known best."""
    found: dict[tuple[str, str], tuple[Share, tuple[str, ...]]] = {}
    for name, one in findings.items():
        for key, limits in one.weighed.items():
            share = _widened(Share(*limits), np.log(1 - at_once) / np.log(1 - confidence))
            kept, where = found.get(key, (ALL, ()))
            better = key not in found or share.high - share.low < kept.high - kept.low
            found[key] = (share if better else kept, (*where, name))
    return found


def _widened(share: Share, ratio: float) -> Share:
    """Return a share with limits of a higher confidence.

    Distances on the scale of log odds grow as the root of log(1 − confidence), as those of a normal nearly do; the
    limit of a share of 0 or 1 is exact on the logarithm (the rule of three).
    """

    def odds(p: float) -> float:
        return float(np.log(p / (1 - p)))

    def back(x: float) -> float:
        return float(1 / (1 + np.exp(-x)))

    if not 0 < share.value < 1:
        low = share.low if share.value == 0 else share.low**ratio
        high = share.high if share.value == 1 else 1 - (1 - share.high) ** ratio
        return Share(share.value, low, high)
    middle, root = odds(share.value), float(np.sqrt(ratio))
    low = back(middle + root * (odds(share.low) - middle)) if share.low > 0 else 0.0
    high = back(middle + root * (odds(share.high) - middle)) if share.high < 1 else 1.0
    return Share(share.value, low, high)


# one group


@dataclass(frozen=True, kw_only=True)
class Case:
    """One group of seeds with everything that is said of it; `group` is None where seeds were only weighed."""

    lot: str
    treatment: str
    temperature_c: float | None
    condition: str
    group: Group | None
    fates: Mapping[str, Bounds]
    inferred: Inferred
    causes: tuple[str, ...]
    evidence: Sequence[evidence.Evidence]
    missing: Sequence[verdict.Missing]
    next_action: str
    disagreement: str
    at_its_best: bool
    untreated: bool

    def rows(self) -> list[Row]:
        """Return the rows of the group in diagnosis.csv."""
        seen = [self._row("fate", name, bounds) for name, bounds in self.fates.items()]
        causes = [
            self._row("cause", name, self.inferred.causes[name]) for name in (*CAUSES, *MIXED)
        ]
        return seen + causes

    def _row(self, layer: str, name: str, bounds: Bounds) -> Row:
        # a fate was seen or not, and what nobody scored is no figure of it
        allowed = SETTLED if layer == "cause" else 0.0
        settled = bounds.most.value - bounds.least.value <= allowed
        needs = ""
        if not settled:
            own = [m.needs for m in self.missing if name in m.causes or name in (*MIXED, *FATES)]
            needs = own[0] if own else "The comparisons made leave this open; sow more seeds."
        return Row(
            lot=self.lot,
            treatment=self.treatment,
            temperature_c=self.temperature_c,
            condition=self.condition,
            layer=layer,
            name=name,
            fraction=(bounds.least.value + bounds.most.value) / 2 if settled else None,
            low=bounds.low,
            high=bounds.high,
            status="estimated" if settled else "bracketed",
            evidence="; ".join(
                f"{e.experiment}: {e.says}" if e.experiment else e.says for e in self.evidence
            ),
            needs=needs,
            next_action=self.next_action,
        )

    def drawn(self) -> dict[str, Any]:
        """Return the group as pages and charts need it."""
        return {
            "lot": self.lot,
            "treatment": self.treatment,
            "temperature_c": self.temperature_c,
            "condition": self.condition,
            "seeds": self.group.seeds if self.group else 0,
            "sown": self.group is not None,
            "untreated": self.untreated,
            "lost": self.group.lost if self.group else 0.0,
            "ends_differ": self.group is not None and self.group.ends_differ,
            "assessed": self.group is not None and self.group.assessed,
            "unscored": self.group.total("unscored") / self.group.seeds if self.group else 0.0,
            "germinated": self.group.total("germinated") / self.group.seeds if self.group else None,
            "abnormal": self.group.abnormal / self.group.seeds if self.group else 0.0,
            "experiments": _by_experiment(self.group),
            "at_its_best": self.at_its_best,
            "fates": {name: _drawn(b) for name, b in self.fates.items()},
            "causes": {name: _drawn(b) for name, b in self.inferred.causes.items()},
            "named": list(self.causes),
            "evidence": [asdict(e) for e in self.evidence],
            "next_action": self.next_action,
            "missing": [m.needs for m in self.missing],
            "disagreement": self.disagreement,
            "replicates": [asdict(one) for one in agreements(self.group)],
        }


def _by_experiment(group: Group | None) -> list[dict[str, Any]]:
    """Return seeds and germinated share of each experiment that a group's seeds were sown in."""
    return [
        {
            "experiment": name,
            "seeds": sum(dish.seeds for dish in own),
            "germinated": sum(dish.total("germinated") for dish in own)
            / sum(dish.seeds for dish in own),
        }
        for name, own in (group.by_experiment if group else {}).items()
    ]


def _drawn(bounds: Bounds) -> dict[str, float]:
    return {
        "least": bounds.least.value,
        "most": bounds.most.value,
        "low": bounds.low,
        "high": bounds.high,
    }


def _case(group: Group, study: Study) -> Case:
    known = study.references(group)
    inferred = infer(group, known, study.shares)
    causes = verdict.named(one_by_one(group, study))
    lacking = verdict.missing(group, known, study.shares)
    degrees = group.key[2]
    dead = inferred.causes["nonviable"]
    alike = [g for g in study.of_lot(group.lot) if g.treatment == group.treatment]
    living = inferred.rest.value - (dead.least.value + dead.most.value) / 2
    return Case(
        lot=group.lot,
        treatment=group.treatment,
        temperature_c=None if np.isnan(degrees) else degrees,
        condition=group.key[3],
        group=group,
        fates=_fates(group, known, study),
        inferred=inferred,
        causes=causes,
        evidence=evidence.of_group(group, known),
        missing=lacking,
        next_action=verdict.next_action(
            group, known, causes, lacking, study, living_left=living if group.assessed else 1.0
        ),
        disagreement=_disagreement(group, known, study.shares),
        at_its_best=group is study.at_its_best(alike),
        untreated=study.treatments.intact(group.treatment),
    )


def one_by_one(group: Group, study: Study) -> Inferred:
    """Return the causes with limits that hold one at a time: the largest one is asked for, not all shares at once."""
    alone = study.one_by_one
    return infer(group, alone.references(group), alone.shares)


def _weighed_case(lot: str, treatment: str, study: Study) -> Case:
    weighed, where = study.weighed[lot, treatment]
    known = References(
        may_harm=study.treatments.may_harm(treatment),
        by_hand=study.treatments.by_hand(treatment),
        weighed=weighed,
        weighed_in=where,
    )
    inferred = infer_from_weighings(known)
    lacking = verdict.missing(None, known, study.shares)
    left = Bounds(NONE, weighed.rest())
    told = {name: Bounds(weighed, weighed) if name == "hard" else left for name in FATES}
    return Case(
        lot=lot,
        treatment=treatment,
        temperature_c=None,
        condition="",
        group=None,
        fates=told,
        inferred=inferred,
        causes=verdict.named(inferred),
        evidence=evidence.of_group(None, known),
        missing=lacking,
        next_action=lacking[0].needs,
        disagreement="",
        at_its_best=True,
        untreated=study.treatments.intact(treatment),
    )


def _fates(group: Group, known: References, study: Study) -> dict[str, Bounds]:
    """Return the fates as counted; where nobody looked, what was left is any of them."""
    told = {name: study.figure(group, _QUANTITY.get(name, name), *e) for name, e in FATES.items()}
    if group.assessed:
        shares = study.one_by_one.shares
        most = {name: shares.of(group, *ends, "unscored") for name, ends in FATES.items()}
        settled = not group.total("unscored")
        return {
            name: Bounds(share, share if settled or name == "germinated" else most[name])
            for name, share in told.items()
        }
    left = Bounds(NONE, told["germinated"].rest())
    weighed = left if known.weighed is None else Bounds(NONE, known.weighed.at_most(left.most))
    return {
        name: Bounds(share, share) if name == "germinated" else weighed if name == "hard" else left
        for name, share in told.items()
    }


def _disagreement(group: Group, known: References, shares: Shares) -> str:
    """Return in words where two samples of the same seeds say different things."""
    return " ".join(part for part in (_coats(group, known, shares), _dead(known)) if part)


def _dead(known: References) -> str:
    """Return in words where hand-opened and untreated seeds show different shares of dead ones."""
    if not known.disputed or known.dead is None:
        return ""
    least, most = known.dead.least.value, known.dead.most.value
    return (
        f"Opened and untreated seeds disagree: {percent(most)} of the seeds opened by hand were dead, {percent(least)} of "
        "the untreated ones. Opening or swelling at once may have killed some, or dead ones were taken for living when they "
        "were cut. So dead seed and harm are not told apart here."
    )


def _coats(group: Group, known: References, shares: Shares) -> str:
    """Return in words where seeds that were weighed and dishes that were scored say different things."""
    if known.weighed is None or not group.assessed:
        return ""
    hard = shares.of(group, *HARD)
    one, other = hard - known.weighed, known.weighed - hard
    if max(one.low, other.low) <= 0:
        return ""
    return (
        f"Weighed seeds and dishes disagree: {percent(known.weighed.value)} of the weighed seeds took up no water, "
        f"{percent(hard.value)} of the sown seeds were hard at the end. Coats may have opened during the test, or "
        "the two samples differ."
    )


# lots


def _lots(
    study: Study,
    cases: Sequence[Case],
    findings: Mapping[str, Findings],
    table: Mapping[str, np.ndarray],
) -> list[dict[str, Any]]:
    expected = dict(
        zip(table["lot"].tolist(), table["expected_germination_pct"].tolist(), strict=True)
    )
    names = dict.fromkeys([*(str(lot) for lot in expected), *(case.lot for case in cases)])
    made = []
    for lot in names:
        coats = [verdict for found in findings.values() if (verdict := found.coats.get(lot))]
        dormant = {
            (case.treatment, case.group.place[0])
            for case in cases
            if case.lot == lot and case.group and case.inferred.causes["other_dormancy"].low > 0
        }
        typed = expected.get(lot, np.nan)
        wanted = None if np.isnan(typed) else typed / 100
        work = done.of_lot(lot, {n: f.tables for n, f in findings.items()}, study.treatments)
        made.append(asdict(lots.sum_up(lot, study, coats, dormant, wanted, work)))
    return made
