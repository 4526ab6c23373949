"""Moisture on both bases: published conversions, and water and dry matter that add up."""

import numpy as np
import pytest

from hilum.stats import moisture


def test_one_gram_of_water_in_ten_of_seed_is_ten_percent():
    # "1 g loss after drying 10 g of seeds → 10 %": Karrfalt (2010), USDA Forest Service Proceedings RMRS-P-62, 43–45
    found = moisture.by_oven(container=25.0, before=35.0, after=34.0)
    assert found.wet_basis_pct == pytest.approx(10.0)
    assert found.dry_basis_pct == pytest.approx(11.1111, abs=5e-5)


@pytest.mark.parametrize(("dry_basis", "wet_basis"), [(140.0, 58.33), (180.0, 64.29)])
def test_equilibrium_of_soaked_pulses_on_the_wet_basis(dry_basis, wet_basis):
    # 1.4 and 1.8 g water per g dry matter, chickpea and soybean: Cimini, Poliziani and Moresi (2021), Chemical
    # Engineering Transactions 87:31–36; the wet basis is our own arithmetic on them
    found = moisture.from_dry_basis(dry_basis)
    assert found.wet_basis_pct == pytest.approx(wet_basis, abs=5e-3)


def test_the_two_bases_undo_each_other():
    wet = np.array([0.0, 5.0, 12.0, 50.0, 90.0])
    there = moisture.from_wet_basis(wet).dry_basis_pct
    np.testing.assert_allclose(moisture.from_dry_basis(there).wet_basis_pct, wet)


def test_two_stages_lose_what_one_would():
    # 100 g at 30 %: 20 g go at first, 10 of the remaining 80 g in the oven
    first, second = 20.0, 100 * 10 / 80
    assert moisture.two_stage(first, second) == pytest.approx(30.0)


def test_duplicates_agree_within_the_tolerance():
    # 0.2 % between duplicates: International Rules for Seed Testing, from memory
    agree = moisture.duplicates_agree([10.1, 10.1], [10.3, 10.31], tolerance_pct=0.2)
    assert agree.tolist() == [True, False]


def test_drying_keeps_the_dry_matter():
    # 100 g at 20 % hold 80 g of dry matter; at 10 % they weigh 80/0.9 g
    assert moisture.mass_at(10.0, mass=100.0, moisture_pct=20.0) == pytest.approx(88.8889, abs=5e-5)


def test_uptake_adds_to_the_water_that_was_there():
    # 100 g at 10 % that gain 80 %: 90 g of water on 90 g of dry matter
    found = moisture.after_uptake(80.0, moisture_pct=10.0)
    assert found.wet_basis_pct == pytest.approx(50.0)
    assert found.dry_basis_pct == pytest.approx(100.0)
