"""Weighings of soaking seeds, drawn by code that shares nothing with the analysis, and how well calls fare.

`python -m tests.soaked 400` prints the table of misclassified seeds, calibration and coverage.
"""

import sys
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from types import SimpleNamespace

import numpy as np

from hilum.analyses.imbibition import model

SETTINGS = SimpleNamespace(confidence=0.95, dish_correlation_when_unknown=0.05)
SEVEN = (0.0, 2.0, 4.0, 8.0, 24.0, 48.0, 72.0)
TWO = (0.0, 72.0)


@dataclass(frozen=True, kw_only=True)
class Design:
    """One simulated experiment: half of the seeds impermeable, 15 % opening at any hour of the test."""

    seeds: int = 20
    mass: float = 200.0
    mass_cv: float = 0.15
    balance: float = 1.0
    readability: float = 1.0
    film: float = 0.02
    film_cv: float = 0.5
    impermeable: float = 0.5
    late: float = 0.15
    hours: tuple[float, ...] = SEVEN
    plateau: float = 1.0
    plateau_cv: float = 0.15
    half_time: float = 8.0
    speed_cv: float = 0.3
    peleg: bool = False
    # what the model does not know of
    own_film: float = 0.0  # sd of the logarithm of a seed's own film: rough seeds hold more
    session: float = 0.0  # sd of a shift of all films of one weighing: moist air, a wet cloth
    two_sizes: bool = False  # a lot sieved from two, one twice as heavy
    early_openers: bool = False  # late seeds open soon rather than at any hour
    loss: float = 0.0  # of the mass, that dissolves evenly until the last weighing


Lot = Callable[[np.random.Generator], Design]


def any_lot(base: Design) -> Lot:
    """Return what draws one lot of those that may come, after the words in which the analysis gives its priors.

    Of one lot near their middle a probability may be off and honest over all; over all it must hold.
    """

    def one(rng: np.random.Generator) -> Design:
        def about(middle: float, spread: float) -> float:
            return middle * float(np.exp(spread * rng.standard_normal()))

        opens = 1 / (1 + about(np.exp(2.0), 1.0))  # of the closed coats, before the last weighing
        closed = 1.0
        while closed >= 1.0:
            closed = float(rng.beta(0.5, 0.5)) / (1 - opens)
        error = about(base.readability, 0.4)  # of a weighing, its rounding included
        return replace(
            base,
            mass_cv=about(0.16, 0.35),
            balance=np.sqrt(max(error**2 - base.readability**2 / 12, 0.0)),
            film=about(0.02, 0.5),
            film_cv=about(0.5, 0.3),
            impermeable=closed * (1 - opens),
            late=closed * opens,
            plateau=about(1.1, 0.3),
            plateau_cv=about(0.15, 0.3),
            half_time=about(8.0, 0.8),
            speed_cv=about(0.3, 0.3),
        )

    return one


@dataclass(frozen=True)
class Drawn:
    """What was drawn: masses (seeds, weighings), and when water got in, infinite where it did not."""

    mass: np.ndarray
    onset: np.ndarray


def draw(design: Design, rng: np.random.Generator) -> Drawn:
    """Return one experiment of the design."""
    n, hours = design.seeds, np.array(design.hours)
    mass = design.mass * np.exp(design.mass_cv * rng.standard_normal(n))
    if design.two_sizes:
        mass *= np.where(rng.random(n) < 0.5, 1.0, 2.0)
    sort = rng.random(n)
    late = rng.uniform(0, hours[-1], n)
    if design.early_openers:
        late = np.minimum(rng.exponential(hours[-1] / 5, n), 0.999 * hours[-1])
    opens = np.where(sort < design.impermeable + design.late, late, 0.0)
    onset = np.where(sort < design.impermeable, np.inf, opens)
    since = np.clip(hours - onset[:, None], 0, None) / (
        design.half_time * np.exp(design.speed_cv * rng.standard_normal(n))[:, None]
    )
    share = since / (1 + since) if design.peleg else 1 - 2.0**-since
    final = design.plateau * np.exp(design.plateau_cv * rng.standard_normal(n))[:, None]
    shape = design.film_cv**-2
    film = rng.gamma(shape, design.film / shape, (n, len(hours)))
    film *= np.exp(design.own_film * rng.standard_normal((n, 1)))
    film *= np.exp(design.session * rng.standard_normal(len(hours)))
    film[:, hours == 0] = 0
    true = mass[:, None] * (1 + film + final * share - design.loss * hours / hours[-1])
    shown = true + design.balance * rng.standard_normal(true.shape)
    step = design.readability
    return Drawn(np.maximum(np.round(shown / step), 1) * step, onset)


def tables(design: Design, drawn: Drawn) -> dict[str, dict[str, np.ndarray]]:
    """Return the experiment as the checked tables that `fit` reads."""
    n, k = drawn.mass.shape
    text = {"lot": "lot", "treatment": "intact", "batch": "", "dish": ""}
    weighings = {name: np.full(n * k, value) for name, value in text.items()}
    weighings |= {
        "seed": np.repeat([f"s{i:03d}" for i in range(n)], k),
        "seeds": np.ones(n * k),
        "soaked_h": np.tile(design.hours, n),
        "mass_mg": drawn.mass.ravel(),
        "floats": np.full(n * k, np.nan),
        "radicle": np.full(n * k, np.nan),
    }
    experiment = {"balance_readability_mg": np.array([design.readability])}
    return {"weighings": weighings, "experiment": experiment}


@dataclass
class Record:
    """What came of many experiments of one design."""

    probability: list[float] = field(default_factory=list)
    closed: list[bool] = field(default_factory=list)
    gain: list[float] = field(default_factory=list)
    error_mg: list[float] = field(default_factory=list)
    fraction_covers: list[bool] = field(default_factory=list)
    fraction_width: list[float] = field(default_factory=list)
    half_time_covers: list[bool | None] = field(default_factory=list)
    plateau_covers: list[bool | None] = field(default_factory=list)
    onset_covers: list[bool] = field(default_factory=list)
    late_onset_covers: list[bool] = field(default_factory=list)
    late_onset_error: list[float] = field(default_factory=list)

    @property
    def wrong(self) -> float:
        """Return the share of seeds on the wrong side of even odds."""
        return float(np.mean((np.array(self.probability) > 0.5) != self.closed))

    def wrong_at(self, threshold: float) -> float:
        """Return the share of seeds that a fixed threshold of the final gain gets wrong."""
        return float(np.mean((np.array(self.gain) < threshold) != self.closed))

    @property
    def hard_called_imbibed(self) -> int:
        """Return how many impermeable seeds were called imbibed."""
        called = np.array(self.probability) <= 1 - SETTINGS.confidence
        return int((called & np.array(self.closed)).sum())

    @property
    def oracle(self) -> float:
        """Return the same for the best fixed threshold, chosen with the truth in hand."""
        return min(self.wrong_at(threshold) for threshold in np.linspace(0, 1.5, 301))

    @property
    def calibration_error(self) -> float:
        """Return the expected calibration error over ten equal bins of the probability."""
        p, closed = np.array(self.probability), np.array(self.closed)
        place = np.minimum((10 * p).astype(int), 9)
        gaps = (abs((p - closed)[place == b].sum()) for b in range(10))
        return float(sum(gaps) / len(p))


def run(lot: Design | Lot, experiments: int, seed: int) -> Record:
    """Return what the analysis makes of so many experiments of a design, or of as many lots."""
    record = Record()
    for place in range(experiments):
        rng = np.random.default_rng([seed, place])
        design = lot if isinstance(lot, Design) else lot(rng)
        drawn = draw(design, rng)
        found = model.fit(tables(design, drawn), settings=SETTINGS, rng=rng)
        _note(record, design, drawn, found)
    return record


def _note(record: Record, design: Design, drawn: Drawn, found) -> None:
    by_name = {e.quantity: e for e in found.estimates}
    fraction = by_name["impermeable_fraction"]
    record.fraction_covers.append(_covers(fraction, design.impermeable))
    record.fraction_width.append(fraction.high - fraction.low)
    record.half_time_covers.append(_covers(by_name["half_time"], design.half_time))
    record.plateau_covers.append(_covers(by_name["plateau_uptake"], 100 * design.plateau))
    record.error_mg.append(found.drawing.balance.error_mg.value)
    record.closed += np.isinf(drawn.onset).tolist()
    record.gain += (drawn.mass[:, -1] / drawn.mass[:, 0] - 1).tolist()
    for row, onset in zip(found.rows["seeds"], drawn.onset, strict=True):
        record.probability.append(row["p_impermeable"])
        if row["onset_h"] is None or np.isinf(onset):
            continue
        covers = row["onset_low_h"] <= onset <= row["onset_high_h"]
        record.onset_covers.append(covers)
        if onset > 0:
            record.late_onset_covers.append(covers)
            record.late_onset_error.append(abs(row["onset_h"] - onset))


def _covers(estimate, truth: float) -> bool | None:
    if estimate.low is None or estimate.high is None:
        return None
    return bool(estimate.low <= truth <= estimate.high)


FALSE_DIGITS = Design(mass=10.0, balance=1.0, readability=0.01)
DESIGNS = {
    "200 mg, 2 %": Design(),
    "200 mg, 4 %": Design(film=0.04),
    "20 mg": Design(mass=20.0),
    "10 mg": Design(mass=10.0),
    "5 mg": Design(mass=5.0),
    "200 mg, two": Design(hours=TWO),
    "200 mg, 4 %, two": Design(film=0.04, hours=TWO),
    "20 mg, two": Design(mass=20.0, hours=TWO),
    "10 mg, two": Design(mass=10.0, hours=TWO),
    "5 mg, two": Design(mass=5.0, hours=TWO),
    "8 seeds": Design(seeds=8),
    "100 seeds, 20 mg": Design(seeds=100, mass=20.0),
    "few impermeable": Design(impermeable=0.05),
    "few imbibing": Design(impermeable=0.9, late=0.05),
    "Peleg": Design(peleg=True),
    "false digits": FALSE_DIGITS,
    "false digits, two": replace(FALSE_DIGITS, hours=TWO),
    "false digits, few": replace(FALSE_DIGITS, seeds=4, hours=(0.0, 24.0, 72.0)),
    "false digits, all hard": replace(FALSE_DIGITS, impermeable=1.0, late=0.0),
    "false digits, all imbibing": replace(FALSE_DIGITS, impermeable=0.0, late=0.0),
    "false digits, thick film": replace(FALSE_DIGITS, film=0.06),
    "200 mg, fine": Design(balance=0.1, readability=0.1),
    "breaks: seeds lose a tenth, fine": Design(balance=0.1, readability=0.1, loss=0.1),
    "5 mg, two, any lot": any_lot(Design(mass=5.0, hours=TWO)),
    "10 mg, two, any lot": any_lot(Design(mass=10.0, hours=TWO)),
    "breaks: rough seeds, wet sessions": Design(own_film=0.4, session=0.3),
    "breaks: two sizes, 10 mg": Design(two_sizes=True, mass=10.0),
    "breaks: early openers, slow": Design(early_openers=True, half_time=20.0, film_cv=0.8),
}


def _percent(values: list[bool | None]) -> str:
    given = [v for v in values if v is not None]
    if not given:
        return "     –     "
    return f"{100 * np.mean(given):5.1f} ({100 * len(given) / len(values):3.0f})"


def main(words: list[str], say: Callable[[str], None] = print) -> None:
    """Print the table for so many experiments of each design whose name holds the second word."""
    experiments, wanted = int(words[0]), words[1] if len(words) > 1 else ""
    say(
        "misclassified seeds, %, by mixture, best threshold, 10 % and 20 % rule; expected calibration error; "
        "coverage, % (of so many % of the experiments that got an interval)"
    )
    say(
        f"{'design':34} mix    best   10 %   20 %   ECE    fraction    width half-time   plateau     "
        "onset       late onset  error h"
    )
    for place, (name, design) in enumerate(DESIGNS.items()):
        if wanted not in name:
            continue
        r = run(design, experiments, place)
        parts = [100 * x for x in (r.wrong, r.oracle, r.wrong_at(0.1), r.wrong_at(0.2))]
        say(
            f"{name:34}"
            + "".join(f"{x:6.2f} " for x in parts)
            + f"{r.calibration_error:6.4f} {_percent(r.fraction_covers)} {np.median(r.fraction_width):5.2f} "
            + f"{_percent(r.half_time_covers)} {_percent(r.plateau_covers)} {_percent(r.onset_covers)} "
            + f"{_percent(r.late_onset_covers)} {np.median(r.late_onset_error or [np.nan]):5.2f}"
        )


if __name__ == "__main__":
    main(sys.argv[1:])
