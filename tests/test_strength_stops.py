"""Pads, leans and levers of a stop against published figures and closed forms."""

from math import cos, inf, nan, pi, radians

import pytest

from assembly.errors import InputError
from assembly.strength.stop_loads import (
    fall_energy_j,
    lean_moment_nm,
    round_pad,
    square_pad,
    squeeze_by_energy,
    squeeze_under_force,
    strain,
)


# REFERENCE_VALUES 7.1, 7.2: Strojniški vestnik 60(2014)7-8, 506-511, after Gent and Lindley
@pytest.mark.parametrize(
    ("diameter", "thickness", "shape", "stiffening", "stiffness"),
    [(30, 10, 0.75, 2.125, 901.244), (25, 8, 0.78125, 2.220703, 817.564), (20, 10, 0.5, 1.5, 282.743)],
)
def test_bonded_disc_is_as_stiff_as_published(diameter, thickness, shape, stiffening, stiffness):
    pad = round_pad(diameter, thickness, 6)
    assert pad.shape_factor == pytest.approx(shape, abs=1e-12)
    assert pad.apparent_modulus_mpa / 6 == pytest.approx(stiffening, abs=5e-7)
    assert pad.stiffness_n_per_mm == pytest.approx(stiffness, abs=5e-4)


# closed form: S = side / 4t
def test_square_pad_has_its_own_shape_factor():
    pad = square_pad(40, 8, 5)
    assert pad.shape_factor == pytest.approx(40 / 32)
    assert pad.stiffness_n_per_mm == pytest.approx(5 * (1 + 2 * (40 / 32) ** 2) * 40**2 / 8)


# REFERENCE_VALUES 7.1: 1/Ea = 1/[E (1 + b S²)] + 1/B
def test_bulk_modulus_softens_a_thin_pad_and_limits_it():
    pad = round_pad(60, 1, 6, bulk_modulus_mpa=1000)
    assert 1 / pad.apparent_modulus_mpa == pytest.approx(1 / (6 * (1 + 2 * 15**2)) + 1 / 1000)
    assert pad.apparent_modulus_mpa < 1000 < round_pad(60, 1, 6).apparent_modulus_mpa


# REFERENCE_VALUES 7.16
def test_blow_squeezes_a_pad_as_computed():
    squeeze = squeeze_by_energy(500, 15)
    assert squeeze.give_mm == pytest.approx(7.746, abs=5e-4)
    assert squeeze.force_n == pytest.approx(3873, abs=0.5)


# closed form: energy balance ½ k x² = E + P x; with no blow the give is twice the static one
@pytest.mark.parametrize(("energy", "pressing"), [(15, 900), (0.2, 50), (1e-9, 700)])
def test_force_that_goes_on_pressing_is_counted(energy, pressing):
    squeeze = squeeze_by_energy(500, energy, pressing)
    assert 0.5 * 500 * squeeze.give_mm**2 == pytest.approx(1e3 * energy + pressing * squeeze.give_mm)
    assert squeeze.force_n == pytest.approx(500 * squeeze.give_mm)
    if energy < 1e-6:
        assert squeeze.give_mm == pytest.approx(2 * squeeze_under_force(500, pressing).give_mm, rel=1e-5)


def test_slow_load_squeezes_by_force_over_stiffness():
    assert squeeze_under_force(400, 1000).give_mm == pytest.approx(2.5)
    assert strain(round_pad(30, 10, 6), squeeze_under_force(400, 1000)) == pytest.approx(0.25)


# REFERENCE_VALUES 7.15
@pytest.mark.parametrize(("lean", "moment"), [(10, 102.209), (20, 201.313), (30, 294.300), (-30, -294.300)])
def test_lean_moment_is_as_computed(lean, moment):
    assert lean_moment_nm(100, 600, lean) == pytest.approx(moment, abs=5e-4)


# REFERENCE_VALUES 7.16; closed form to either side
def test_fall_sets_free_what_was_computed_on_both_sides():
    assert fall_energy_j(100, 600, 25, 30) == pytest.approx(23.710, abs=5e-4)
    assert fall_energy_j(100, 600, -25, -30) == fall_energy_j(100, 600, 25, 30)
    assert fall_energy_j(80, 500, 0, 90, gravity=10) == pytest.approx(400)
    assert fall_energy_j(80, 500, -10, 20, gravity=10) == pytest.approx(400 * (cos(radians(10)) - cos(radians(20))))


@pytest.mark.parametrize(
    ("call", "told"),
    [
        pytest.param(lambda: round_pad(0, 10, 6), "pad diameter is 0 mm; give pad diameter in mm, more than 0", id="d"),
        pytest.param(lambda: round_pad(30, -1, 6), "pad thickness is -1 mm", id="thickness"),
        pytest.param(lambda: square_pad(30, 10, 0), "the pad's Young's modulus is 0 MPa", id="modulus"),
        pytest.param(lambda: square_pad(30, 10, nan), "the pad's Young's modulus is nan MPa", id="modulus no number"),
        pytest.param(lambda: square_pad(30, 10, 6, -3), "the pad's bulk modulus is -3 MPa", id="bulk modulus"),
        pytest.param(lambda: squeeze_by_energy(500, 0), "the energy of the blow is 0 J", id="energy"),
        pytest.param(lambda: squeeze_by_energy(500, 15, -1), "goes on pressing is -1 N", id="pressing"),
        pytest.param(lambda: squeeze_under_force(-5, 10), "the pad's stiffness is -5 N/mm", id="stiffness"),
        pytest.param(lambda: squeeze_under_force(5, inf), "the force on the pad is inf N", id="force"),
        pytest.param(lambda: lean_moment_nm(-1, 600, 10), "the mass is -1 kg", id="mass"),
        pytest.param(lambda: lean_moment_nm(100, 600, 91), "the lean is 91 degrees; give the lean from -90", id="lean"),
        pytest.param(lambda: fall_energy_j(100, 600, 30, 25), "from 30 to 25 degrees nothing falls", id="up"),
        pytest.param(lambda: fall_energy_j(100, 600, nan, 25), "before the fall is nan", id="lean no number"),
        pytest.param(
            lambda: strain(round_pad(30, 10, 6), squeeze_under_force(100, 1000)),
            "the pad would give 10.00 mm and is 10 mm thick",
            id="squeezed flat",
        ),
    ],
)
def test_unusable_number_is_refused_with_what_would_be_valid(call, told):
    with pytest.raises(InputError) as raised:
        call()
    assert told in str(raised.value)
    assert all(fault.hint for fault in raised.value.faults)


def test_every_unusable_number_is_told_at_once():
    with pytest.raises(InputError) as raised:
        round_pad(0, -pi, nan)
    assert len(raised.value.faults) == 3
