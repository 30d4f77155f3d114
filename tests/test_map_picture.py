"""The picture of a map and its words: made from a record alone, whole or not at all."""

from itertools import pairwise
from math import hypot
from unittest import mock

import numpy as np
import pytest
from PIL import Image
from tries import first

import assembly.report.charts.map_picture
import assembly.report.charts.plotting
from assembly.errors import OutputError
from assembly.record import DriveEntry, LostEntry, MachineEntry, MapCell, MapRecord, StillEntry
from assembly.report.charts.map_files import map_file_lines, write_map
from assembly.report.charts.map_picture import INCHES, draw_map
from assembly.report.render.margin_scale import STEP_COLOURS, STEPS_MM
from assembly.report.render.palette import BLUE, LIGHT_GREY, VERMILION, WHITE
from assembly.report.text.map_text import map_blocks
from assembly.report.text.terminal import plain_lines

DRIVES = {"tilt": DriveEntry(-30.0, 30.0, "deg"), "lift": DriveEntry(-12.0, 12.0, "mm")}


def bowl(tilt, lift):
    """Least at tilt 12, lift -6: 1 mm."""
    return 1 + hypot((tilt - 12) / 6, (lift + 6) / 3)


def record(gap=bowl, required=3.0, counts=(12, 8), proven=lambda gap: max(gap - 0.5, 0.0), reached=None, **changed):
    """A map of ``gap`` over the first drives, as many as ``counts`` names; others are held at 2."""
    spread = dict(zip(DRIVES, counts, strict=False))
    axes = [
        drive.from_ + (drive.to - drive.from_) * (np.arange(count) + 0.5) / count
        for drive, count in zip(DRIVES.values(), counts, strict=False)
    ]
    cells = []
    for spot in np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, len(counts)).tolist():
        at = [*spot, *[2.0] * (len(DRIVES) - len(counts))]
        here = reached is None or reached(*at)
        least = gap(*at) if here else None
        sure = proven(least) if here else None
        room, sure_room = (None if value is None else value - required for value in (least, sure))
        names = ("left arm", "frame") if here else ("", "")
        cells.append(MapCell(dict(zip(DRIVES, at, strict=True)), here, least, sure, *names, room, sure_room))
    given = {
        "machine": MachineEntry("Test rig", "rig.toml", "", {}),
        "drives": DRIVES,
        "counts": spread,
        "held": {name: 2.0 for name in DRIVES if name not in spread},
        "pair": None,
        "pairs": 5,
        "required_mm": required,
        "cells": tuple(cells),
        "lost": None,
        "still_pairs": 0,
        "still": (),
    }
    return MapRecord(**{**given, **changed})


def pixels(path):
    with Image.open(path) as image:
        assert image.format == "PNG"
        return np.asarray(image.convert("RGB")).astype(int)


def has(picture, colour, at_least):
    return (np.abs(picture - colour).max(axis=2) <= 6).sum() >= at_least


DOTS = 60
"""Per inch: pictures of the tests are smaller than real ones."""


@pytest.fixture(scope="module")
def drawn(tmp_path_factory):
    """Pixels of a record's picture, each drawn once."""
    known = {}

    def draw(**wish):
        if str(wish) not in known:
            path = tmp_path_factory.mktemp("drawn") / "map.png"
            with mock.patch.object(assembly.report.charts.plotting, "DOTS_PER_INCH", DOTS):
                draw_map(record(**wish), path)
            assert [file.name for file in path.parent.iterdir()] == ["map.png"]
            known[str(wish)] = pixels(path)
        return known[str(wish)]

    return draw


def bowl_over_the_cells():
    """Its values at the middles of the twelve by eight cells."""
    return [bowl(tilt, lift) for tilt in np.arange(-27.5, 30, 5) for lift in np.arange(-10.5, 12, 3)]


def on_the_right(tilt, _lift):
    return tilt > 0


def test_both_panels_stand_side_by_side_in_one_scale_of_colours(drawn):
    picture = drawn()
    height, width, _ = picture.shape
    assert (width, height) == tuple(round(side * DOTS) for side in INCHES)
    panels = picture[: int(0.8 * height)]  # the legend below has the colours too
    left, right = panels[:, : width // 2], panels[:, width // 2 :]
    for panel, less in ((left, 0.0), (right, 0.5)):
        margins = [gap - less - 3.0 for gap in bowl_over_the_cells()]
        for step, (low, high) in enumerate(pairwise((*STEPS_MM, np.inf)), 1):
            cells = sum(low <= margin < high for margin in margins)
            assert has(panel, STEP_COLOURS[step], max(1, 150 * cells)) == bool(cells), (step, cells)
        assert has(panel, STEP_COLOURS[0], 150 * sum(margin < 0 for margin in margins))


def test_the_required_clearance_is_a_bold_line_only_where_it_is_crossed(drawn):
    assert has(drawn(), VERMILION, 300)
    assert not has(drawn(required=0.2), VERMILION, 1)


def flat(*_):
    return 5.0


def test_cells_that_fail_are_hatched(drawn):
    def lines(required):
        height, width, _ = drawn(gap=flat, required=required).shape
        panel = drawn(gap=flat, required=required)[height // 3 : 2 * height // 3, width // 8 : width // 4]
        return (np.abs(np.diff(panel.sum(axis=2), axis=1)) > 100).mean()

    assert lines(1.0) < 0.01
    assert lines(9.0) > 0.02


def uncertain(gap):
    return None if gap > 3 else gap - 0.2


def test_cells_out_of_reach_and_without_proof_are_shown_as_such(drawn):
    assert not has(drawn(), LIGHT_GREY, 4000)
    assert has(drawn(reached=on_the_right), LIGHT_GREY, 4000)
    height, width, _ = drawn().shape
    bare, whole = (
        has(picture[height // 4 : -height // 4, width // 2 : -width // 10], WHITE, 5000)
        for picture in (drawn(proven=uncertain), drawn())
    )
    assert (bare, whole) == (True, False)


def nowhere(*_):
    return False


@pytest.mark.parametrize("wish", first([{"counts": (1, 1)}, {"reached": nowhere}, {"counts": (1, 9)}], 2))
def test_few_cells_or_none_in_reach_are_drawn_too(drawn, wish):
    picture = drawn(**wish)
    assert len(np.unique(picture.reshape(-1, 3), axis=0)) > 50
    assert has(picture, LIGHT_GREY, 4000) == ("reached" in wish)


def test_a_curve_shows_what_is_required_and_where_nothing_can_be_reached(drawn):
    assert has(drawn(counts=(40,)), VERMILION, 300)
    assert has(drawn(counts=(40,)), BLUE, 100)
    assert not has(drawn(counts=(40,)), LIGHT_GREY, 4000)
    assert has(drawn(counts=(40,), reached=on_the_right), LIGHT_GREY, 4000)


def test_names_with_dollar_signs_are_only_names(drawn):
    drawn(counts=(1, 1), machine=MachineEntry(r"Rig $\frac{1}{$ of 5 $", "rig.toml", "", {}), pair=("a$_{", "$b^"))


def test_where_the_picture_cannot_be_put_nothing_is_left(tmp_path):
    with pytest.raises(OutputError):
        draw_map(record(), tmp_path / "none" / "map.png")
    assert list(tmp_path.iterdir()) == []


def test_table_and_picture_are_named_for_the_pair(tmp_path):
    files = write_map(record(pair=("left arm", "a/b")), tmp_path)
    assert files.table == tmp_path / "map_left_arm_a_b.csv"
    assert files.picture == tmp_path / "map_left_arm_a_b.png"
    assert {file.name for file in tmp_path.iterdir()} == {"map_left_arm_a_b.csv", "map_left_arm_a_b.png"}
    assert write_map(record(), tmp_path).table.name == "map.csv"


def test_a_picture_that_cannot_be_drawn_costs_no_table(tmp_path):
    with mock.patch.object(assembly.report.charts.map_picture, "draw_map", side_effect=MemoryError()):
        files = write_map(record(), tmp_path)
    assert files.table.is_file()
    assert lines(map_file_lines(files))[-1] == "picture: none was drawn: MemoryError"


def lines(blocks):
    return [line for block in blocks for line in plain_lines(block)]


def words(made):
    return " ".join(line.strip() for line in lines(map_blocks(made, "swingroom sweep rig.toml")))


def test_the_words_give_the_least_with_its_setting_and_the_bound():
    text = words(record(counts=(5, 4), required=0.5))
    assert "all 5 pairs that move against each other, tilt −30 to +30° in 5 steps with lift −12 to +12 mm in 4" in text
    assert (
        "Smallest of what was measured: left arm and frame, 2.00 mm at tilt +12°, lift −3 mm." in text
    )  # 1 + 3 / 3, closed form
    assert "Proven: nowhere below 1.50 mm." in text
    assert "Measured below" not in text
    assert "A map is no verdict: `swingroom sweep rig.toml` proves every pair over the whole range." in text


def test_the_words_never_round_up():
    text = words(record(gap=lambda *_: 2.9999, proven=lambda gap: gap - 0.0009, pair=("a", "b"), required=3.0))
    assert "a and b, " in text
    assert "Smallest of what was measured: 2.99 mm at" in text
    assert "nowhere below 2.99 mm" in text


def test_the_words_tell_what_fails_what_is_lost_and_what_stays_out():
    lost = LostEntry({"tilt": -24.0, "lift": -9.0}, ("hinge", "rod"), 1.25)
    still = (StillEntry("wheel", "guard", 1.5, 6.0),)
    text = words(record(counts=(5, 4), reached=lambda tilt, _lift: tilt > -20, lost=lost, still_pairs=7, still=still))
    assert "Measured below what is required in 2 of 20 squares; tilt +12°, lift −3 mm misses most, 1.00 mm, and" in text
    assert "Cannot be reached: 4 of 20 squares, the first at tilt −24°, lift −9 mm, where the loop hinge – rod" in text
    assert "misses by 1.25 mm." in text
    assert "Proven: nothing in 4 of 20 squares." in text
    assert "Not in the map: 7 pairs that never move against each other." in text
    assert "Of these wheel and guard are too near: 1.50 mm where 6 mm is required." in text


def test_a_strike_is_called_a_strike_and_a_bare_bound_is_no_proof():
    text = words(record(gap=lambda *_: 0.0, required=0.0))
    assert "Smallest of what was measured: left arm and frame, 0.00 mm (they strike) at" in text
    assert "Proven" not in text
    assert "Proven: nothing; contact somewhere" in words(record(proven=lambda _gap: 0.0))
    assert "No setting of the map can be reached." in words(record(reached=lambda *_: False))
