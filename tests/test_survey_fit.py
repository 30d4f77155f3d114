"""The fit of a machine to readings taken on it: against closed forms, random readings, and readings that are wrong."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from measure_machines import FOUR_BAR
from survey_machines import SETTINGS, TRUE, arm_text, read, readings_of, tape, tip_to_anchor

from assembly.api.surveying import built_machine
from assembly.cli import main
from assembly.errors import InputError
from assembly.model.fitted_text import fitted_text
from assembly.model.reader import read_machine
from assembly.report.text.survey_text import survey_blocks
from assembly.report.text.terminal import plain_text
from assembly.studies.survey.adjustment import adjusted, all_of
from assembly.studies.survey.observed import ObservedMachine
from assembly.studies.survey.survey_record import surveyed

NOISE = 0.25 * np.random.default_rng(5).standard_normal(len(SETTINGS))
"""mm: half of the stated error of a reading is one standard deviation."""
MESHES = Path(__file__).resolve().parent.parent / "meshes"
POST = tape("post", 99.4, ends=("post", "hinge", "post", "far")).replace('"far"', "[100, 0, 0]")
"""Between two points of a part that nothing marked changes, 100 mm apart in the file."""
OWN = (*TRUE.values(),)


def fitted(measured):
    return surveyed(read(arm_text(measured)))


def numbers(found):
    return {one.name: one for one in found.record.numbers}


@pytest.fixture(scope="module")
def good():
    return fitted(readings_of(*OWN, noise=NOISE) + POST)


@pytest.fixture(scope="module")
def gross():
    """The second reading was misread by 9 mm."""
    return fitted(readings_of(*OWN, noise=NOISE + np.array([0, 9.0, 0, 0, 0])))


@pytest.fixture(scope="module")
def few():
    return fitted(readings_of(*OWN, settings=(-20, 0)))


def test_numbers_are_found_within_what_they_are_said_to_be_known(good):
    """The truth is known: the readings are those of a machine with other numbers, each with random errors."""
    for name, one in numbers(good).items():
        assert one.known == "known"
        assert abs(one.fitted - TRUE[name]) <= one.plus_minus < 0.7
        assert abs(one.fitted - one.drawn) > one.plus_minus
    assert (good.record.verdict, good.record.rank, good.record.checked, good.record.agrees) == ("clear", 3, 3, True)


def closed_form_slopes(values):
    """Derivatives (o, 3) of all readings over arm, x and y, by hand."""
    arm, x, y = values
    turned = np.radians(SETTINGS)
    away = np.stack([x - arm * np.cos(turned), y - arm * np.sin(turned)], axis=1)
    unit = away / np.linalg.norm(away, axis=1)[:, None]
    along = -unit[:, 0] * np.cos(turned) - unit[:, 1] * np.sin(turned)
    return np.stack([along, unit[:, 0], unit[:, 1]], axis=1)


def test_the_errors_of_the_numbers_are_those_of_a_thousand_fits(good):
    """Gauss-Newton by hand on the closed form, for 1000 sets of random readings: the deviations are half of each ±."""
    random = np.random.default_rng(11)
    true = np.array(OWN)
    exact = tip_to_anchor(*true, np.array(SETTINGS))
    made = []
    for noise in 0.25 * random.standard_normal((1000, len(SETTINGS))):
        own = true.copy()
        for _ in range(4):
            off = exact + noise - tip_to_anchor(*own, np.array(SETTINGS))
            own = own + np.linalg.lstsq(closed_form_slopes(own), off, rcond=None)[0]
        made.append(own)
    told = np.array([one.plus_minus for one in good.record.numbers]) / 2
    assert np.std(made, axis=0) == pytest.approx(told, rel=0.07)


def test_derivatives_are_those_of_the_closed_form():
    observed = ObservedMachine(read(arm_text(readings_of(*OWN))))
    assert observed.slopes(np.array(OWN)) == pytest.approx(closed_form_slopes(OWN), abs=1e-6)
    assert observed.values(np.array(OWN)) == pytest.approx(tip_to_anchor(*OWN, np.array(SETTINGS)), abs=1e-6)


def test_a_gross_misreading_is_named_left_out_and_the_rest_finds_the_truth(gross):
    wrong = [one for one in gross.record.readings if one.left_out]
    assert [one.name for one in wrong] == ["at_1"]
    true = tip_to_anchor(*OWN, np.array(SETTINGS))[1]
    assert abs(wrong[0].others - true) <= wrong[0].others_plus_minus
    assert wrong[0].reading - wrong[0].others == pytest.approx(9.0, abs=1.0)
    assert all(abs(one.fitted - TRUE[name]) <= one.plus_minus for name, one in numbers(gross).items())
    assert gross.record.verdict == "undecided"
    assert gross.record.reason.startswith("at_1 contradicts the other readings")


def test_a_reading_with_the_wrong_sign_is_told_as_that(gross):
    """A distance from a plane has the sign of its side; 93 mm on the one are -93 mm on the other."""
    wrong = next(one for one in gross.record.readings if one.left_out)
    turned = replace(gross.record, readings=(replace(wrong, reading=-wrong.others),))
    said = [
        " ".join(plain_text(survey_blocks(record, "swingroom measured arm.toml", "arm.toml")).split())
        for record in (turned, gross.record)
    ]
    assert ["its sign is that of the side" in each for each in said] == [True, False]


def test_where_one_reading_checks_the_others_it_is_not_made_up_which_is_wrong():
    """Four readings of three numbers: each left out explains the rest, so all are named and none is left out."""
    settings = (-40, -10, 20, 50)
    found = fitted(readings_of(*OWN, settings=settings, noise=[0, 1.5, 0, 0]))
    assert not any(one.left_out for one in found.record.readings)
    assert sum(one.doubtful for one in found.record.readings) >= 2
    assert "which is wrong cannot be told" in found.record.reason


def test_with_fewer_readings_than_numbers_it_is_said_what_stays_open(few):
    assert few.record.rank == 2
    assert {one.known for one in few.record.numbers} == {"together"}
    assert numbers(few)["arm"].others == ("anchor.x", "anchor.y")
    assert all(one.plus_minus is None for one in few.record.numbers)
    assert few.record.verdict == "undecided"
    assert all(one.fitted == pytest.approx(one.reading, abs=1e-3) for one in few.record.readings)


def test_a_number_that_no_reading_sees_stays_as_drawn():
    """Only the arm is measured; two further numbers have nothing to do with that."""
    found = numbers(fitted(tape("length", 103, ends=("arm", "hinge", "arm", "tip"))))
    assert found["arm"].fitted == pytest.approx(103, abs=1e-3)
    assert found["arm"].plus_minus == pytest.approx(0.5, rel=1e-3)
    assert [(found[name].known, found[name].fitted) for name in ("anchor.x", "anchor.y")] == [
        ("unseen", pytest.approx(150, abs=1e-6)),
        ("unseen", pytest.approx(30, abs=1e-6)),
    ]


def test_a_reading_within_a_part_that_nothing_marked_changes_is_told_by_how_much(good):
    (one,) = [each for each in good.record.readings if each.name == "post"]
    assert (one.rigid, one.moved, one.drawn) == (True, False, pytest.approx(100))
    told = plain_text(survey_blocks(good.record, "swingroom measured arm.toml", "arm.toml"))
    assert "rigid in the file, 0.60 mm off" in told
    assert "do not move against each other in the file and nothing marked changes this" in " ".join(told.split())


def test_the_next_reading_is_the_one_that_makes_the_determinant_largest(few):
    """By hand: of the three distances with all drives at 0 and at both ends, by the closed form's derivatives."""
    arm, x, y = (one.fitted for one in few.record.numbers)
    reach = np.array([5, 4, 4])
    readings = (-20, 0)

    def row(swing):
        turned = np.radians(swing)
        away = np.array([x - arm * np.cos(turned), y - arm * np.sin(turned)])
        unit = away / np.hypot(*away)
        return np.array([-unit @ [np.cos(turned), np.sin(turned)], *unit]) * reach / 0.5

    known = sum((np.outer(row(s), row(s)) for s in readings), np.eye(3))
    post = np.array([0, x, y]) / np.hypot(x, y) * reach / 0.5
    rows = {"tip to hinge": np.array([5, 0, 0]) / 0.5, "anchor to hinge": post}
    rows |= {f"tip to anchor {s}": row(s) for s in (0, -60, 60)}
    gains = {
        name: np.log(np.linalg.det(known + np.outer(g, g)) / np.linalg.det(known)) / (1.25 if "60" in name else 1)
        for name, g in rows.items()
    }
    first = few.record.next[0]
    assert max(gains, key=gains.get) == "anchor to hinge"
    assert (first.first, first.second, any(first.at.values())) == ("anchor of post", "hinge", False)
    assert first.expected == pytest.approx(np.hypot(x, y), abs=1e-3)
    covariance = np.sqrt(np.diag(np.linalg.inv(known + np.outer(post, post)))) * reach
    names = [one.name for one in few.record.numbers]
    assert first.after == pytest.approx(covariance[names.index(first.number)], rel=1e-3)


def test_a_rod_of_a_loop_is_found_from_angles():
    """REFERENCE_VALUES 1.1, closed form: the rocker of a four-bar whose coupler is 121.7 instead of 120 mm."""
    crank, coupler, rocker, ground, true = 40.0, 120.0, 80.0, 100.0, 121.7

    def knee(at, length):
        a = crank * np.array([np.cos(np.radians(at)), np.sin(np.radians(at))])
        d = np.hypot(*(a - [ground, 0]))
        toward = np.arctan2(a[1], a[0] - ground) - np.arccos((rocker**2 + d**2 - length**2) / (2 * rocker * d))
        return a, np.array([ground, 0]) + rocker * np.array([np.cos(toward), np.sin(toward)]), np.degrees(toward)

    a, b, _ = knee(90, coupler)
    angles = "".join(
        f"[measured.at_{k}]\n"
        f'angle = [{{ on = "ground", along = [1, 0, 0] }}, {{ on = "rocker", line = ["c", "b"] }}]\nabout = [0, 0, 1]\n'
        f"reading = {knee(90 + turn, true)[2]}\nplus_minus = 0.2\nat = {{ crank = {turn} }}\n"
        for k, turn in enumerate((-60, 0, 70))
    )
    shape = {"a0": a[0], "a1": a[1], "b0": b[0], "b1": b[1], "ground": ground, "low": -90, "high": 90}
    text = FOUR_BAR.format(**shape, measures=angles)
    length = '[parts.coupler]\nset_length = { from = "a", to = "b", is = 120, may_differ = 4 }\n'
    found = surveyed(read("format = 1\n" + text.replace("[parts.coupler]\n", length)))
    (one,) = found.record.numbers
    assert one.name == "coupler.set_length"
    assert one.fitted == pytest.approx(true, abs=1e-3)


def test_fitted_lines_keep_all_else_and_are_the_machine_that_is_swept(good):
    machine = read(arm_text(readings_of(*OWN, noise=NOISE) + POST))
    built = {one.name: one.value for one in built_machine(machine, good).survey.uncertain}
    assert built == {one.name: pytest.approx(one.fitted, abs=6e-4) for one in good.record.numbers}
    before, after = machine.origin.source.text.split("\n"), good.fitted.text.split("\n")
    changed = [k for k, (old, new) in enumerate(zip(before, after, strict=True), 1) if old != new]
    assert changed == list(good.record.lines) == [4, 9]
    assert good.record.lines[9].startswith('anchor = { at = ["out - 0.8')
    assert good.record.lines[9].endswith(", 0], may_differ = [4, 4, 0] }")


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ("value = 100,", "value=1e2 ,", "arm = { value=102.5 , may_differ = 5 }"),
        ("{ value = 100, may_differ = 5 }", "{ may_differ = 5, value = 100 } # mine", "= 102.5 } # mine"),
        ("arm = { value = 100, may_differ = 5 }", "arm.value = 100\narm.may_differ = 5", "arm.value = 102.5"),
    ],
)
def test_a_number_is_found_however_its_line_is_written(old, new, line):
    machine = read(arm_text(readings_of(*OWN)).replace(old, new))
    (arm,) = [one for one in machine.survey.uncertain if one.name == "arm"]
    (told,) = fitted_text(machine, {arm: 102.5}).lines.values()
    assert told.endswith(line)


def test_without_readings_it_is_said_how_one_is_written():
    with pytest.raises(InputError, match=r"the file has no readings; write one, such as \[measured\.NAME\]"):
        surveyed(read(arm_text("")))


def test_a_reading_of_a_machine_in_which_nothing_may_differ_is_held_against_the_drawing_and_told_so():
    drawn = arm_text(tape("span", 150.0)).replace("{ value = 100, may_differ = 5 }", "100")
    found = surveyed(read(drawn.replace('{ at = ["out", 30, 0], may_differ = [4, 4, 0] }', '["out", 30, 0]')))
    assert found.record.numbers == ()
    assert found.record.reason == "span is not as drawn, and the file marks nothing that may differ"
    told = " ".join(plain_text(survey_blocks(found.record, "swingroom measured m.toml", "m.toml")).split())
    away = tip_to_anchor(100, 150, 30, 0.0)
    assert f"again: 150.00 mm was read, as drawn it is {away:.2f} mm, {150 - away:.2f} mm off" in told


def test_a_robust_fit_is_moved_less_by_a_misreading():
    observed = ObservedMachine(read(arm_text(readings_of(*OWN, noise=[0, 9.0, 0, 0, 0]))))
    plain, robust = (adjusted(observed, all_of(observed), robust=wish, exactly=False) for wish in (False, True))
    off = [np.abs(one.numbers - np.array(OWN)).max() for one in (plain, robust)]
    assert off[1] < 0.5 * off[0]


def test_the_command_sweeps_the_machine_as_it_stands_and_writes_its_file(tmp_path, capsys):
    """Closed form: a corner of the arm's end goes round at √(102² + 2²), as it stands √(104.4² + 2²); wall at 122."""
    wall = "[parts.wall]\nfixed = true\nshapes = [{ box = [142, 0, 0], size = [40, 4, 4] }]\n"
    text = arm_text(readings_of(*OWN)).replace("[joints.hinge]", wall + "[joints.hinge]")
    text += "[clearance]\nrequired = 18\n"
    file, other = tmp_path / "arm.toml", tmp_path / "as_built.toml"
    file.write_text(text)
    assert main(["measured", str(file), "--fitted", str(other), "--cores", "1"]) == 1
    told = capsys.readouterr().out
    assert told.startswith("FAILS: as it stands")
    assert "CLEAR, all 3 pairs" in told
    assert f"{122 - np.hypot(102, 2):.2f} mm" in told
    assert f"{122 - np.hypot(104.4, 2):.2f} mm" in told
    assert "arm – wall fails as it stands" in told
    assert len(told.splitlines()) <= 40
    assert main(["measured", str(other), "--no-sweep", "--json"]) == 0
    again = json.loads(capsys.readouterr().out)
    assert [one["drawn"] for one in again["numbers"]] == pytest.approx(OWN, abs=1e-3)
    assert again["lines"] == {}


def test_the_file_itself_is_never_written_over(tmp_path, capsys):
    file = tmp_path / "arm.toml"
    file.write_text(arm_text(readings_of(*OWN)))
    before = file.read_text()
    assert main(["measured", str(file), "--fitted", str(file)]) == 2
    assert main(["measured", str(file), "--fitted", str(tmp_path / "x.txt")]) == 2
    assert "--fitted names FILE itself" in capsys.readouterr().err
    assert file.read_text() == before


def test_the_fit_alone_says_that_nothing_was_swept(tmp_path, capsys):
    file = tmp_path / "arm.toml"
    file.write_text(arm_text(readings_of(*OWN)))
    assert main(["measured", str(file), "--no-sweep"]) == 0
    assert capsys.readouterr().out.startswith("Fitted, not swept: the readings agree")


@pytest.fixture(scope="module")
def pulled():
    """The demo trike and its readings."""
    return surveyed(read_machine(MESHES / "parcel_trike/parcel_trike.toml"))


def test_a_weld_pull_of_3_mm_is_found_from_eight_readings_by_tape(pulled):
    """The readings are those of a frame of which one bracket stands 2.4 mm farther in and 1.8 mm higher, to 0.5 mm."""
    found, true = numbers(pulled), {"weld_left_y": -2.4, "weld_left_z": 1.8, "weld_right_y": 0.0, "weld_right_z": 0.0}
    assert len(pulled.record.readings) == 8
    assert [name for name, value in true.items() if abs(found[name].fitted - value) > found[name].plus_minus] == []
    assert np.hypot(found["weld_left_y"].fitted, found["weld_left_z"].fitted) == pytest.approx(3.0, abs=0.5)
    assert max(one.plus_minus for one in found.values()) < 0.5
    assert (pulled.record.rank, pulled.record.checked, pulled.record.verdict) == (4, 4, "clear")


def test_left_and_right_are_told_apart_in_the_mirror(pulled):
    """Between the pins of each side the file has 120 mm; 118.5 were read on the left and 119.5 on the right."""
    sides = {one.first: one for one in pulled.record.sides}
    assert sides["pins_left"].second == "pins_right"
    assert (sides["pins_left"].apart, sides["pins_left"].drawn_apart) == (
        pytest.approx(-1.0),
        pytest.approx(0.0, abs=1e-6),
    )
    assert sides["pins_left"].plus_minus == pytest.approx(np.hypot(0.5, 0.5))
    assert "pins_low" not in sides
