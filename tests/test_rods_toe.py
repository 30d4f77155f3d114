"""Turns of both tie rods for a wanted toe: against closed forms of a rack, its rods and two arms (own model)."""

from math import cos, degrees, hypot, sqrt

import pytest
from rod_threads import RACK, longer
from small_machines import read

import assembly
from assembly.cli import main
from assembly.studies.rods.rods_study import look_at_rods


def test_both_rods_are_turned_by_as_much_for_a_wanted_total_toe():
    """Closed form: 1.5 mm toe-in is 0.2459 mm on each rod, 0.0984 turns of M8 with two hands."""
    (way,) = look_at_rods(read(RACK), ["rod_left"], toe=1.5).ways
    assert way.change_mm == pytest.approx(longer(1.5), abs=1e-6)
    assert way.turns == pytest.approx(longer(1.5) / 2.5, abs=1e-6)
    assert (way.also, way.measure, way.today) == (("rod_right",), TOTAL, pytest.approx(0, abs=1e-9))


TOTAL = "wheel_left and wheel_right total toe mm"


def test_toe_of_one_rod_by_turns_and_flats():
    """Closed form, by bisection: one rod 2.5 mm longer turns its arm until its end is 252.5 from the inner joint."""
    found = assembly.rods(read(RACK), ["rod_left"])
    moved = {one.measure: one for one in found.turned[0].measures}
    steps = [step.mm for step in found.turned[0].steps[:3]]
    assert steps == pytest.approx([2.5, 1.25, 2.5 / 6])
    expected = [_toe(mm) for mm in steps]
    assert moved["wheel_left toe"].longer[:3] == pytest.approx([degrees(one) for one in expected], abs=1e-6)
    assert moved["wheel_left toe mm"].longer[:3] == pytest.approx([305 * _sine(one) for one in expected], abs=1e-5)
    assert moved["wheel_left and wheel_right total toe"].longer[:3] == pytest.approx(
        [degrees(one) for one in expected], abs=1e-6
    )
    assert "wheel_right toe" not in moved


def _sine(angle):
    return sqrt(1 - cos(angle) ** 2)


def _toe(more):
    low, high = 0.0, 0.1
    while high - low > 1e-13:
        middle = (low + high) / 2
        away = hypot(100 - 100 * cos(middle), 250 + 100 * _sine(middle)) - 250
        low, high = (middle, high) if away < more else (low, middle)
    return low


def test_a_toe_is_told_with_its_way_back_and_swept(tmp_path, capsys):
    path = tmp_path / "rack.toml"
    path.write_text(RACK, encoding="utf-8")
    assert main(["rods", str(path), "--toe", "1.5", "--cores", "1"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "0.10 turns of the tube (0.6 flats) clockwise, seen from inner_left along the rod; rod_right by as" in told
    assert f"{TOTAL} is then 1.50 mm with all drives at 0; today 0.00 mm" in told
    assert "back: as much the other way" in told
    assert "250.246 CLEAR" in told


def test_a_toe_of_a_machine_without_wheels(tmp_path, capsys):
    path = tmp_path / "rack.toml"
    wheels, road = RACK.index("[wheels.wheel_left]"), RACK.index("[drives.rack]")
    path.write_text(RACK[:wheels] + RACK[road:], encoding="utf-8")
    assert main(["rods", str(path), "--toe", "1.5"]) == 2
    assert "the file has no left and right wheel whose toe could be set" in capsys.readouterr().err
