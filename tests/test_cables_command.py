"""What ``swingroom cables`` tells: lengths to cut, what the motion pulls and from where on, splitters, and bends."""

import csv
import json
from math import acos, asin, cos, degrees, exp, radians, sqrt
from pathlib import Path

import pytest
from cable_machines import ENDS, OVER_THE_PIN, bars, bars_text, hinged

import assembly
from assembly.cli import main
from assembly.errors import InputError
from assembly.history import compare
from assembly.report.text.cables_text import cables_blocks
from assembly.report.text.compare_text import compare_blocks
from assembly.report.text.one_screen import SCREEN_HEIGHT, fits
from assembly.report.text.sweep_text import sweep_blocks

BRAKE = f"[cables.brake]\nruns = [{{ through = [{ENDS}] }}]\n"


def needed(d):
    """TC-04 of the builders' cases: the law of cosines with 80, 250 and 60 + d degrees between."""
    return sqrt(68900 - 40000 * cos(radians(60 + d)))


def words(blocks):
    return "\n".join(" ".join(map(" ".join, block.rows)) if hasattr(block, "rows") else block.text for block in blocks)


def test_the_brake_of_tc_04_acts_where_its_cable_is_drawn_tight():
    """TC-04: of 255.0 it starts at +24.44; at +45 there is need of 281.52; 12 of pull are reached at 267."""
    record = assembly.cables(bars(BRAKE + "inner = 255\nfull_pull = 12"))
    (brake,) = record.cables
    left, right = brake.sides
    assert record.verdict == "fails"
    assert 281.52 <= brake.inner_to_cut <= needed(45) + 0.01
    assert (left.drive, left.to, left.pulled_from, left.full_from) == ("swing", -45.0, None, None)
    assert left.most == pytest.approx(needed(0) - 255, abs=1e-6)
    assert left.slackest == pytest.approx(needed(-45) - 255, abs=1e-6)
    assert right.most == pytest.approx(281.52 - 255, abs=0.006)
    assert right.pulled_from == pytest.approx(24.44, abs=0.005)
    assert right.full_from == pytest.approx(degrees(acos((68900 - 267**2) / 40000)) - 60, abs=0.005)
    told = words(cables_blocks(record, "swingroom cables m.toml"))
    for each in (
        "281.53",
        "FAILS: the motion pulls brake by 26.52 mm at swing +45°",
        "acts from +24.44°",
        "from +33.42°",
    ):
        assert each in told


def test_a_hose_to_cut_has_its_slack_and_the_inner_what_all_runs_need():
    """Closed form: 400 along the hose where it is straight, 10 of slack, and a bare run of 50 that never changes."""
    bare = '{ through = [{ on = "arm", at = [200, 0, 0] }, { on = "arm", at = [250, 0, 0] }] }'
    hose = f'[cables.hose]\nruns = [{{ through = [{OVER_THE_PIN}], bend = 60, outer = "to cut", slack = 10 }}, {bare}]'
    (cable,) = assembly.cables(hinged(hose, low=0, high=30)).cables
    assert 410 <= cable.runs[0].to_cut <= 410.02
    assert cable.inner_to_cut == pytest.approx(cable.runs[0].to_cut + 50, abs=1e-6)
    (short,) = assembly.cables(hinged(hose.replace('"to cut"', "390"), low=0, high=30)).cables
    assert cable.inner_to_cut <= short.inner_to_cut <= cable.inner_to_cut + 10.02


SPLIT = """
[cables.left]
runs = [{ through = [{ on = "frame", at = "stop" }, { on = "bars", at = "anchor" }] }]
[cables.right]
friction = 0.1
[[cables.right.runs]]
through = [{ on = "frame", at = [0, 0, 0] }, { on = "frame", at = [60, 0, 0] }, { on = "frame", at = [60, 60, 0] }]
[splitters.beam]
to = ["left", "right"]
pulls = [12, 8]
arms = [20, 30]
tilt = TILT
travel = TRAVEL
force = 300
"""


def split(tilt, travel, low=0, high=15):
    return assembly.cables(bars(SPLIT.replace("TILT", f"{tilt}").replace("TRAVEL", f"{travel}"), low, high))


def test_a_beam_shares_force_and_travel_by_its_arms():
    """Reference value 8.7: F1 a = F2 b, x = (b x1 + a x2) / (a + b); what the motion pulls is pulled already."""
    (beam,) = split(40, 25).splitters
    left, right = beam.ends
    assert (300 * left.share, 300 * right.share) == pytest.approx((180, 120))
    assert right.force == pytest.approx(120 * 0.854636, abs=1e-4)  # reference value 8.5, over 90 degrees
    moved = needed(15) - needed(0)
    assert (left.travel.zero, right.travel.zero) == pytest.approx((12, 8))
    assert left.travel.least == pytest.approx(12 - moved, abs=1e-6)
    assert beam.travel.zero == pytest.approx((30 * 12 + 20 * 8) / 50)
    assert beam.travel.least == pytest.approx((30 * (12 - moved) + 20 * 8) / 50, abs=1e-6)
    assert (beam.apart.least, beam.apart.most) == pytest.approx((4 - moved, 4), abs=1e-6)
    assert beam.tilt_most == pytest.approx(degrees(asin((moved - 4) / 50)), abs=0.05)


def test_a_beam_bottoms_out_where_its_ends_are_farther_apart_than_it_can_tilt():
    """Closed form: the ends are 50 sin(tilt) apart."""
    tilt = degrees(asin((needed(15) - needed(0) - 4) / 50))
    assert split(tilt + 0.1, 25).splitters[0].apart.verdict == "clear"
    record = split(tilt - 0.1, 25)
    assert record.splitters[0].apart.verdict == record.verdict == "fails"
    told = words(cables_blocks(record, "swingroom cables m.toml"))
    assert "FAILS: the beam of beam bottoms out at swing +15°" in told
    assert "it BOTTOMS OUT" in told


def test_a_splitter_of_too_little_travel_is_told_how_much_mends_it():
    """Closed form: with nothing slack the middle goes (30 · 12 + 20 · 8) / 50 = 10.4 mm, where all drives are at 0."""
    record = split(80, 10)
    assert record.verdict == record.splitters[0].travel.verdict == "fails"
    told = words(cables_blocks(record, "swingroom cables m.toml"))
    mended = float(told.split("give beam ")[1].split(" mm of travel or more")[0])
    assert mended == pytest.approx((30 * 12 + 20 * 8) / 50, abs=0.011)
    assert split(80, mended).splitters[0].travel.verdict == "clear"


def test_a_lever_without_enough_travel_fails():
    record = split(40, 10.3)
    assert record.splitters[0].travel.verdict == record.verdict == "fails"
    assert "beam needs 10.40 mm of travel and has 10.3 mm" in words(cables_blocks(record, ""))


def test_a_block_lets_one_side_act_before_the_other():
    block = SPLIT.replace("arms = [20, 30]\ntilt = TILT\ntravel = TRAVEL\n", "")
    record = assembly.cables(bars(block, 0, 15))
    (one,) = record.splitters
    assert (one.travel, one.tilt_most, one.ends[0].share) == (None, None, None)
    late = needed(15) - needed(0) - 4
    assert f"one acts up to {late + 0.005:.2f} mm of pull before the other" in words(cables_blocks(record, ""))


@pytest.mark.parametrize(
    ("friction", "angle", "left"),
    [(0.1, 90, 0.854636), (0.15, 90, 0.790081), (0.05, 90, 0.924465)],
)
def test_bends_take_what_the_capstan_relation_says(friction, angle, left):
    """Reference value 8.5: T2/T1 = exp(-μ · angle)."""
    hose = (
        f'[cables.hose]\nfriction = {friction}\nruns = [{{ through = [{OVER_THE_PIN}], bend = 60, outer = "to cut" }}]'
    )
    (cable,) = assembly.cables(hinged(hose, low=0, high=angle)).cables
    assert cable.through_at_zero == pytest.approx(1.0)
    assert exp(-friction * radians(angle)) == pytest.approx(left, abs=1e-6)
    assert cable.through_least == pytest.approx(left, abs=1e-4)
    assert cable.through_least <= left + 1e-6


WRONG = {
    "one cable": ('to = ["brake"]\npulls = [1, 2]', "a splitter pulls two different cables"),
    "the same twice": ('to = ["brake", "brake"]\npulls = [1, 2]', "a splitter pulls two different cables"),
    "no such cable": ('to = ["brake", "brke2"]\npulls = [1, 2]', "unknown cable `brke2`"),
    "a block that tilts": ('to = ["brake", "other"]\npulls = [1, 2]\ntilt = 20', "a splitter without `arms`"),
    "an arm of nothing": ('to = ["brake", "other"]\npulls = [1, 2]\narms = [0, 2]', "0 mm is not above 0"),
    "a pull below nothing": ('to = ["brake", "other"]\npulls = [-1, 2]', "-1 mm is out of bounds"),
    "an unknown key": ('to = ["brake", "other"]\npulls = [1, 2]\narm = [1, 2]', "the nearest is `arms`"),
}


@pytest.mark.parametrize("case", WRONG)
def test_what_a_splitter_cannot_be_is_told_in_one_line(case):
    splitter, told = WRONG[case]
    with pytest.raises(InputError) as caught:
        bars(BRAKE + BRAKE.replace("brake", "other") + f"[splitters.beam]\n{splitter}")
    (fault,) = caught.value.faults
    assert told in str(fault)


def test_the_command_answers_in_one_screen_as_json_and_as_a_table(tmp_path, capsys):
    file = tmp_path / "m.toml"
    file.write_text(bars_text(BRAKE + "inner = 255\nfull_pull = 12"), encoding="utf-8")
    assert main(["cables", str(file)]) == 1
    shown = capsys.readouterr().out
    assert "What to do now" in shown
    assert len(shown.splitlines()) <= SCREEN_HEIGHT
    assert main(["cables", str(file), "--json", "--csv", "--out", str(tmp_path / "out")]) == 1
    record = json.loads(capsys.readouterr().out)
    assert record["cables"][0]["sides"][1]["pulled_from"] == pytest.approx(24.44, abs=0.005)
    rows = [*csv.DictReader((tmp_path / "out" / "cables.csv").read_text(encoding="utf-8-sig").splitlines())]
    assert [row["what"] for row in rows] == ["inner", "pull"]
    assert float(rows[1]["most"]) == pytest.approx(26.52, abs=0.006)


def test_a_measure_of_a_cable_beyond_its_limit_sends_to_the_command_of_cables(tmp_path, capsys):
    file = tmp_path / "m.toml"
    file.write_text(bars_text(BRAKE + "inner = 255"), encoding="utf-8")
    assert main(["measures", str(file)]) == 1
    shown = " ".join(capsys.readouterr().out.split())
    assert "`swingroom helps m.toml --measure 'brake pull'`" in shown
    assert "`swingroom cables m.toml`" in shown


def test_two_brakes_on_a_turning_bar_pull_alike_on_either_side():
    """Symmetry: what turning left does to the left brake, turning right does to the right one."""
    file = Path(__file__).parent / "cases" / "cables_on_a_turning_bar.toml"
    record = assembly.cables(assembly.load(file))
    left, right = record.cables
    assert left.pull.most == pytest.approx(right.pull.most, abs=1e-6)
    assert left.sides[0].most == pytest.approx(right.sides[1].most, abs=1e-6)
    (beam,) = record.splitters
    assert beam.apart.least == pytest.approx(-beam.apart.most, abs=1e-6)
    assert record.verdict == "fails"


def test_a_cable_that_is_pulled_without_a_limit_is_never_told_clear():
    """Closed form: L(45) - L(0) = 60.39, of a cable of which nothing says how far it may be pulled."""
    told = words(cables_blocks(assembly.cables(bars(BRAKE)), ""))
    assert "CLEAR" not in told
    limited = assembly.cables(bars(BRAKE + "[cables.other]\nfree_play = 99\n" + BRAKE.partition("\n")[2]))
    told = words(cables_blocks(limited, ""))
    assert limited.verdict == "clear"
    assert "CLEAR" not in told
    assert f"but the motion pulls brake by up to {needed(45) - needed(0) + 0.005:.2f} mm" in told
    assert "say with `free_play`" in told


def test_a_file_without_cables_is_told_how_to_describe_one():
    with pytest.raises(InputError, match="the file has no cables"):
        assembly.cables(bars(""))


def test_a_sweep_holds_cables_to_their_limits_and_a_comparison_tells_what_changed():
    swept = [assembly.sweep(bars(BRAKE + f"inner = {inner}"), cached=False) for inner in (300, 270)]
    assert [each.record.verdict for each in swept] == ["clear", "fails"]
    assert "brake pull" in words(sweep_blocks(swept[1].record))
    told = words(compare_blocks(compare(swept[0].record, swept[1].record, shrank_mm=0.1)))
    assert "brake pull" in told


def test_the_answer_of_two_cables_and_a_splitter_fits_on_one_screen():
    assert fits(tuple(cables_blocks(split(40, 25), "swingroom cables m.toml")))


LOCKS = """
format = 1
name = "Locks"
[parts.frame]
fixed = true
shapes = [{ box = [0, 0, -50], size = [4, 4, 4] }]
[parts.crank]
shapes = [{ box = [0, 0, 50], size = [4, 4, 4] }]
[parts.rod]
shapes = [{ box = [0, 0, 90], size = [4, 4, 4] }]
[parts.block]
shapes = [{ box = [0, 0, 130], size = [4, 4, 4] }]
[joints]
main = { pin = ["frame", "crank"], at = [0, 0, 0], along = [0, 0, 1] }
big = { pin = ["crank", "rod"], at = [0, 40, 0], along = [0, 0, 1] }
small = { pin = ["rod", "block"], at = [80, 0, 0], along = [0, 0, 1] }
guide = { slide = ["frame", "block"], at = [80, 0, 0], along = [1, 0, 0] }
[drives.push]
slides = { guide = 1 }
range = [-10, 60]
[cables.hose]
runs = [{ outer = "to cut", through = [{ on = "frame", at = [0, -100, 0] }, { on = "crank", at = [0, 40, 0] }] }]
"""
"""A crank of 40 and a rod of sqrt(8000): the block locks at 40 + 89.44 - 80 = 49.44 mm (closed form)."""


def test_a_length_to_cut_of_a_machine_that_locks_in_its_range_is_not_told_as_proven(tmp_path, capsys):
    path = tmp_path / "locks.toml"
    path.write_text(LOCKS, encoding="utf-8")
    assert main(["cables", str(path)]) == 3
    told = " ".join(capsys.readouterr().out.split())
    assert "UNDECIDED: lengths that are not proven over the whole range: hose outer" in told
    assert "NOT proven over the whole range" in told
    assert "of the range the machine may lock" in told
    path.write_text(LOCKS.replace("60]", "45]"), encoding="utf-8")
    assert main(["cables", str(path)]) == 0
    assert "mm (proven over the whole range)" in capsys.readouterr().out
