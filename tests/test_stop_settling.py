"""What a stop design recommends passes the proof that it prints, and can be pasted as it stands."""

import json
import re
from math import sqrt
from pathlib import Path

import pytest
from click.testing import CliRunner
from stop_machines import GATE, both_stops, designed_stops, rack, table_beside_a_post
from tries import first

from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.clearance.stops.stop_proof import prove_stops, unproven
from assembly.cli import commands
from assembly.model.reader import machine_from_text
from assembly.record import json_text
from assembly.report.text.stop_figures import told_figures
from assembly.studies.stops.stop_design import settle_stops

CASES = Path(__file__).resolve().parent / "cases"
DECIDED = Effort(cores=1, decide_only=True)


def quiet(*_):
    pass


def settled(text):
    return settle_stops(machine_from_text(text, CASES), DECIDED, quiet)


def run(command, path, *more):
    return CliRunner().invoke(commands, [command, str(path), *more, "--cores", "1"], standalone_mode=False)


def pasted(text, record):
    """``text`` with the lines of a record written where it says, as a reader would."""
    lines = text.split("\n")
    entries = [*record["heights_to_write"], *record["ranges_to_write"]]
    for one in sorted(entries, key=lambda entry: -entry["line"]):
        at, how = one["line"] - 1, one["how"]
        assert one["anchor"] in lines[at]
        if how == "below":
            lines.insert(at + 1, one["text"])
        elif how == "inside":
            lines[at] = lines[at].replace(one["anchor"], f"{one['anchor']} {one['text']}", 1)
        else:
            lines[at] = lines[at].replace(one["anchor"], one["text"], 1)
    return "\n".join(lines)


def test_height_is_corrected_until_it_passes_its_own_proof():
    """Closed form: under the corner 55 - 40 - 1 = 14 mm are free, so of 65 mm the pad must fill 51 or a little more."""
    machine = machine_from_text(table_beside_a_post(), CASES)
    once = designed_stops(machine, quiet)
    assert once.designs["rest"].recommended == pytest.approx(35.0, abs=0.01), "the file's range, for all that it sees"
    proof = prove_stops(machine, once.designs, DECIDED, quiet)
    assert [one.pair.b for one in proof.swept.pairs if one.verdict is Verdict.FAILS] == ["top"]
    found = settle_stops(machine, DECIDED, quiet)
    assert not found.record.why_none
    assert 51.0 < found.designed.designs["rest"].to_make < 51.2
    assert not list(unproven(found.proof))


@pytest.mark.parametrize("play", first([0.3, 0.0], 1))
@pytest.mark.parametrize("required", [0.5, 1, 3])
def test_recommended_height_passes_its_own_proof(required, play):
    """The case and more of its kind: the proof that is printed holds for what is recommended."""
    text = (CASES / "stop_fails_own_proof.toml").read_text(encoding="utf-8")
    text = text.replace("required = 1", f"required = {required}")
    text = text.replace(
        "pad = { diameter = 10 }", f"pad = {{ diameter = 10 }}\nmargin = {{ play = {play}, joints = 0 }}"
    )
    found = settled(text)
    record = found.record
    assert record.verdict == "clear"
    assert all(pair.proven_mm >= required for pair in record.proof.near)
    up = found.designed.designs["up"]
    assert up.ways[0].acts + play < record.proof.drives["turn"].to == round(record.proof.drives["turn"].to, 2)


@pytest.mark.long
def test_what_is_printed_can_be_pasted_proven_again_and_swept(tmp_path):
    text = table_beside_a_post()
    path = tmp_path / "machine.toml"
    path.write_text(text, encoding="utf-8")
    first = run("stop", path, "--all", "--no-picture", "--out", str(tmp_path / "out"))
    assert first.return_value == 0
    record = json.loads((tmp_path / "out" / "stops.json").read_text(encoding="utf-8"))
    shown = " ".join(first.stdout.split())
    assert f"line {record['heights_to_write'][0]['line']}, below [stops.rest] height = 51.11" in shown
    path.write_text(pasted(text, record), encoding="utf-8")
    again = run("stop", path, "--all", "--no-picture", "--out", str(tmp_path / "out"))
    assert again.return_value == 0
    assert "Write into the file" not in again.stdout
    assert run("sweep", path, "--no-picture", "--out", str(tmp_path / "out")).return_value == 0


INLINE = """
[stops]
spacer = { drive = "rack", side = "high", parts = ["rack", "frame"],
  at = [0, -105, 0], along = [0, 1, 0], pad = { diameter = 12 }, margin = { joints = 0 } }
"""
DOTTED = """
[stops]
spacer.drive = "rack"
spacer.side = "high"
spacer.parts = ["rack", "frame"]
spacer.at = [0, -105, 0]
spacer.along = [0, 1, 0]
spacer.pad = { diameter = 12 }
spacer.margin.joints = 0
"""


@pytest.mark.parametrize("stops", first([None, INLINE, DOTTED], 2))
def test_lines_fit_however_the_stop_is_written(stops):
    text = rack()
    text = text if stops is None else text[: text.index("[stops.spacer]")] + stops
    text = text.replace("range = [-75, 75]", "range = [0, 75]")
    found = settled(text)
    record = json.loads(json_text(found.record))
    assert record["verdict"] == "clear"
    stop = machine_from_text(pasted(text, record), CASES).stops["spacer"]
    assert stop.height == found.designed.designs["spacer"].to_make


def test_design_that_no_height_can_save_says_so_and_gives_no_lines(tmp_path):
    """Own model: base and post overlap as drawn, wherever the stop acts."""
    path = tmp_path / "machine.toml"
    path.write_text(table_beside_a_post().replace('{ between = ["base", "post"], ignore = "welded" },', ""), "utf-8")
    result = run("stop", path, "--all", "--no-picture", "--out", str(tmp_path / "out"))
    assert result.return_value == 1
    text = " ".join(result.stdout.split())
    assert "FAILS: base – post 0.00 mm at down 0 mm, turn 0°: they strike" in text
    assert "no heights were found that pass the proof: none of the stops whose height is free acts there" in text
    assert "tried: do not make it before all of this holds" in text
    assert "Write into the file" not in text
    assert "height =" not in text


def test_machine_without_a_pair_to_check_has_no_stops_that_hold(tmp_path):
    """The leaf and its post are left out by the file; the pad stands on one and is meant to strike the other."""
    path, ignored = (
        tmp_path / "machine.toml",
        '[clearance]\npairs = [{ between = ["post", "gate"], ignore = "asked" }]\n',
    )
    path.write_text(GATE.replace("\n[stops.buffer]", f"\n{ignored}\n[stops.buffer]"), encoding="utf-8")
    result = run("stop", path, "--all", "--no-picture", "--out", str(tmp_path / "out"))
    assert result.return_value == 3
    assert "UNDECIDED: there is no pair of parts to check, so nothing was shown" in result.stdout
    assert "Write into the file" not in result.stdout


def test_bolt_in_a_hole_is_settled_with_what_it_does_there(tmp_path):
    """At the hole the swing may go on to its bottom at 10.44 degrees (closed form); the file asks for 9."""
    path = CASES / "stop_finds_a_hole.toml"
    result = run("stop", path, "--all", "--no-picture", "--out", str(tmp_path))
    record = json.loads((tmp_path / "stops.json").read_text(encoding="utf-8"))
    stop, proof = record["stops"][0], record["proof"]["struck"][0]
    assert (result.return_value, proof["proven"]) == (0, True)
    assert proof["by"] >= stop["acts"]["last"] > 10.38 or stop["to_make_mm"] > 28
    text = " ".join(result.stdout.split())
    assert re.search(r"travel lost of the range asked for: 0\.\d+° of swing \+9° \(struck from \+8\.9\d° on\)", text)
    assert "swing may go 1.4" in text
    assert re.search(r"margin 3\.0\d° from where it acts to as far as was looked, where nothing touches", text)


def test_what_is_given_away_stands_below_the_verdict():
    found = settled(both_stops(margin="clearance = 3.0, joints = 0"))
    record = found.record
    low, high = record.given_up
    assert (low.side, high.side, high.asked) == ("low", "high", 35.0)
    assert high.amount == pytest.approx(35 - 30.07, abs=0.02)
    assert round(high.asked - high.acts, 2) == high.amount


@pytest.mark.parametrize(
    ("load", "told"),
    [
        ("moment = 207.2, factor = 1.5", r"load +(\d+) N: ([\d.]+) N·m × ([\d.]+) / ([\d.]+) mm"),
        ("moment = 31.7", r"load +(\d+) N: ([\d.]+) N·m()? / ([\d.]+) mm"),
    ],
)
def test_reader_finds_the_printed_force_again(tmp_path, load, told):
    """F = M · factor / lever, multiplied out from the printed figures."""
    path = tmp_path / "machine.toml"
    path.write_text(f"{GATE.replace('modulus = 40', 'modulus = 9000')}load = {{ {load} }}\n", encoding="utf-8")
    text = run("stop", path, "--all", "--no-picture", "--out", str(tmp_path)).stdout
    force, moment, factor, arm = (float(each or 1) for each in re.search(told, text).groups())
    assert round(1e3 * moment * factor / arm) == force
    give, again, stiffness = map(
        float, re.search(r"deflection +([\d.]+) mm \((\d+) N / ([\d.]+) N/mm\)", text).groups()
    )
    assert again == force
    assert round(force / stiffness, 2) == give
    arm, pace = map(float, re.search(r"lever ([\d.]+) mm, ([\d.]+) mm for each °", text).groups())
    assert round(arm * 3.14159265358979 / 180, 3) == pace


def test_reader_finds_the_force_of_a_fall_again(tmp_path):
    """F = P + √(P² + 2·E·k), closed form of the energy balance, from the printed figures."""
    path = tmp_path / "machine.toml"
    path.write_text(f"{GATE}load = {{ mass = 10, height = 300, fall_from = -10 }}\n", encoding="utf-8")
    text = " ".join(run("stop", path, "--all", "--no-picture", "--out", str(tmp_path)).stdout.split())
    told = r"load (\d+) N: .*P = ([\d.]+) N that .*E = ([\d.]+) J of .*k = ([\d.]+) N/mm"
    force, still, energy, stiffness = map(float, re.search(told, text).groups())
    assert round(still + sqrt(still**2 + 2000 * energy * stiffness)) == force


def test_no_more_digits_are_told_than_the_result_needs():
    moment, arm = (float(each) for each in told_figures(4151.0, 0, lambda m, a: 1500 * m / a, 207.2, 74.8735))
    assert round(1500 * moment / arm) == 4151
    assert told_figures(2.0, 0, lambda a: a, 2.04) == ["2"]


def test_slide_shows_its_factor(tmp_path):
    path = tmp_path / "machine.toml"
    path.write_text(rack("load = { force = 120, factor = 2 }"), encoding="utf-8")
    assert "load         240 N: 120 N × 2" in run("stop", path, "--all", "--no-picture", "--out", str(tmp_path)).stdout
