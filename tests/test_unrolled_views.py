"""What shows a part that can roll shows it at the roll that is judged, or says that it does not."""

from dataclasses import replace
from math import cos, radians, sin
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from page_machines import made_page, moving
from records import pair as made_pair
from records import record as made_record
from tries import first

from assembly.api.picture_scenes import nearest_scene, stop_scene
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.cli import commands
from assembly.model.reader import machine_from_text
from assembly.report.page import page_html
from assembly.report.text.words import unrolled_words
from assembly.studies.stops.stop_design import settle_stops
from assembly.studies.sweep.check import check

CASES = Path(__file__).resolve().parent / "cases"
TEXT = (CASES / "rolling_rod_with_stops.toml").read_text()
BARE = TEXT.split("[stops.up]")[0] + "[clearance]\nrequired = 1\n"
LOAD = '\n[loads.push]\nforces = [{ on = "stick", at = [-40, 50, 0], newtons = [0, 0, -100] }]\n'
NOT_ROLLED = "pushrod can roll about its own line: it stands here as the shortest turn from the zero position leaves it"


def quiet(*_):
    pass


def told_by(command, text):
    """What a command prints of a file in the working folder."""
    Path("lug.toml").write_text(text)
    done = CliRunner().invoke(commands, [command[0], "lug.toml", *command[1:]], standalone_mode=False)
    assert done.exception is None
    return " ".join(done.output.split())


def top_of_lug(scene, part="pushrod"):
    """The corner of the lug's top that lies farthest to the side, y and z in mm; the rod's line is the x axis."""
    (solid,) = (one for one in scene.solids if one.name == part)
    corners = solid.mesh.vertices
    lug = corners[np.hypot(corners[:, 1], corners[:, 2]) > 40]
    return lug[np.argmax(np.abs(lug[:, 1])), 1:]


def corner_rolled(degrees):
    """Closed form: the corner (3, 50) of the lug, on the side to which it rolls, right-handed about x."""
    turn, side = radians(degrees), 3.0 if degrees < 0 else -3.0
    return side * cos(turn) - 50 * sin(turn), side * sin(turn) + 50 * cos(turn)


def test_the_picture_of_the_closest_pair_shows_the_rod_at_the_roll_at_which_it_is_nearest():
    checked = check(machine_from_text(BARE, CASES), Effort(), quiet)
    nearest = checked.found[0].result
    assert nearest.rolls == ("roll of pushrod",)
    scene = nearest_scene(checked)()
    assert abs(nearest.at[1]) > 10
    assert top_of_lug(scene) == pytest.approx(corner_rolled(nearest.at[1]), abs=1e-4)
    assert "roll of pushrod" in scene.pose_text


def test_the_picture_of_a_stop_shows_the_rod_at_the_roll_that_dictates_it():
    settled = settle_stops(machine_from_text(TEXT, CASES), Effort(decide_only=True, strikes_shown=False), quiet)
    scene = stop_scene(settled)()
    ((name, roll),) = settled.designed.designs["up"].ways[0].ends.rolls
    assert name == "roll of pushrod"
    assert top_of_lug(scene) == pytest.approx(corner_rolled(roll), abs=1e-4)
    assert "roll of pushrod" in scene.pose_text


@pytest.mark.parametrize(
    "more", first([["picture", "--size", "640x360"], ["export", "--still"], ["loads"], ["loads", "--worst"]], 2)
)
def test_what_does_not_show_a_roll_says_so(more, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert NOT_ROLLED in told_by(more, BARE + LOAD)


def test_nothing_is_said_of_a_part_that_is_clamped(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    clamped = (BARE + LOAD).replace("[parts.pushrod]", "[parts.pushrod]\nroll = 5")
    assert "can roll about" not in told_by(["export", "--still"], clamped)
    assert "can roll about" not in told_by(["loads"], clamped)


def test_several_parts_are_told_in_one_sentence():
    assert unrolled_words(()) == ""
    assert unrolled_words(("a", "b")).startswith("a, b can roll about their own lines: they stand here")


def test_the_page_names_beside_its_view_what_stands_there_unrolled():
    page = made_page(made_record(made_pair("arm", "post", 2.0)), replace(moving(), unrolled=("arm", "post")))
    html = page_html(page)
    beside = html.split("</canvas>")[1].split('<form id="drives"')[0]
    assert "arm, post can roll about their own lines" in beside
    assert "can roll about" not in page_html(made_page(made_record(made_pair("arm", "post", 2.0))))
