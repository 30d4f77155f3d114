"""``swingroom stop`` from the file to the screen, the record and the STL."""

import json
import re

import pytest
import trimesh
from click.testing import CliRunner
from small_machines import slider
from stop_machines import SPRING, beam_axle, both_stops, rack, table, two_stops

from assembly.cli import commands, main

SCREEN = CliRunner()


@pytest.fixture
def file(tmp_path):
    def write(text):
        path = tmp_path / "machine.toml"
        path.write_text(text, encoding="utf-8")
        return str(path)

    return write


def run(*arguments):
    return SCREEN.invoke(commands, ["stop", *arguments, "--cores", "1", "--no-picture", "--all"], standalone_mode=False)


def test_stops_that_hold(file, tmp_path):
    path = file(both_stops(margin="clearance = 3.0, joints = 0"))
    result = run(path, "--out", str(tmp_path / "out"))
    assert result.return_value == 0
    text = " ".join(result.stdout.split())
    assert "STOPS HOLD: every stop acts before anything else, proven over the whole stopped range" in text
    assert "set by damper on tie_rod at steer +30.07° with 3 mm of clearance, 1.14 mm for each ° more" in text
    assert "one turn is 1.59°" in text
    assert re.search(r"margin [\d.]+° from where it acts to what would touch or reach its limit first without it", text)
    for name in ("lock", "lock_right"):
        assert re.search(rf"line \d+, below \[stops.{name}\] height = 53.95", text)
    assert "looked at by someone competent" in text
    record = json.loads((tmp_path / "out" / "stops.json").read_text(encoding="utf-8"))
    assert record["verdict"] == "clear"
    assert [one["first_stop"] for one in record["directions"]] == ["lock_right", "lock"]
    assert record["stops"][0]["acts"]["setting"] == pytest.approx(30.07, abs=0.01)


def test_direction_without_a_stop_fails_and_its_first_contact_is_named(file):
    """BUILDERS_CASES TC-03a: the first contact is the rod on the damper, which is no stop."""
    result = run(file(beam_axle("clearance = 3.0, joints = 0")))
    assert result.return_value == 1
    text = " ".join(result.stdout.split())
    assert "FAILS: steer low: the first to touch is not a stop" in text
    assert "steer − NO STOP damper on tie_rod at steer −32.62°" in text
    assert "declare a stop for steer −: now damper on tie_rod at steer −32.62° ends it" in text


def test_no_stop_is_asked_of_a_drive_that_has_not_moved_where_the_parts_strike(file):
    """The nose comes to the block at push 10 (closed form: 30 - 20); the tray far off has no part in it."""
    tray = """
[parts.tray]
shapes = [{ name = "tray", box = [200, 0, 0], size = [20, 20, 20] }]
[joints.rail]
slide = ["base", "tray"]
at = [200, 0, 0]
along = [0, 0, 1]
[drives.lift]
slides = { rail = 1 }
range = [0, 5]
"""
    text = " ".join(run(file(slider(high=12.0, extra=tray))).stdout.split())
    assert "declare a stop for push +: now base on sledge at push +10 mm, lift 0 mm ends it" in text
    assert "mend first what no stop of lift can keep off (+)" in text
    assert "declare a stop for lift" not in text


def test_machine_without_stops_is_told_what_ends_it(file):
    bare = beam_axle()
    result = run(file(bare[: bare.index("[stops.lock]")]))
    assert result.return_value == 1
    assert result.stdout.count("NO STOP") == 2


def test_machine_that_nothing_ends_is_not_called_stopped(file):
    bare = table()
    result = run(
        file(bare[: bare.index("[stops.rest]")].replace("range = [0, 30]", "range = [0, 30]\nbeyond = [0, 40]"))
    )
    assert result.return_value == 3
    text = " ".join(result.stdout.split())
    assert "UNDECIDED: no stop is declared, and nothing was seen to end a drive" in text
    assert "declare a stop where a drive must not go on: [stops.NAME] in the file" in text


def test_try_another_length(file):
    """The other way round: this bolt length, which angle?"""
    result = run(file(both_stops(margin="joints = 0")), "--height", "lock=55", "--height", "lock_right=55")
    assert "acts at      +28.73°" in result.stdout
    assert "height       55.00 mm as the file says" in result.stdout or "height       55.00 mm" in result.stdout


def test_pads_are_written_to_cut_or_print(file, tmp_path):
    path = file(rack("step = 6.65"))
    result = run(path, "--stl", str(tmp_path / "pad.stl"))
    assert f"solid:   {tmp_path / 'pad.stl'}" in result.stdout
    size = trimesh.load(tmp_path / "pad.stl").extents
    assert size[2] == pytest.approx(13.3, abs=1e-4)
    assert size[0] == pytest.approx(12.0, abs=0.02)


def test_several_pads_have_their_names(file, tmp_path):
    run(file(both_stops(margin="clearance = 3.0, joints = 0")), "--stl", str(tmp_path / "pad.stl"))
    assert {path.name for path in tmp_path.glob("*.stl")} == {"pad_lock.stl", "pad_lock_right.stl"}


def test_no_pad_is_written_of_what_is_advised_against(file, tmp_path):
    """Nothing ends the other way, so the tie rod strikes the damper: both heights are "tried: do not make it"."""
    result = run(file(two_stops()), "--stl", str(tmp_path / "pad.stl"))
    assert "solid:   none of soft: the machine fails with the stops built in, see above" in result.stdout
    assert not list(tmp_path.glob("*.stl"))


def test_strip_acts_first_and_the_tyre_keeps_its_distance(file):
    """BUILDERS_CASES C22."""
    result = run(file(SPRING.replace("range = [0, 60]", "range = [0, 60]\nbeyond = [0, 60]")))
    text = " ".join(result.stdout.split())
    assert "bump + strip shell on tyre at bump +45 mm" in text
    assert "acts at +37 mm" in text


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        (
            'drive = "steer"\nside',
            'drive = "stear"\nside',
            "unknown drive `stear`; the nearest of the drives is `steer`",
        ),
        ('side = "high"', 'side = "up"', "stops.lock.side"),
        ('"knuckle_left", "axle"]\nat', '"knuckle", "axle"]\nat', "unknown part `knuckle`"),
        ('"knuckle_left", "axle"]\nat', '"axle", "axle"]\nat', "`axle` is paired with itself"),
        ("[stops.lock]", "[stops.axle]", "a part is called `axle` already"),
        ("bolt = { diameter = 8, pitch = 1.25 }", "", "a stop is a `pad` or a `bolt`; give one of them"),
        ("diameter = 8, pitch = 1.25 }", "diameter = 8, pitch = 0 }", "`stops.lock.bolt.pitch`"),
        ("margin", "height = -3\nmargin", "-3 is not a size"),
        ("margin", 'carrier = "damper"\nmargin', "`damper` is neither of the two parts"),
        ("margin", "load = { force = 30 }\nmargin", "the stop's drive turns; give `moment` in N·m or `mass` with"),
        ("margin", "load = { moment = 30, mass = 3, height = 4 }\nmargin", "a load is one of `moment`, `force` and"),
        ("margin", "load = { moment = 0 }\nmargin", "0 cannot be; give a number above 0"),
        ("margin", 'ahead_of = { stop = "lock", by = 2 }\nmargin', "`lock` cannot come after it"),
        (
            "margin",
            'fasteners = { size = "M7", grade = "8.8" }\nload = { moment = 9 }\nmargin',
            "no stress area for a bolt `M7`",
        ),
    ],
)
def test_bad_stops_are_one_line_each(file, capsys, before, after, told):
    text = beam_axle()
    start = text.index("[stops.lock]")
    assert before in text[start:]
    path = file(text[:start] + text[start:].replace(before, after, 1))
    assert main(["stop", path, "--cores", "1", "--no-picture"]) == 2
    error = capsys.readouterr().err
    assert told.replace("`stops.lock.bolt.pitch`", "stops.lock.bolt.pitch") in error
    assert "Traceback" not in error
