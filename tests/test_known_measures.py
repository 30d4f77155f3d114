"""Measures that are known from an earlier sweep: the same to the last bit, and only where all is as it was."""

from dataclasses import replace

import numpy as np
import pytest
from small_machines import quiet, read, trammel

from assembly.cache.sqlite_cache import open_memory
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof import known_measures as module
from assembly.clearance.proof.joint_search import JointSearch
from assembly.clearance.proof.known_measures import measures_key
from assembly.kinematics.assembling import assemble
from assembly.studies.sweep.whole_sweep import sweep_machine

MEASURES = """
[measures.lean]
angle = [{ on = "link", along = [0, 0, 1] }, { on = "ground", along = [0, 0, 1] }]
about = [1, 0, 0]
least = -20
most = 20
"""
EFFORT = Effort(decide_only=True)


def lifted(machine, name):
    """``machine`` with a part drawn a little farther up, its joints left where they are."""
    up, part = np.eye(4), machine.parts[name]
    up[2, 3] = 0.01
    shapes = tuple(replace(shape, mesh=shape.mesh.moved(up)) for shape in part.shapes)
    return replace(machine, parts={**machine.parts, name: replace(part, shapes=shapes)})


@pytest.fixture
def swept(tmp_path, monkeypatch):
    """Sweeps a machine with one result cache for all; gives what it finds of measures and how often it looked."""
    looked, measured = [], module.all_measured
    monkeypatch.setattr(module, "all_measured", lambda *a, **k: looked.append(1) or measured(*a, **k))

    def found(machine):
        looked.clear()
        with open_memory(tmp_path / "known.sqlite3", print) as memory:
            _, record = sweep_machine(machine, EFFORT, quiet, memory, known=memory)
        return record.measures, len(looked)

    return found


def test_an_edit_of_a_shape_leaves_measures_known_to_the_last_bit(swept):
    """Closed form: the rod of 100 leans by asin(s / 100), 17.46° at 30."""
    machine = read(trammel() + MEASURES)
    first, looks = swept(machine)
    (lean,) = first
    assert looks == 1
    assert max(abs(lean.least), abs(lean.most)) == pytest.approx(np.degrees(np.arcsin(0.3)), abs=1e-6)
    assert swept(lifted(machine, "link")) == (first, 0)
    assert swept(machine) == (first, 0)


@pytest.mark.parametrize(
    "other",
    [
        trammel(high=21.0) + MEASURES,
        trammel() + MEASURES.replace("most = 20", "most = 15"),
        trammel() + MEASURES.replace("about = [1", "about = [-1"),
        trammel().replace("at = [0, 0, 100]", "at = [0, 0, 101]") + MEASURES,
        trammel().replace('"link"', '"bar link"').replace("parts.link", 'parts."bar link"')
        + MEASURES.replace('"link"', '"bar link"'),
    ],
    ids=["range", "limit", "direction", "joint", "name"],
)
def test_whatever_a_measure_depends_on_is_in_its_key(other):
    assert len({measures_key(assemble(read(text)), judged_only=False) for text in (trammel() + MEASURES, other)}) == 2


def test_what_was_not_looked_at_in_time_is_not_kept(swept, monkeypatch):
    machine = read(trammel() + MEASURES)
    stopped, search = module.all_measured, []

    def too_late(mechanism, own, **how):
        search.append(own)
        own.stopped = "the time limit of 1 s was reached"
        return stopped(mechanism, own, **how)

    monkeypatch.setattr(module, "all_measured", too_late)
    swept(machine)
    swept(machine)
    assert len(search) == 2


def test_what_was_not_closed_in_on_in_time_is_not_kept(swept, monkeypatch):
    """The time ends while measures alone are bracketed, in a search of their own; joints were done before."""
    machine, extremes, all_measured = read(trammel() + MEASURES), JointSearch.extremes, module.all_measured

    def cut_short(own, motions, *bracket):
        found = extremes(own, motions, *bracket)
        own.stopped = "the time limit of 1 s was reached"
        return found

    def too_late(*given, **how):
        with monkeypatch.context() as late:
            late.setattr(JointSearch, "extremes", cut_short)
            return all_measured(*given, **how)

    monkeypatch.setattr(module, "all_measured", too_late)
    swept(machine)
    monkeypatch.setattr(module, "all_measured", all_measured)
    assert swept(machine)[1] == 1
