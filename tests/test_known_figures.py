"""What a sweep keeps besides pairs: joints, volumes, pairs that stay as they are, how finely the range is cut first."""

from dataclasses import replace

import numpy as np
import pytest
from small_machines import quiet, read
from test_known_measures import lifted

from assembly.cache.sqlite_cache import open_memory
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof import first_cells
from assembly.kinematics.assembling import assemble
from assembly.studies.sweep import constant_pairs, known_motions, known_volumes
from assembly.studies.sweep.known_motions import joints_key
from assembly.studies.sweep.whole_sweep import sweep_machine

SLEDGE = """
format = 1
name = "Sledge on a rail"
facet_error = 0.5

[parts.rail]
fixed = true
shapes = [{ name = "bar", box = [-200, -20, 0], size = [400, 40, 20] }]

[parts.sledge]
shapes = [{ name = "block", box = [-30, -20, 25], size = [60, 40, 20] }]

[parts.arm]
shapes = [{ name = "rod", rod = [[0, 0, 60], [0, 0, 130]], square = 10 }]

[joints.guide]
slide = ["rail", "sledge"]
at = [0, 0, 30]
along = [1, 0, 0]
limit = [-90, 90]

[joints.hinge]
pin = ["sledge", "arm"]
at = [0, 0, 50]
along = [0, 1, 0]
limit = [-60, 60]

[drives.push]
slides = { guide = 1 }
range = [-50, 50]

[drives.lean]
turns = { hinge = 1 }
range = [-40, 40]

[weights]
material = "steel"
"""
CLOSELY, ROUGHLY = Effort(bracket_mm=1.0), Effort(decide_only=True)
PLACES = {
    "joints": (known_motions, "joints_of"),
    "volume": (known_volumes, "volume_and_centre"),
    "constant": (constant_pairs, "_same"),
    "cut": (first_cells, "_counts"),
}


@pytest.fixture
def swept(tmp_path, monkeypatch):
    """Sweeps a machine with one result cache for all; gives the record and how often each was worked out."""
    counted = dict.fromkeys(PLACES, 0)

    def counting(name, own):
        def worked_out(*given, **how):
            counted[name] += 1
            return own(*given, **how)

        return worked_out

    for name, (module, function) in PLACES.items():
        monkeypatch.setattr(module, function, counting(name, getattr(module, function)))

    def found(machine, *, cached=True, effort=CLOSELY):
        counted.update(dict.fromkeys(PLACES, 0))
        with open_memory(tmp_path / "known.sqlite3" if cached else None, print) as memory:
            _, record = sweep_machine(machine, effort, quiet, memory, known=memory)
        return replace(record, made="", work=None), dict(counted)

    return found


def test_only_what_an_edit_touches_is_worked_out_again_to_the_last_bit(swept):
    """Closed form: block and arm weigh 60 · 40 · 20 and 70 · 10 · 10 mm³ of steel, 7.85 kg/dm³ (common practice)."""
    machine = read(SLEDGE)
    first, looks = swept(machine)
    assert first.weight.parts["sledge"] == pytest.approx(0.048 * 7.85)
    assert first.weight.parts["arm"] == pytest.approx(0.007 * 7.85)
    assert next(pair for pair in first.pairs if pair.b == "sledge").constant
    assert min(looks.values()) > 0
    assert swept(machine) == (first, dict.fromkeys(PLACES, 0))
    other = lifted(machine, "arm")
    anew, _ = swept(other, cached=False)
    edited, looks = swept(other)
    assert edited == anew
    assert looks == {"joints": 0, "volume": 1, "constant": 0, "cut": 0}
    assert edited.weight.centre != first.weight.centre


def test_a_pair_that_is_edited_is_asked_again_whether_it_stays_as_it_is(swept):
    machine = read(SLEDGE)
    swept(machine)
    edited, looks = swept(lifted(machine, "sledge"))
    assert looks["constant"] == 1
    assert edited == swept(lifted(machine, "sledge"), cached=False)[0]


@pytest.mark.parametrize(
    "other",
    [
        SLEDGE.replace("limit = [-60, 60]", "limit = [-60, 50]"),
        SLEDGE.replace("range = [-40, 40]", "range = [-40, 39]"),
        SLEDGE.replace("at = [0, 0, 50]", "at = [0, 0, 51]"),
        SLEDGE.replace("[joints.hinge]", "[joints.pivot]").replace("hinge = 1", "pivot = 1"),
        SLEDGE.replace('"arm"', '"lever"').replace("parts.arm", "parts.lever"),
    ],
    ids=["limit", "range", "place", "name of the joint", "name of the part"],
)
def test_whatever_is_told_of_joints_is_in_their_key(other):
    assert len({joints_key(assemble(read(text))) for text in (SLEDGE, other)}) == 2


def test_joints_that_were_not_bounded_in_time_are_not_kept(swept, monkeypatch):
    counted = known_motions.joint_search

    def too_late(*given):
        search = counted(*given)
        search.stopped = "the time limit of 1 s was reached"
        return search

    monkeypatch.setattr(known_motions, "joint_search", too_late)
    swept(read(SLEDGE), effort=ROUGHLY)
    assert swept(read(SLEDGE), effort=ROUGHLY)[1]["joints"] == 1


def test_a_solid_of_other_facets_has_another_volume(swept):
    machine = read(SLEDGE)
    swept(machine, effort=ROUGHLY)
    part = machine.parts["arm"]
    mesh = part.shapes[0].mesh
    wider = replace(mesh, vertices=mesh.vertices * np.array([2.0, 1.0, 1.0]))
    shapes = (replace(part.shapes[0], mesh=wider),)
    found, _ = swept(replace(machine, parts={**machine.parts, "arm": replace(part, shapes=shapes)}), effort=ROUGHLY)
    assert found.weight.parts["arm"] == pytest.approx(2 * 0.007 * 7.85)
