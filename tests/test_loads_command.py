"""``swingroom loads`` as a builder types it: published forces from a file, ratings, exit status, what stays open."""

import json
import os
import re
from math import hypot, radians, sin, tan
from pathlib import Path
from signal import SIGKILL

import pytest
from oracles import linkages

from assembly.cli import ExitStatus, main

CRANK_ANGLE = 40.0
COUPLER_ANGLE, ROCKER_ANGLE = linkages.four_bar(40, 120, 80, 100, CRANK_ANGLE)

FOUR_BAR = f"""
format = 1
name = "Four-bar"

[dimensions]
crank = 40
push = 10

[points]
knee = ["crank * cos({CRANK_ANGLE})", "crank * sin({CRANK_ANGLE})", 0]
wrist = ["100 + 80 * cos({float(ROCKER_ANGLE)!r})", "80 * sin({float(ROCKER_ANGLE)!r})", 0]

[parts.ground]
fixed = true
shapes = [{{ box = [50, -50, 0], size = [10, 10, 10] }}]
[parts.crank]
shapes = [{{ box = [0, 0, 20], size = [10, 10, 10] }}]
[parts.coupler]
shapes = [{{ box = [0, 0, 40], size = [10, 10, 10] }}]
[parts.rocker]
shapes = [{{ box = [0, 0, 60], size = [10, 10, 10] }}]

[joints.crank_pin]
pin = ["ground", "crank"]
at = [0, 0, 0]
along = [0, 0, 1]
[joints.knee]
KNEE = ["crank", "coupler"]
at = "knee"
LINE = [0, 0, 1]
RATED
[joints.wrist]
WRIST = ["coupler", "rocker"]
at = "wrist"
along = [0, 0, 1]
[joints.rocker_pin]
pin = ["ground", "rocker"]
at = [100, 0, 0]
along = [0, 0, 1]

[drives.turn]
turns = {{ crank_pin = 1 }}
range = [-10, 30]

[loads.twist]
moments = [{{ on = "rocker", newton_metres = [0, 0, "push"] }}]
MORE
"""


def four_bar(rated="", *, planar=False, more=""):
    """The published four-bar; with ball and cylindrical nothing is held twice, ``planar`` all joints are pins."""
    kinds = ("pin", "along", "pin") if planar else ("ball", "bolt", "cylindrical")
    text = FOUR_BAR
    for word, put in zip(("KNEE", "LINE", "WRIST", "RATED", "MORE"), (*kinds, rated, more), strict=True):
        text = re.sub(rf"\b{word}\b", put, text)
    return text


@pytest.fixture
def told(tmp_path, monkeypatch, capsys):
    """Runs the command on a text: exit status, what stands on stdout, sentences unbroken, and on stderr."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("assembly.report.text.terminal.WIDTH", 1000)

    def run(text, *arguments):
        Path("rig.toml").write_text(text, encoding="utf-8")
        status = main(["loads", "rig.toml", *arguments])
        captured = capsys.readouterr()
        return status, captured.out, captured.err

    return run


def rows(text, joint):
    """Cells of the rows that name ``joint`` in a column of its own."""
    cut = [re.split(r" {2,}", line.strip()) for line in text.splitlines()]
    return [cells for cells in cut if joint in cells]


# 7.14 (virtual work = free body): 10 N·m on the rocker, 2.799194 N·m at the crank, 207.575 N in the coupler
def test_published_forces_stand_in_record_and_report(told):
    status, out, _ = told(four_bar("rating = 300"), "--json")
    assert status == ExitStatus.CLEAR
    record = json.loads(out)
    (case,) = record["cases"]
    joints = {joint["joint"]: joint for joint in case["held"]["joints"]}
    assert abs(case["held"]["efforts"][0]["value"]) == pytest.approx(2.799194, abs=5e-7)
    assert case["held"]["efforts"][0]["unit"] == "N·m"
    for name in ("knee", "wrist"):
        assert joints[name]["across_n"] == pytest.approx(207.575, abs=5e-4)
    assert joints["knee"]["ratings"][0]["reserve_n"] == pytest.approx(300 - 207.575, abs=5e-4)
    assert joints["knee"]["moment_nm"] == pytest.approx(0, abs=1e-9)
    assert (record["kind"], record["verdict"], record["at"]) == ("loads", "within", {"turn": 0.0})
    assert record["not_rated"] == ["crank_pin", "wrist", "rocker_pin"]
    _, out, _ = told(four_bar("rating = 300"))
    assert "WITHIN: every rated joint" in out
    assert "knee carries 207.6 N; it is rated 300 N (twist)" in out
    assert ["WITHIN", "207.6", "300", "92.4", "knee", "whole force"] in rows(out, "knee")
    assert "drive turn must give −2.799 N·m" in out
    assert "No rating given: crank_pin, wrist, rocker_pin" in out
    assert "write `rating = ...` in newtons into [joints.crank_pin]" in out
    assert "looked at by someone competent" in out


# 7.14: half and twice what the coupler carries; along its bolt the planar linkage carries nothing
@pytest.mark.parametrize(
    ("rated", "status", "word"),
    [
        ("rating = 207.6", ExitStatus.CLEAR, "WITHIN"),
        ("rating = 207.5", ExitStatus.FAILS, "EXCEEDED: knee carries 207.6 N; it is rated 207.5 N (twist)"),
        ("radial_rating = '207.6'", ExitStatus.CLEAR, "WITHIN"),
        ("radial_rating = 207.5", ExitStatus.FAILS, "EXCEEDED: knee carries 207.6 N across its line"),
        ("axial_rating = 0.001", ExitStatus.CLEAR, "knee carries 0.0 N along its line"),
        ("rating = 207.6\nradial_rating = 9", ExitStatus.FAILS, "EXCEEDED: knee carries 207.6 N across its line"),
        ("", ExitStatus.CLEAR, "NOT JUDGED: no joint of this file has a rating"),
    ],
)
def test_ratings_of_the_file_set_verdict_and_status(told, rated, status, word):
    given, out, _ = told(four_bar(rated))
    assert given == status
    assert word in out


# closed form: 30 N along the bolt on a coupler that only its rod end keeps from sliding that way
def test_a_rod_end_is_rated_along_its_bolt(told):
    load = '[loads.shove]\nforces = [{ on = "coupler", at = "knee", newtons = [0, 0, 30] }]'
    status, out, _ = told(four_bar("axial_rating = 29", more=load), "--case", "shove")
    assert status == ExitStatus.FAILS
    assert "EXCEEDED: knee carries 30.0 N along its line; it is rated 29 N (shove)" in out
    assert "twist" not in out


def test_a_machine_held_more_than_once_is_told_at_least_and_never_split(told):
    status, out, _ = told(four_bar("rating = 300", planar=True))
    assert status == ExitStatus.UNDECIDED
    assert "OPEN: knee carries at least 207.6 N; it is rated 300 N (twist); the rest depends on stiffness" in out
    assert ["OPEN", "at least 207.6", "300", "at most 92.4", "knee", "whole force"] in rows(out, "knee")
    assert "knee at least 207.6 N" in out
    assert rows(out, "knee")[1][-1] in (
        "coupler: open along [0.00, 0.00, 1.00]",
        "coupler: open along [0.00, 0.00, −1.00]",
    )
    assert "knee: the force across its line is settled, `radial_rating` rates that" in out
    assert "held more than once" in out
    status, out, _ = told(four_bar("rating = 200", planar=True), "--json")
    assert status == ExitStatus.FAILS
    knee = json.loads(out)["cases"][0]["held"]["joints"][0]
    assert (knee["force_n"], knee["force"], knee["ratings"][0]["verdict"]) == (None, None, "exceeded")
    assert knee["force_open"] == [pytest.approx([0, 0, 1])] or knee["force_open"] == [pytest.approx([0, 0, -1])]


def test_a_joint_near_a_toggle_is_called_out(told):
    _, out, _ = told(four_bar())
    assert "Near a toggle" not in out
    folded = TOGGLE.replace("LEAN", "1").replace('at = "knee"\n', 'at = "knee"\nrating = 9000\n', 1)
    _, out, _ = told(folded)
    assert "(hand); parts are near a toggle, see below" in out
    assert "Near a toggle at this setting" in out
    assert "near a toggle small loads make large forces" in out
    (effort,) = re.findall(r"drive press must give (\S+) N\n", out)
    # closed form (toggle press): 100 N down on the knee of two bars at 1 degree is held by 50 / tan(1 deg)
    assert float(effort.replace("−", "-")) == pytest.approx(-50 / tan(radians(1)), abs=5e-3)
    _, out, _ = told(TOGGLE.replace("LEAN", "30"))
    assert "Near a toggle" not in out


TOGGLE = """
format = 1
name = "Press"
[points]
knee = ["100 * cos(LEAN)", 0, "100 * sin(LEAN)"]
toe = ["200 * cos(LEAN)", 0, 0]
[parts.bed]
fixed = true
shapes = [{ box = [0, 0, -60], size = [10, 10, 10] }]
[parts.near_bar]
shapes = [{ rod = [[0, 0, 0], "knee"], diameter = 6 }]
[parts.far_bar]
shapes = [{ rod = ["knee", "toe"], diameter = 6 }]
[parts.ram]
shapes = [{ box = "toe", size = [10, 10, 10] }]
[joints.foot]
pin = ["bed", "near_bar"]
at = [0, 0, 0]
along = [0, 1, 0]
[joints.knee]
ball = ["near_bar", "far_bar"]
at = "knee"
[joints.toe]
ball = ["far_bar", "ram"]
at = "toe"
[joints.way]
slide = ["bed", "ram"]
at = "toe"
along = [1, 0, 0]
[drives.press]
slides = { way = 1 }
range = [-20, 0]
[loads.hand]
forces = [{ on = "near_bar", at = "knee", newtons = [0, 0, -100] }]
"""

LEAN = """
format = 1
name = "Lean"
[points]
high = [0, 0, 600]
[parts.road]
fixed = true
shapes = [{ box = [0, 0, -40], size = [10, 10, 10] }]
[parts.frame]
shapes = [{ box = "high", size = [10, 10, 10] }]
[parts.box]
fixed = true
shapes = [{ box = [0, 300, 0], size = [10, 10, 10] }]
[joints.lean]
pin = ["road", "frame"]
at = [0, 0, 0]
along = [1, 0, 0]
radial_rating = RATING
[drives.tilt]
turns = { lean = 1 }
range = [-30, 30]
[loads.rider]
weights = [{ on = "frame", at = "high", kilograms = 100 }]
stop = { on = "frame", against = "road", at = [0, 110, 0], push = [0, "sin(30)", "cos(30)"], holds = "tilt" }
[loads.crate]
weights = [{ on = "box", at = [0, 300, 0], kilograms = 5 }, { on = "frame", at = "high", kilograms = 1 }]
down = [0, 0, -2]
gravity = 10
"""


# 7.15: m g h sin(lean) = 294.3 N·m at 30 degrees, on a stop 110 mm beside the pin, square to the lever (closed form)
def test_the_stop_takes_what_the_drive_held_and_both_are_told(told):
    status, out, _ = told(LEAN.replace("RATING", "3500"), "--case", "rider", "--set", "tilt=-30", "--json")
    (case,) = json.loads(out)["cases"]
    assert abs(case["held"]["efforts"][0]["value"]) == pytest.approx(294.3)
    (pin,) = case["held"]["joints"]
    assert pin["across_n"] == pytest.approx(981)
    stop, (stopped,) = case["stop"], case["stop"]["held"]["joints"]
    assert stop["force_n"] == pytest.approx(294.3 / 0.110)
    assert stop["held"]["efforts"][0]["value"] == pytest.approx(0, abs=1e-9)
    square = (0, 0.5, 0.75**0.5)
    lift = [-stop["force_n"] * along for along in square]
    assert stopped["force"] == pytest.approx([lift[0], lift[1], 981 + lift[2]])
    assert status == ExitStatus.CLEAR


PROP = """
[stops.prop]
drive = "tilt"
side = "low"
parts = ["frame", "road"]
at = [0, "110 * cos(30) - 10 * sin(30)", "-110 * sin(30) - 10 * cos(30)"]
along = [0, "sin(30)", "cos(30)"]
pad = { diameter = 8 }
"""


# 7.15, as above, the stop declared in the file: its pad stands on the road and ends where the lever comes down
def test_a_declared_stop_takes_the_load_by_its_name(told):
    text = LEAN.replace("RATING", "3500")
    start, end = text.index("stop = {"), text.index("[loads.crate]")
    text = text[:start] + 'stop = "prop"\n' + text[end:] + PROP
    _, out, _ = told(text + "height = 10\n", "--case", "rider", "--set", "tilt=-30", "--json")
    (case,) = json.loads(out)["cases"]
    assert case["stop"]["force_n"] == pytest.approx(294.3 / 0.110)
    (stopped,) = case["stop"]["held"]["joints"]
    assert stopped["across_n"] == pytest.approx(hypot(981 - 2675.4545 * 0.75**0.5, 2675.4545 * 0.5), rel=1e-6)
    status, _, err = told(text, "--case", "rider")
    assert status == ExitStatus.INPUT
    assert "the height of stop `prop` is not known; let `swingroom stop` find it first" in err
    status, _, err = told(text.replace('"prop"', '"drop"', 1), "--case", "rider")
    assert "unknown stop `drop`; the nearest of the stops is `prop`" in err


def test_a_rating_that_only_the_stop_exceeds_fails(told):
    status, out, _ = told(LEAN.replace("RATING", "1000"), "--case", "rider", "--set", "tilt=-30")
    assert status == ExitStatus.FAILS
    assert "rider: drives held, no stop" in out
    assert "rider: the stop bears the load that drive tilt held" in out
    assert "road pushes frame with 2675.5 N" in out


def test_a_stop_that_the_load_leaves_carries_nothing(told):
    status, out, _ = told(LEAN.replace("RATING", "1000"), "--case", "rider", "--set", "tilt=30")
    assert status == ExitStatus.CLEAR
    assert "the load pulls frame away from road: the stop carries nothing here" in out


def test_weights_pull_along_down_with_the_gravity_given_and_fixed_parts_carry_their_own(told):
    _, out, _ = told(LEAN.replace("RATING", "3500"), "--case", "crate", "--json")
    (case,) = json.loads(out)["cases"]
    assert case["held"]["joints"][0]["force"] == pytest.approx([0, 0, 10])
    assert [entry["about"] for entry in case["on_fixed"]] == ["box"]
    _, out, _ = told(LEAN.replace("RATING", "3500"), "--case", "crate")
    assert "box: on a fixed part, which carries it by itself" in out


class TestWorst:
    # 7.15: the drive's largest effort is at either end of the lean; the pin bears the weight everywhere
    def test_the_worst_of_the_range_is_told_with_its_setting(self, told):
        status, out, _ = told(LEAN.replace("RATING", "981.5"), "--case", "rider", "--worst", "--json")
        record = json.loads(out)
        (case,) = record["cases"]
        assert abs(case["efforts"][0]["value"]) == pytest.approx(294.3)
        assert abs(case["efforts"][0]["at"]["tilt"]) == 30
        assert case["joints"][0]["force_n"] == pytest.approx(981)
        assert case["ratings"][0]["rating"]["reserve_n"] == pytest.approx(0.5)
        assert (status, record["verdict"], case["stop"]) == (ExitStatus.CLEAR, "within", True)

    # closed form: transmission angle; the coupler of a four-bar under a moment on the rocker pulls M / (80 sin)
    def test_the_worst_setting_agrees_with_the_transmission_angle(self, told):
        status, out, _ = told(four_bar("rating = 200"), "--worst", "--json")
        assert status == ExitStatus.FAILS
        (worst,) = json.loads(out)["cases"][0]["ratings"]
        coupler, rocker = linkages.four_bar(40, 120, 80, 100, CRANK_ANGLE + worst["at"]["turn"])
        force = 10e3 / (80 * abs(_sine(rocker - coupler)))
        assert worst["rating"]["force_n"] == pytest.approx(force)
        ends = [linkages.four_bar(40, 120, 80, 100, CRANK_ANGLE + turn) for turn in (-10, 0, 30)]
        assert force >= max(10e3 / (80 * abs(_sine(rocker - coupler))) for coupler, rocker in ends) - 1e-9

    # the oracle is one process
    def test_the_number_of_workers_changes_nothing(self, told, monkeypatch):
        monkeypatch.setattr("assembly.studies.load.held_tasks.WORTH_WORKERS", -1)
        one, two = (told(four_bar("rating = 200"), "--worst", "--json", "--cores", cores) for cores in "12")
        assert one == two

    def test_a_process_that_dies_is_told_and_nothing_is_known(self, told, monkeypatch):
        monkeypatch.setattr("assembly.studies.load.held_tasks.WORTH_WORKERS", -1)
        monkeypatch.setattr("assembly.studies.load.held_tasks.settings_of", lambda *_: os.kill(os.getpid(), SIGKILL))
        status, out, err = told(four_bar("rating = 200"), "--worst", "--cores", "2")
        assert (status, out) == (ExitStatus.UNDECIDED, "")
        assert "a process that did a part of the work died" in err
        assert "--cores 1" in err

    def test_a_drive_that_is_set_is_held_there(self, told):
        _, out, _ = told(four_bar("rating = 300"), "--worst", "--set", "turn=0", "--json")
        record = json.loads(out)
        assert record["settings"] == 1
        assert record["cases"][0]["ratings"][0]["rating"]["force_n"] == pytest.approx(207.575, abs=5e-4)

    def test_report_names_joint_setting_and_that_it_is_sampled(self, told):
        status, out, _ = told(four_bar("rating = 200"), "--worst")
        assert status == ExitStatus.FAILS
        assert re.search(r"EXCEEDED: knee carries [\d.]+ N; it is rated 200 N \(twist\) at turn \S+°", out)
        assert "looked at 401 settings, not proven between them" in out
        assert "looked at by someone competent" in out

    def test_what_is_open_anywhere_leaves_the_rating_open(self, told):
        status, out, _ = told(four_bar("rating = 3000", planar=True), "--worst")
        assert status == ExitStatus.UNDECIDED
        assert "OPEN: knee carries at least" in out

    def test_settings_out_of_reach_leave_the_rating_open_and_are_told(self, told):
        wide = TOGGLE.replace("LEAN", "30").replace("range = [-20, 0]", "range = [0, 60]")
        wide = wide.replace('at = "knee"\n', 'at = "knee"\nrating = 1e6\n', 1)
        status, out, _ = told(wide, "--worst")
        assert status == ExitStatus.UNDECIDED
        assert "OPEN: " in out
        assert "cannot be reached: `swingroom sweep` says why" in out
        assert "Near a toggle somewhere in the range" in out


def _sine(degrees):
    return sin(radians(degrees))


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--case", "twst"), "there is no load case `twst`; the nearest of the load cases is `twist`"),
        (("--set", "trn=1"), "there is no drive `trn`; the nearest of the drives is `turn`"),
        (("--set", "turn=31"), "drive `turn` cannot be set to 31; its range in the file is -10 to 30 deg"),
        (("--set", "turn=1", "--set", "turn=2"), "drive `turn` is set twice"),
        (("--worst", "--set", "turn=1,5"), "write a number with a point"),
    ],
)
def test_wrong_arguments_are_status_2_in_one_line(told, arguments, said):
    status, out, err = told(four_bar(), *arguments)
    assert (status, out) == (ExitStatus.INPUT, "")
    (line,) = err.splitlines()
    assert said in line


@pytest.mark.parametrize("way", [(), ("--worst",)])
def test_a_file_without_loads_is_asked_for_them(told, way):
    text = four_bar()
    status, out, err = told(text[: text.index("[loads.twist]")], *way)
    assert (status, out) == (ExitStatus.INPUT, "")
    assert "the file has no load case; write [loads.NAME]" in err


def test_the_loads_of_the_readme_and_of_the_starter_can_be_asked_for(told):
    readme = (Path(__file__).resolve().parent.parent / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```toml\n(.*?)```", readme, re.DOTALL)
    gate, loads = (next(block for block in blocks if marker in block) for marker in ("Swing gate", "[loads."))
    joint, case = loads.split("\n\n")
    hinge = joint.partition("along")[0]
    assert hinge in gate
    status, out, _ = told(gate.replace(hinge, hinge + "radial_rating = 900\n") + case, "--set", "swing=-30")
    assert status == ExitStatus.CLEAR
    assert "post pushes gate with" in out
    assert main(["new", "shop"]) == ExitStatus.CLEAR
    assert main(["loads", "shop/shop.toml"]) == ExitStatus.CLEAR


def test_a_stop_that_acts_on_nothing_is_refused(told):
    along = LEAN.replace("RATING", "9").replace('push = [0, "sin(30)", "cos(30)"]', "push = [1, 0, 0]")
    status, _, err = told(along)
    assert status == ExitStatus.INPUT
    assert "the stop does not act on drive `tilt`" in err
