"""Hertz contact against published figures."""

from math import pi, sqrt

import pytest

from assembly.errors import InputError
from assembly.strength.pressing import Elastic, cylinder_peak_mpa, sphere_peak_mpa

STEEL = Elastic(200e3, 0.3)
STEEL_210 = Elastic(210e3, 0.3)
RIGID = Elastic(1e16, 0.3)
"""Gives way by less than is told apart."""


# REFERENCE_VALUES 7.4: tutorsglobe.com 51707067 prints 1.010
def test_soft_sphere_spreads_on_a_rigid_flat():
    """The mean pressure is two thirds of the peak, so the peak tells the radius of the contact."""
    force = 30 * 2 * pi
    peak = sphere_peak_mpa(8, force, Elastic(1000, 0.3), RIGID)
    assert sqrt(3 * force / (2 * pi * peak)) == pytest.approx(1.009635, abs=5e-7)


# REFERENCE_VALUES 7.5: inputs from coursehero 8421357
def test_ball_presses_as_computed_on_a_flat():
    peak = sphere_peak_mpa(25, 500, STEEL, STEEL)
    assert peak == pytest.approx(1231.88, abs=5e-3)
    assert sqrt(3 * 500 / (2 * pi * peak)) == pytest.approx(0.440221, abs=5e-7)


# REFERENCE_VALUES 7.6 (NAFEMS benchmark, from memory) and 7.7
@pytest.mark.parametrize(
    ("radius", "length", "force", "flat", "half_width", "peak"),
    [(50, 1, 35e3, Elastic(70e3, 0.3), 6.214628, 3585.4), (8, 20, 3000, STEEL_210, 0.115073, 829.85)],
)
def test_cylinder_presses_as_published(radius, length, force, flat, half_width, peak):
    found = cylinder_peak_mpa(radius, length, force, STEEL_210, flat)
    assert found == pytest.approx(peak, abs=0.05)
    assert 2 * force / (length * pi * found) == pytest.approx(half_width, abs=5e-7)


@pytest.mark.parametrize(
    ("call", "told"),
    [
        pytest.param(lambda: Elastic(0, 0.3), "Young's modulus is 0 MPa", id="modulus"),
        pytest.param(lambda: Elastic(200e3, 0.6), "Poisson's ratio is 0.6; give Poisson's ratio from 0", id="poisson"),
        pytest.param(lambda: sphere_peak_mpa(0, 500, STEEL, STEEL), "the sphere's radius is 0 mm", id="radius"),
        pytest.param(lambda: sphere_peak_mpa(5, -1, STEEL, STEEL), "the force is -1 N", id="force"),
        pytest.param(lambda: cylinder_peak_mpa(5, 0, 500, STEEL, STEEL), "length of the contact is 0 mm", id="length"),
    ],
)
def test_unusable_contact_is_refused_with_what_would_be_valid(call, told):
    with pytest.raises(InputError) as raised:
        call()
    assert told in str(raised.value)
    assert all(fault.hint for fault in raised.value.faults)
