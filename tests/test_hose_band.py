"""Every shape that a slack hose can take is kept in: ellipsoids against closed forms, curves, and weaker bounds."""

from math import cos, radians, sin, sqrt

import numpy as np
import pytest
from cable_machines import HINGED
from clocks import Clock
from small_machines import HERE

import assembly
from assembly.clearance.proof import hose_band
from assembly.clearance.proof.joint_search import joint_search
from assembly.clearance.proof.motion_bounds import first_bounds
from assembly.geometry.shapes import boxes
from assembly.geometry.two_foci import FacetLots, facets_to_size, least_gap
from assembly.kinematics.assembling import assemble
from assembly.kinematics.solver import solve
from assembly.model.reader import machine_from_text
from assembly.report.text.cables_text import cables_blocks
from assembly.time_limit import time_limit

HALF = 200.0


def across(length, apart=2 * HALF):
    """Closed form: half of how thick an ellipsoid of revolution is that has these foci and this sum."""
    return sqrt((length / 2) ** 2 - (apart / 2) ** 2)


@pytest.mark.parametrize("length", [400.001, 402, 410, 500])
def test_a_wall_beside_an_ellipsoid_is_as_far_as_the_closed_form_says(length):
    """A plane square to y lies beyond the thickest place; one square to x lies beyond the tip at half the length."""
    ends = np.array([[-HALF, 0, 0]]), np.array([[HALF, 0, 0]])
    beside = facets_to_size(boxes.box([0, 200, 0], [600, 20, 60]), 25.0)
    ahead = facets_to_size(boxes.box([400, 0, 0], [20, 60, 60]), 25.0)
    for facets, true in ((beside, 190 - across(length)), (ahead, 390 - length / 2)):
        found = least_gap(FacetLots.of(facets), *ends, np.array([float(length)]))[0]
        assert true - 3.0 < found <= true + 1e-6


def test_no_point_of_a_facet_is_nearer_to_a_curve_of_that_length_than_what_is_told():
    """Own sampling: kinked and smooth curves between two points, of just their length, against points of boxes."""
    random = np.random.default_rng(4)
    near = []
    for _ in range(25):
        a, b = random.uniform(-100, 100, (2, 3))
        bulge = random.normal(size=3)
        bulge *= random.uniform(0, 80) / np.linalg.norm(bulge)
        t = np.linspace(0, 1, 200)[:, None]
        kink = random.uniform(0.05, 0.95)
        over = np.where(t < kink, t / kink, (1 - t) / (1 - kink)) if random.random() < 0.5 else np.sin(np.pi * t)
        curve = a + (b - a) * t + bulge * over
        length = np.linalg.norm(np.diff(curve, axis=0), axis=1).sum()
        corners = curve[random.integers(200)] + random.uniform(-60, 60, 3), random.uniform(5, 60, 3)
        facets = facets_to_size(boxes.box(*corners), 25.0)
        told = least_gap(FacetLots.of(facets), a[None], b[None], np.array([length]))[0]
        points = np.einsum("kj,tjc->tkc", random.dirichlet((1, 1, 1), 12), facets).reshape(-1, 3)
        true = np.linalg.norm(points[:, None] - curve[None], axis=2).min()
        assert told <= true + 1e-6
        near.append(told > 0)
    assert any(near)


def test_facets_in_lots_tell_what_each_tells_alone():
    """Brute force: every facet by itself against every ellipsoid, the needle of a straight hose among them."""
    random = np.random.default_rng(11)
    middles = random.uniform(-150, 150, (300, 1, 3))
    facets = middles + random.uniform(-12, 12, (300, 3, 3))
    a, b = random.uniform(-120, 120, (2, 40, 3))
    length = np.linalg.norm(b - a, axis=1) + random.choice([-1.0, 0.0, 5.0, 60.0], 40)
    alone = np.min([least_gap(FacetLots.of(each[None]), a, b, length) for each in facets], axis=0)
    together = FacetLots.of(facets)
    assert len(together.radii) == 10
    assert least_gap(together, a, b, length) == pytest.approx(alone, abs=1e-9)
    assert least_gap(together, a, b, length, 8.0) == pytest.approx(np.minimum(alone, 8.0), abs=1e-9)
    assert (alone < 8).any()
    assert (alone > 8).any()


def machine(outer, wall=80, low=-10, extra=""):
    text = HINGED.replace("LOW", f"{low}").replace("HIGH", "0")
    return machine_from_text(
        f"""{text}
[parts.wall]
shapes = [{{ box = [0, {wall}, 0], size = [500, 10, 20] }}]
[joints.wall]
welded = ["frame", "wall"]
[clearance]
required = 3
[cables.hose]
runs = [{{ outer = {outer}, diameter = 5, through = [{{ on = "frame", at = [-200, 0, 0] }}, {extra}
  {{ on = "arm", at = [200, 0, 0] }}] }}]
""",
        HERE,
    )


def near(outer, **where):
    record = assembly.cables(machine(outer, **where))
    (one,) = (each for each in record.cables[0].runs[0].near if each.part == "wall")
    return one, record


def test_a_slack_hose_is_clear_of_a_wall_that_none_of_its_shapes_reaches():
    """Closed form: at 0 its thickest place lies 45.0 beside the middle, so 27.5 from the face at 75 to its surface."""
    one, record = near(410)
    assert (one.verdict, record.verdict, one.may_touch) == ("clear", "clear", False)
    assert one.least <= 75 - across(410) - 2.5 + 1e-6
    assert 3 <= one.proven <= one.least


def test_a_hose_that_is_long_enough_to_reach_the_wall_may_touch_it():
    """Closed form: it reaches 75 - 2.5 - 3 beside the middle when it is 2 √(200² + 69.5²) = 423.47 long."""
    reach = 2 * sqrt(HALF**2 + 69.5**2)
    assert near(reach - 3, low=-1)[0].verdict == "clear"
    one, record = near(reach + 0.5, low=-1)
    assert (one.verdict, record.verdict, one.may_touch) == ("undecided", "undecided", True)
    told = "\n".join(each.text for each in cables_blocks(record, "") if hasattr(each, "text"))
    assert "UNDECIDED: the slack hose of hose may touch wall" in told
    assert "hose MAY touch wall, at swing" in told


def test_a_guide_between_keeps_a_hose_from_the_wall():
    held = '{ on = "frame", at = [0, 0, 0] },'
    assert near(430)[0].may_touch
    assert not near(430, extra=held)[0].may_touch


def test_a_hose_whose_end_lies_in_another_part_is_never_clear_of_it():
    one, _ = near(410, wall=0)
    assert one.may_touch
    assert one.proven is None


def test_parts_that_hold_a_hose_are_not_held_against_it():
    record = assembly.cables(machine(410))
    assert [each.part for each in record.cables[0].runs[0].near] == ["wall"]


def left_below(wider, monkeypatch):
    """Clearances at settings that the search never saw, below what is proven; ``wider``: it minds how far ends move."""
    made = machine(404, wall=60, low=-60)
    mechanism = assemble(made)
    band = hose_band._band(mechanism, made.cables.cables["hose"].runs[0], made.parts["wall"])
    if not wider:
        monkeypatch.setattr(hose_band.HoseBand, "_relative", lambda *_: iter(()))
    cells = first_bounds(band, joint_search(mechanism).groups.between(*band.bodies))
    settings = np.random.default_rng(2).uniform(-60, 0, (200, 1))
    values = band.values(solve(mechanism, settings).posture)
    return int((values < cells.figures.low.min() - 1e-6).sum())


def test_what_is_proven_of_a_hose_holds_at_settings_that_were_never_looked_at(monkeypatch):
    assert left_below(True, monkeypatch) == 0


def test_a_bound_that_forgets_how_far_the_ends_move_is_seen(monkeypatch):
    assert left_below(False, monkeypatch) > 0


def test_the_middle_of_an_arc_holds_a_hose_at_a_guide_that_bends():
    """Closed form: R (1 / cos(θ / 2) - 1) inside of the corner, here 60 (√2 - 1) along the bisector."""
    text = HINGED.replace("LOW", "-1").replace("HIGH", "1") + (
        '[cables.hose]\nruns = [{ bend = 60, outer = 400, through = [{ on = "frame", at = [-200, 0, 0] }, '
        '{ on = "frame", at = [0, 0, 0] }, { on = "frame", at = [0, 200, 0] }] }]'
    )
    held = machine_from_text(text, HERE).cables.cables["hose"].runs[0].held
    far = 60 * (sqrt(2) - 1)
    assert held[1] == pytest.approx((-far * cos(radians(45)), far * sin(radians(45)), 0))


def test_a_hose_is_told_with_what_is_known_wherever_its_time_is_over():
    """Once the lengths of the cable are there no end of the time may lose them; a hose not looked at is never clear."""
    hose = machine(410, low=-60)
    looks = Clock(step=1.0)
    with time_limit(1e9, looks):
        whole = assembly.cables(hose)
    (known,) = (one for one in whole.cables[0].runs[0].near if one.part == "wall")
    assert known.verdict == "clear"
    verdicts = []
    for share in np.linspace(0.3, 0.999, 12):
        with time_limit(share * looks.looks, Clock(step=1.0)):
            record = assembly.cables(hose)
        (one,) = (each for each in record.cables[0].runs[0].near if each.part == "wall")
        verdicts.append(one.verdict)
        assert one.verdict == "clear" or "time limit" in one.why
        assert one.proven is None or one.proven <= known.least
        assert record.verdict == one.verdict
    assert "undecided" in verdicts


def test_pulls_for_which_there_was_no_time_are_said_to_be_left_out():
    text = HINGED.replace("LOW", "-60").replace("HIGH", "0") + (
        '[cables.wire]\ninner = 400\nruns = [{ through = [{ on = "frame", at = [-200, 0, 0] }, '
        '{ on = "arm", at = [200, 0, 0] }] }]'
    )
    wire = machine_from_text(text, HERE)
    looks = Clock(step=1.0)
    with time_limit(1e9, looks):
        (whole,) = assembly.cables(wire).cables
    assert len(whole.sides) == 1
    assert not whole.sides_left_out
    with time_limit(looks.looks - 2.5, Clock(step=1.0)):
        record = assembly.cables(wire)
    assert record.cables[0].pull.most == whole.pull.most
    assert "time limit" in record.cables[0].sides_left_out
    told = "\n".join(each.text for each in cables_blocks(record, "") if hasattr(each, "text"))
    assert "not looked at along every drive: the time limit" in told


def test_a_hose_for_which_there_was_no_time_costs_none(monkeypatch):
    """Forty hoses of which there was no time to look at any took 12 s with a limit of 2."""
    made = machine(410, low=-60)
    mechanism = assemble(made)
    search = joint_search(mechanism)
    monkeypatch.setattr(hose_band, "unproven_share", None)
    monkeypatch.setattr(hose_band, "facets_to_size", None)
    with time_limit(1.0, Clock(step=2.0)):
        (one,) = hose_band.hose_near(mechanism, search, made.cables.cables["hose"].runs[0])
    assert (one.verdict, one.proven) == ("undecided", None)
    assert "time limit" in one.why
