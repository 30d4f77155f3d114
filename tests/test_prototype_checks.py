"""Prototype checks: the least clearance first, what each tells by closed forms, and whether a reading agrees."""

import json

import numpy as np
import pytest
from survey_machines import arm_text, read, readings_of

import assembly
from assembly.cli import main
from assembly.errors import InputError
from assembly.studies.survey.prototype_checks import GAP_ERROR

WALL = "[parts.wall]\nfixed = true\nshapes = [{ box = [142, 0, 0], size = [40, 4, 4] }]\n"
LEAST = 122 - np.hypot(102, 2)
"""mm: a corner of the arm's end goes round the hinge before the wall."""


def machine_text():
    text = arm_text(readings_of(100, 150, 30)).replace("[joints.hinge]", WALL + "[joints.hinge]")
    text += "[clearance]\nrequired = 18\n"
    return text.replace("arm = { value = 100, may_differ = 5 }", "arm = { value = 100, plus_minus = 0.4 }")


@pytest.fixture(scope="module")
def found():
    return assembly.checks(read(machine_text()), cores=1, cached=False)


def test_the_least_clearance_comes_first_with_all_that_explains_a_difference(found):
    """Closed form: where a corner passes nearest, 1 more of the arm takes 102/√(102² + 2²) of the clearance."""
    first = found.checks[0]
    assert (first.kind, set(first.between)) == ("clearance", {"arm", "wall"})
    assert first.expected == pytest.approx(LEAST, abs=1e-3)
    slope = 102 / np.hypot(102, 2)
    assert first.by_tolerances == pytest.approx(0.4 * slope, rel=1e-3)
    assert first.plus_minus == pytest.approx(GAP_ERROR + 0.4 * slope, abs=1e-3)
    assert first.shows["arm"] == pytest.approx(first.plus_minus / slope, rel=1e-3)


def test_what_is_measured_beside_it_sees_what_it_does_not(found):
    """Closed form: the clearance sees the arm and the hinge alone; distances from the arm's end see the anchor too."""
    assert len(found.checks) == len({one.name for one in found.checks}) == 5
    assert {"arm", "anchor.x", "anchor.y"} <= {name for one in found.checks for name in one.shows}
    ends = {"tip of arm", "anchor of post"}
    away = [one for one in found.checks if one.kind == "distance" and set(one.between) == ends]
    assert len(away) >= 2
    for one in away:
        turned = np.radians(one.at.get("swing", 0.0))
        apart = np.array([150 - 100 * np.cos(turned), 30 - 100 * np.sin(turned)])
        slope = abs(apart @ [np.cos(turned), np.sin(turned)]) / np.hypot(*apart)
        assert one.expected == pytest.approx(np.hypot(*apart), abs=1e-3)
        assert one.plus_minus == pytest.approx(1.0 + 0.4 * slope, abs=1e-3)


def test_readings_agree_or_are_to_be_looked_at_again(tmp_path, capsys, found):
    file = tmp_path / "arm.toml"
    file.write_text(machine_text())
    first = found.checks[0]
    inside, outside = (f"{first.name}={first.expected + share * first.plus_minus}" for share in (0.9, 1.1))
    assert main(["checks", str(file), "--cores", "1", "--reading", inside]) == 0
    told = capsys.readouterr().out
    assert told.startswith("AGREES: 1 of ")
    assert len(told.splitlines()) <= 40
    assert main(["checks", str(file), "--cores", "1", "--reading", outside, "--json"]) == 1
    record = json.loads(capsys.readouterr().out)
    assert [one["answer"] for one in record["checks"][:2]] == ["look again", None]


def test_a_reading_of_no_check_is_one_line():
    with pytest.raises(InputError, match=r"there is no check `arm-wal`; the nearest of the checks is `arm-wall"):
        assembly.checks(read(machine_text()), readings={"arm-wal": 3.0}, cores=1, cached=False)
