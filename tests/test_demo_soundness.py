"""No setting that is tried brings the smaller demos nearer than was proven; scripts/soundness.py tries all of them."""

from pathlib import Path

import pytest
from proof_attack import attack

from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.model.reader import read_machine

MESHES = Path(__file__).resolve().parent.parent / "meshes"
SETTINGS = {"workboat": 60, "corner_case": 200}
"""The trikes take two minutes each: scripts/soundness.py tries them."""


@pytest.mark.parametrize(("name", "settings"), SETTINGS.items())
def test_no_setting_of_a_demo_breaks_what_was_proven(name, settings):
    report = attack(read_machine(MESHES / name / f"{name}.toml"), settings, 11, Effort(decide_only=True), brute=0)
    assert [str(violation) for violation in report.violations] == []
    assert report.clear > 0.5 * report.pairs
    assert report.distances > 0
