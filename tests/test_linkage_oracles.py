"""The closed-form linkages of the other tests, held against the numbers printed in REFERENCE_VALUES 1."""

import numpy as np
import pytest
from oracles import linkages

PRINTED = 6e-7
"""Half a unit of the sixth place, the last one printed."""


# REFERENCE_VALUES 1.1: Norton, Design of Machinery, ch. 4, from memory
@pytest.mark.parametrize(
    ("crossed", "coupler", "rocker"), [(False, 20.297883, 57.324880), (True, -60.977967, -98.004964)]
)
def test_four_bar(crossed, coupler, rocker):
    given = linkages.four_bar(40, 120, 80, 100, 40, crossed=crossed)
    assert given == pytest.approx((coupler, rocker), abs=PRINTED)


@pytest.mark.parametrize("crossed", [False, True])
def test_four_bar_closes_at_every_crank_angle(crossed):
    crank = np.linspace(-175, 175, 71)
    coupler, rocker = linkages.four_bar(40, 120, 80, 100, crank, crossed=crossed)
    ends = [length * np.exp(1j * np.radians(angle)) for length, angle in ((40, crank), (120, coupler), (80, rocker))]
    assert np.abs(ends[0] + ends[1] - ends[2] - 100).max() < 1e-10


# REFERENCE_VALUES 1.3: Norton, Design of Machinery, ch. 4, from memory
@pytest.mark.parametrize(("other", "rod", "place"), [(False, 152.913072, 126.838005), (True, 27.086928, -86.838005)])
def test_offset_slider_crank(other, rod, place):
    assert linkages.offset_slider_crank(40, 120, -20, 60, other=other) == pytest.approx((rod, place), abs=PRINTED)


# REFERENCE_VALUES 1.4: theory of machines; the table was computed from the published formula
def test_slider_crank():
    printed = [250, 241.732619, 232.205536, 220.256242, 193.649167, 170.256242, 155.130078, 150]
    given = linkages.slider_crank(50, 200, [0, 30, 45, 60, 90, 120, 150, 180])
    assert given == pytest.approx(printed, abs=PRINTED)


# REFERENCE_VALUES 1.5: drive-shaft catalogues
@pytest.mark.parametrize(
    ("across", "printed"),
    [
        (False, [17.192124, 33.690068, 49.106605, 63.434949, 76.935687]),
        (True, [13.064313, 26.565051, 40.893395, 56.309932, 72.807876]),
    ],
)
def test_universal_joint(across, printed):
    given = linkages.universal_joint(30, [15, 30, 45, 60, 75], across=across)
    assert given == pytest.approx(printed, abs=PRINTED)


# REFERENCE_VALUES 1.7: closed form
@pytest.mark.parametrize(
    ("other", "printed"),
    [
        (False, [126.182534, 97.361411, 84.747752, 86.463426, 96.661020]),
        (True, [-126.182534, -147.577847, -154.177760, -153.843562, -149.320027]),
    ],
)
def test_spherical_four_bar(other, printed):
    given = linkages.spherical_four_bar(60, 30, 55, 70, [0, 30, 60, 90, 120], other=other)
    assert given == pytest.approx(printed, abs=1.1e-6)


# REFERENCE_VALUES 1.8: closed form, printed to thirteen places from 30-digit arithmetic
@pytest.mark.parametrize(
    ("other", "printed"),
    [
        (False, [65.13323287341, 78.15075630167, 90.0, 100.64179589096, 110.04074236771]),
        (True, [-49.602900836559, -63.568263574833, -76.314453174738, -87.749688326981, -97.809735235138]),
    ],
)
def test_rod_between_cranks(other, printed):
    linkage = linkages.RodBetweenCranks()
    assert linkage.rod == pytest.approx(273.861278752583, abs=1e-12)
    assert linkage.output([60, 75, 90, 105, 120], other=other) == pytest.approx(printed, abs=1e-10)


# REFERENCE_VALUES 1.9: Bennett's condition, from memory
def test_bennett():
    assert linkages.bennett(60, 40, 70) == pytest.approx(87.714132, abs=PRINTED)
    printed = [170.321626, 159.323621, 144.931125, 122.619904, 80.599129]
    assert linkages.bennett_turn(40, 70, [30, 60, 90, 120, 150]) == pytest.approx(printed, abs=PRINTED)


def link(length, twist, turn):
    """Pose (4, 4) of the next joint: turn about z, shift along x, twist about x (Denavit and Hartenberg 1955)."""
    (ct, st), (ca, sa) = ((np.cos(np.radians(angle)), np.sin(np.radians(angle))) for angle in (turn, twist))
    return np.array(
        [[ct, -st * ca, st * sa, length * ct], [st, ct * ca, -ct * sa, length * st], [0, sa, ca, 0], [0, 0, 0, 1]]
    )


def test_bennett_closes_in_space():
    for first in (30.0, 60.0, 90.0, 120.0, 150.0):
        second = float(linkages.bennett_turn(40, 70, first))
        long = linkages.bennett(60, 40, 70)
        loop = link(60, 40, first) @ link(long, 70, second) @ link(60, 40, -first) @ link(long, 70, -second)
        assert loop == pytest.approx(np.eye(4), abs=1e-12)


# REFERENCE_VALUES 1.10: Peaucellier 1864
def test_peaucellier_runs_straight():
    given = linkages.peaucellier(5, 3, 1.5, [0, 20, -20, 40, -40])
    assert given[:, 0] == pytest.approx(np.full(5, (5**2 - 3**2) / (2 * 1.5)), abs=1e-12)
    assert given[:, 1] == pytest.approx([0, 0.940411, -0.940411, 1.941175, -1.941175], abs=PRINTED)


# REFERENCE_VALUES 1.11: closed form
def test_sarrus():
    assert linkages.sarrus_height(50, [30, 55, 60]) == pytest.approx([50.0, 81.915204, 86.602540], abs=PRINTED)


# REFERENCE_VALUES 1.14: closed form
def test_hexapod():
    given = linkages.hexapod_leg(200, 120, 250, [0, 10, 30])
    assert given == pytest.approx([262.488095, 263.873507, 274.464534], abs=PRINTED)


# REFERENCE_VALUES 1.12: Hairer & Wanner, Solving ODEs II, and the IVP test set; the second position from memory
SQUEEZER_POSITIONS = [
    [
        -0.0617138900142764496,
        0.0,
        0.455279819163070380,
        0.222668390165885885,
        0.487364979543842550,
        -0.222668390165885885,
        1.230547444549821192,
    ],
    [
        15.81077119629904,
        -15.75637105984298,
        0.04082224013073101,
        -0.5347301163226948,
        0.5244099658805304,
        0.5347301163226948,
        1.048080741042263,
    ],
]


@pytest.mark.parametrize("printed", SQUEEZER_POSITIONS)
def test_squeezer_closes_where_published_and_is_put_together_the_same_way(printed):
    assert np.abs(linkages.squeezer_residual(printed)).max() < 1e-15
    difference = linkages.squeezer_angles(printed[0]) - printed
    assert np.abs(np.exp(1j * difference) - 1).max() < 1e-12


def test_squeezer_closes_over_a_full_turn_without_a_jump():
    angles = np.array([linkages.squeezer_angles(beta) for beta in np.linspace(0, 2 * np.pi, 361)])
    assert np.abs([linkages.squeezer_residual(row) for row in angles]).max() < 1e-15
    steps = np.exp(1j * np.diff(angles, axis=0))
    assert np.abs(steps - 1).max() < 0.1
