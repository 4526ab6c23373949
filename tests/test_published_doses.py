"""Dose engines against published fits: a probit with dispersion, and a quadratic optimum of acid."""

import numpy as np
import pytest
from scipy.special import ndtr
from scipy.stats import t

from hilum.analyses.scarification import best, sown
from hilum.analyses.scarification.doses import Series
from hilum.stats import viability

# dead of 30.5 on average at four doses, three times: an example of a mailing list on R (R-help, 2006), with its answer
DEAD = np.array([0.0, 7, 26, 27, 0, 5, 13, 29, 0, 4, 11, 25])
DOSES = np.tile([10.0, 40.0, 160.0, 640.0], 3)


def _probit(monkeypatch):
    """Return the probit fit of survival on log10 dose, without the weak terms that a short test of stored seed needs."""
    monkeypatch.setattr(viability, "_WEAK_PRECISION", np.zeros(2))
    seeds = np.full(len(DEAD), 30.5)
    return viability.fit(viability.Stored(np.log10(DOSES), seeds, seeds - DEAD))


def _dispersion(fitted):
    stored = fitted.stored
    v = ndtr(viability.probit(stored, fitted.parameters, stored.days))
    residual = (stored.alive - stored.seeds * v) ** 2 / (stored.seeds * v * (1 - v))
    return residual.sum() / (len(v) - 2)


def test_the_probit_of_a_dose_is_the_published_one_with_its_interval(monkeypatch):
    fitted = _probit(monkeypatch)
    ed50 = viability.half_viability_period(fitted.stored, fitted.parameters)
    assert 10**ed50 == pytest.approx(140.8353, abs=1e-3)
    # the published interval: delta method on log10, covariance scaled by Pearson's dispersion, a normal quantile
    start, fall = fitted.parameters
    slope = np.array([1.0, -start / fall]) * fitted.stored.last / fall
    error = np.sqrt(_dispersion(fitted) * slope @ fitted.inverse @ slope)
    low, high = 10 ** (ed50 - 1.959964 * error), 10 ** (ed50 + 1.959964 * error)
    assert (low, high) == pytest.approx((103.3171, 191.9777), abs=2e-3)


def test_the_likelihood_interval_of_a_dose_lies_near_fieller_s(monkeypatch):
    """Fieller's interval on the scaled covariance, worked out from the published fit: 102.99 to 195.68."""
    fitted = _probit(monkeypatch)
    cut = _dispersion(fitted) * t.ppf(0.975, 10) ** 2
    angles = np.linspace(0, 2 * np.pi, 720)
    rim = viability._rim(fitted, cut, angles)
    ends = 10 ** viability.half_viability_period(fitted.stored, rim)
    # a likelihood is no parabola: its ends lie within 4 % of Fieller's with the same t quantile
    assert (ends.min(), ends.max()) == pytest.approx(_fieller(fitted, cut), rel=0.04)
    normal = _dispersion(fitted) * 1.959964**2
    assert _fieller(fitted, normal) == pytest.approx((102.99, 195.68), rel=1e-3)


def _fieller(fitted, cut):
    a, b = fitted.parameters
    s = fitted.inverse * cut
    # of all x with (a − b·x)² = cut·var(a − b·x)
    roots = np.roots([b**2 - s[1, 1], -2 * (a * b - s[0, 1]), a**2 - s[0, 0]])
    return tuple(sorted(10 ** (roots * fitted.stored.last)))


@pytest.mark.parametrize("untreated", [0.05, 0.2, 0.4])
def test_the_best_duration_is_near_the_vertex_of_a_published_parabola(untreated):
    """Sweet potato in concentrated sulfuric acid: most germinate, 85.39 %, after 53.30 min.

    The abstract of a study of 0, 20, 40, 60 and 80 min with 10 dishes of 25 seeds (Horticultura Brasileira) gives the vertex.
    What germinated untreated is not given: it is assumed.
    """
    minutes = np.array([0.0, 20, 40, 60, 80])
    bend = (0.8539 - untreated) / 53.30**2
    germinated = np.rint(25 * (0.8539 - bend * (minutes - 53.30) ** 2))
    units = []
    for dose, many in zip(minutes, germinated, strict=True):
        # past the vertex what does not germinate is dead, before it hard: acid opens coats, then harms
        hard = 25 - many if dose < 53.30 else 2.0
        fates = np.array([many, 0.0, 0.0, hard, 25 - many - hard])
        kind = sown.PLAIN if dose == 0 else f"acid-{dose:g}"
        units += [sown.Unit(kind, dose, fates, f"{dose:g}-{k}") for k in range(10)]
    names = {f"acid-{d:g}": float(d) for d in minutes[1:]}
    series = Series(method="acid", by="duration", unit="min", doses=names, fixed="")
    lot = sown.Sown(
        lot="batata",
        temperature_c=25.0,
        condition="",
        series=series,
        units=tuple(units),
        by_bath=False,
        baths_known=False,
        shared_bath=False,
        left_out=0,
        tested=None,
    )
    (found,) = best.find([lot], unknown=0.05, confidence=0.95)
    ends = found.ends["best"]
    assert found.outcome == "estimated"
    assert np.exp(ends.low) < 53.30 < np.exp(ends.high)
    assert np.exp(found.values["best"]) == pytest.approx(53.30, abs=8)
    assert found.fitted is not None
