"""No setting that is tried brings the smaller demos nearer than was proven; scripts/soundness.py tries all of them.

``.ci/run`` tries the workboat over its whole range, and sweeps it: here it is half of that.
"""

from dataclasses import replace
from pathlib import Path

import pytest
from proof_attack import attack
from records import pair

from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.kinematics.assembling import assemble
from assembly.model.reader import read_machine
from assembly.studies.sweep.joint_ranges import joints_of
from assembly.studies.sweep.verdict import machine_verdict

MESHES = Path(__file__).resolve().parent.parent / "meshes"
SETTINGS = {"workboat": 40, "corner_case": 200}
SHARE = {"workboat": 0.5, "corner_case": 1.0}
"""The trikes take two minutes each: scripts/soundness.py tries them."""


def attacked(name):
    machine = read_machine(MESHES / name / f"{name}.toml")
    drives = {
        drive: replace(one, low=SHARE[name] * one.low, high=SHARE[name] * one.high)
        for drive, one in machine.drives.items()
    }
    machine = replace(machine, drives=drives)
    return machine, attack(machine, SETTINGS[name], 11, Effort(decide_only=True), brute=0)


def test_no_setting_of_the_corner_case_breaks_what_was_proven():
    _, report = attacked("corner_case")
    assert [str(violation) for violation in report.violations] == []
    assert report.pairs > report.clear > 0.5 * report.pairs
    assert report.distances > 0


@pytest.mark.long
def test_no_setting_of_the_workboat_breaks_what_was_proven_and_it_is_clear():
    """Every pair by the sweep that is attacked, the joints by their own search; the README says that it is clear."""
    machine, report = attacked("workboat")
    assert [str(violation) for violation in report.violations] == []
    assert report.distances > 0
    assert report.clear == report.pairs > 20
    assert report.given_up_share == 0
    joints = joints_of(assemble(machine))
    assert machine_verdict([pair("hull", "ram", 9.0)], (joints.joints, joints.rods), (), 0.0)[0] == "clear"
