"""Variants side by side: each row is the sweep's own, ties are told, what cannot be made or assembled says so."""

import json
import os
from dataclasses import replace
from io import StringIO
from math import cos, radians

import pytest

import assembly
from assembly import Effort
from assembly.api.variants import run as run_module
from assembly.api.variants.asked import all_combinations
from assembly.api.variants.judging import best_of
from assembly.api.variants.kept_rows import KeptRows, row_key
from assembly.errors import InputError, TimeLimitError
from assembly.model.variation import Variables
from assembly.report.charts.variants_picture import _from_light, margin_drawn
from assembly.report.text.terminal import write
from assembly.report.text.variants_text import best_told, variants_blocks
from assembly.studies.sweep.whole_sweep import sweep_machine

BLOCK = """
format = 1
name = "Stop block"
[dimensions]
post_y = 30
nose = 20
idle = 7
reach = "nose + 0"
[parts.base]
fixed = true
shapes = [{ name = "post", box = [0, "post_y + 10", 0], size = [20, 20, 20] }]
[parts.wall]
fixed = true
shapes = [{ name = "wall", box = [0, -29, 0], size = [20, 10, 20] }]
[parts.sledge]
shapes = [{ name = "nose", box = [0, "nose / 2 - 10", 0], size = [20, "nose", 20] }]
[joints.guide]
slide = ["base", "sledge"]
at = [0, 0, 0]
along = [0, 1, 0]
limit = [-9, 20]
[drives.push]
slides = { guide = 1 }
range = [-8, 18]
[clearance]
required = 1
"""
"""The nose ends at nose - 10 + 18, so the post is post_y - nose - 8 away at the end (closed form); the wall 6."""

WANTED = ["nose=15,20,24", "post_y=28,30"]

FOUR_BAR = """
format = 1
name = "Four bars"
facet_error = 0.5
[dimensions]
coupler = 80
[points]
a = [0, 0, 0]
b = [0, 30, 0]
c = [0, 30, 80]
d = [0, 0, 80]
[parts.frame]
fixed = true
shapes = [{ box = [60, 0, 40], size = [6, 6, 6] }]
[parts.crank]
shapes = [{ box = [20, 15, 0], size = [6, 6, 6] }]
[parts.coupler]
set_length = { from = "b", to = "c", is = "coupler" }
shapes = [{ box = [-20, 30, 40], size = [6, 6, 6] }]
[parts.rocker]
shapes = [{ box = [-60, 15, 80], size = [6, 6, 6] }]
[joints]
pin_a = { pin = ["frame", "crank"], at = "a", along = [1, 0, 0] }
pin_b = { pin = ["crank", "coupler"], at = "b", along = [1, 0, 0] }
pin_c = { pin = ["coupler", "rocker"], at = "c", along = [1, 0, 0] }
pin_d = { pin = ["frame", "rocker"], at = "d", along = [1, 0, 0] }
[drives.swing]
turns = { pin_a = 1 }
range = [-2, 2]
"""
"""The crank's end is 30 from its pin, the rocker's pin 80 above: c is at most 30 from (0, 0, 80)."""


def made(tmp_path, text=BLOCK):
    path = tmp_path / "machine.toml"
    path.write_text(text, encoding="utf-8")
    return assembly.load(path)


@pytest.fixture(scope="module")
def block(tmp_path_factory):
    return made(tmp_path_factory.mktemp("block"))


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    return tmp_path_factory.mktemp("kept") / "variants.rows"


@pytest.fixture(scope="module")
def found(block, kept):
    """Five variants and the file's own, swept once."""
    return assembly.variants(block, WANTED, keep=kept)


def test_each_row_is_the_sweeps_own_over_the_whole_range(found):
    """Closed form: post_y - nose - 8, but never more than the 6 to the wall."""
    record = found.record
    assert [one.number for one in record.entries] == list(range(6))
    wanted = [(20, 30), (15, 28), (15, 30), (20, 28), (24, 28), (24, 30)]
    assert [(one.values["nose"], one.values["post_y"]) for one in record.entries] == wanted
    for one in record.entries:
        nose, post = one.values["nose"], one.values["post_y"]
        free = post - nose - 8
        pair = one.worst
        assert one.state == "swept"
        if free < 0:
            assert (one.verdict, pair.a, pair.b) == ("fails", "base", "sledge")
            assert pair.depth_mm == pytest.approx(-free, abs=0.01)
            continue
        assert pair.least_mm == pytest.approx(min(free, 6.0), abs=1e-6)
        assert (one.verdict == "clear") == (free > 1)
        assert one.margin_mm <= min(free, 6.0) - 1 + 1e-9
        assert one.margin_mm == pytest.approx(min(free, 6.0) - 1, abs=0.11)


def test_what_is_not_as_in_the_file_is_marked(found):
    own, *others = found.record.entries
    assert (own.name, own.differs, own.least_change_mm) == ("as in the file", (), None)
    by = {(one.values["nose"], one.values["post_y"]): one for one in others}
    assert by[15, 30].differs == ("pair", "least")
    assert by[15, 30].least_change_mm == pytest.approx(4.0, abs=1e-6)
    assert by[24, 30].differs == ("verdict", "least")
    assert by[24, 30].fails_now == (("base", "sledge"),)
    lost = by[24, 28].loses_most
    assert (lost.a, lost.b, lost.lost_mm) == ("base", "sledge", pytest.approx(6.0, abs=0.01))


def test_the_best_is_by_the_proven_margin_and_is_one(found):
    best = found.record.best
    assert best.verdict == "clear"
    (number,) = best.rows
    assert found.record.entries[number].values == {"nose": 15.0, "post_y": 30.0}
    assert found.record.verdict == "clear"


def test_what_is_drawn_is_what_is_proven_and_of_what_overlaps_its_depth(found):
    """Closed form: 24 and 28 are 4 deep and 1 is required; 15 and 30 are proven to keep nearly 5 more than that."""
    by = {(one.values["nose"], one.values["post_y"]): margin_drawn(one) for one in found.record.entries}
    assert by[24, 28] == pytest.approx(-5.0, abs=0.01)
    assert by[15, 30] == found.record.entries[2].margin_mm < 5.0


def test_a_tie_is_never_the_best(block):
    """What nothing depends on makes no difference; and of two that are as good neither is the best."""
    record = assembly.variants(block, sets=[{"nose": 17}, {"nose": 17, "idle": 9}]).record
    assert record.best.rows == (1, 2)
    assert best_told(record).startswith("ALIKE, so that none is the best: 1, 2 come first")


def test_what_is_undecided_comes_first_only_if_nothing_is_clear(block):
    """It comes to exactly the 1 mm that is required: no proof closes on that (closed form: 30 - 21 - 8)."""
    record = assembly.variants(block.with_dimensions(nose=23), "nose=21").record
    failing, undecided = record.entries
    assert (failing.verdict, undecided.verdict) == ("fails", "undecided")
    assert (record.best.rows, record.best.verdict, record.verdict) == ((1,), "undecided", "undecided")
    assert best_told(record) == "NONE IS CLEAR of 2; nearest to it, but not proven: 1"
    clear = replace(undecided, number=2, verdict="clear", margin_mm=0.001)
    assert best_of([replace(undecided, margin_mm=3.0), clear], Effort()).rows == (2,)
    near = replace(clear, number=3, margin_mm=0.001 - 0.09), replace(clear, number=4, margin_mm=0.001 - 0.11)
    assert best_of([clear, *near], Effort()).rows == (2, 3)  # known to no more than 0.1 mm
    assert best_of([failing], Effort()) is None
    assert best_of([replace(clear, stops_verdict="fails")], Effort()) is None


def test_a_row_that_cannot_be_made_or_put_together_says_so_and_the_others_go_on(tmp_path):
    """The coupler's end is 80 - 140 + 0 away from where the rocker can take it: no more than 110 + 30 (closed form)."""
    record = assembly.variants(made(tmp_path, FOUR_BAR), "coupler=150,-5,81").record
    own, far, negative, good = record.entries
    assert [one.state for one in record.entries] == ["swept", "not assembled", "refused", "swept"]
    assert (far.verdict, negative.verdict, good.verdict) == ("fails", "fails", "clear")
    assert "miss" in far.reason or "gap" in far.reason
    assert negative.reason
    assert own.verdict == "clear"
    assert record.best.rows == (0, 3)


def test_a_file_of_which_no_row_makes_a_machine_is_an_input_error(tmp_path):
    tied = '[joints.guide]\nwelded = ["base", "sledge"]\n'
    text = BLOCK[: BLOCK.index("[joints.guide]")] + tied + BLOCK[BLOCK.index("[clearance]") :]
    with pytest.raises(InputError, match="no drive moves anything"):
        assembly.variants(made(tmp_path, text), "nose=21")


def test_finished_rows_are_kept_and_a_rerun_computes_only_the_others(block, found, kept, tmp_path, monkeypatch):
    assert found.record.kept == 0
    lines = kept.read_bytes().split(b"\n")
    assert len(lines) == 7
    cut = tmp_path / "variants.rows"
    cut.write_bytes(b"\n".join(lines[:5]) + b"\n" + lines[5][:40])  # the last was being written when it was killed
    again = assembly.variants(block, WANTED, keep=cut).record
    assert (again.kept, again.entries) == (5, found.record.entries)
    monkeypatch.setattr(run_module, "workers", lambda *_: pytest.fail("nothing is left to compute"))
    assert assembly.variants(block, WANTED, keep=cut).record.kept == 6


def test_a_row_that_was_altered_is_computed_again(block, found, kept, tmp_path):
    data = kept.read_bytes()
    key = row_key(block, {}, Effort(), stops=True)
    lines = [line for line in data.split(b"\n") if b'"nose":24.0,"post_y":28.0' in line]
    assert len(lines) == 1
    assert b'"fails"' in lines[0]
    other = tmp_path / "variants.rows"
    other.write_bytes(data.replace(lines[0], lines[0].replace(b'"fails"', b'"clear"')))
    record = assembly.variants(block, WANTED, keep=other).record
    assert (record.kept, record.entries) == (5, found.record.entries)
    assert KeptRows(other).known(key) is None


def test_a_row_is_of_its_file_its_numbers_and_its_bracket_alone(block, tmp_path):
    (nose,) = all_combinations(Variables(block), ["nose=24"]).sets[1].values
    other = made(tmp_path, BLOCK.replace("required = 1", "required = 1.5"))
    keys = {
        row_key(block, {nose: 24.0}, Effort(), stops=True),
        row_key(block, {nose: 24.5}, Effort(), stops=True),
        row_key(block.with_dimensions(idle=8), {nose: 24.0}, Effort(), stops=True),
        row_key(other, {nose: 24.0}, Effort(), stops=True),
        row_key(block, {nose: 24.0}, Effort(bracket_mm=0.05), stops=True),
        row_key(block, {nose: 24.0}, Effort(), stops=False),
    }
    assert len(keys) == 6


def test_what_the_result_cache_knows_is_not_computed_again(block, tmp_path, monkeypatch):
    monkeypatch.setenv("SWINGROOM_MEMORY", str(tmp_path / "known"))
    _, row = assembly.variants(block, "nose=18").record.entries
    after = assembly.sweep(block.with_dimensions(nose=18.0)).record
    assert after.work.recalled == len(after.pairs) == 3
    assert row.margin_mm == min(pair.proven_mm - pair.required_mm for pair in after.pairs)
    own = {(pair.a, pair.b): pair for pair in after.pairs}
    assert len(row.pairs) == 3
    for pair in row.pairs:
        swept = own[pair.a, pair.b]
        assert (pair.least_mm, pair.proven_mm, pair.at) == (swept.least_mm, swept.proven_mm, swept.at)


def test_a_variant_whose_process_dies_says_so_and_the_others_go_on(block, tmp_path, monkeypatch):
    """As where memory ends: it is tried once more, alone, and is open then; it is not kept."""

    def dying(machine, *others, **options):
        if machine.dimensions["nose"].value == 24:
            os._exit(9)
        if machine.dimensions["nose"].value == 23:
            raise TimeLimitError.after(1)
        return sweep_machine(machine, *others, **options)

    monkeypatch.setattr("assembly.api.variants.one_variant.sweep_machine", dying)
    rows = tmp_path / "variants.rows"
    record = assembly.variants(block, "nose=24,23", keep=rows, cores=2).record
    own, lost, late = record.entries
    assert own.verdict == "clear"
    for one in (lost, late):
        assert (one.state, one.verdict) == ("open", "undecided")
    assert "time limit" in late.reason
    assert "died" in lost.reason
    assert best_told(record).startswith("NOT ALL COMPUTED, 2 of 3 are open; so far: NO VARIANT IS BETTER")
    assert record.verdict == "undecided"
    assert rows.read_bytes().count(b"\n") == 1


def test_as_dicts_and_in_a_notebook(found):
    """Of the guide's 20 mm 2 are left at the one end, which is a smaller share than 1 of 9 at the other."""
    rows = found.to_dicts()
    assert len(rows) == 6
    assert all(row.keys() == rows[0].keys() for row in rows)
    assert (rows[2]["nose"], rows[2]["verdict"], rows[2]["place"]) == (15.0, "clear", "best")
    assert rows[2]["guide travel most (mm)"] == pytest.approx(18.0, abs=1e-6)
    assert (rows[2]["first_joint"], rows[2]["first_joint_margin"]) == (
        "guide",
        pytest.approx(2.0, abs=1e-6),
    )  # of 20: less than 1 of 9
    html = found._repr_html_()
    assert html.count("<tr>") == 7
    assert "BEST" in html
    assert "BEST" in repr(found)
    assert json.loads(found.to_json())["best"]["rows"] == [2]


BAD = [
    ("nose", "`nose` is not NAME=VALUES"),
    ("nose=", "`nose=` is not NAME=VALUES"),
    ("noze=1", "there is no dimension, point coordinate, set length, stop or joint `noze`"),
    ("nose=10:20", "is not FROM:TO:STEP"),
    ("nose=10:20:0", "has a step of 0"),
    ("nose=20:10:5", "is empty: a step of 5 leads from 20 away from 10"),
    ("nose=1,x", "`x` in `nose=1,x` is not a number"),
    ("nose=1,,2", "nothing in `nose=1,,2` is not a number"),
    ("nose=0:9:1e-999999", "`1e-999999` in `nose=0:9:1e-999999` is not a number"),
    ("nose=nan", "`nan` in `nose=nan` is not a number"),
    ("nose=0:9999:1", "that makes 10000 variants; at most 2000 can be made at once"),
    ("guide=1", "joint `guide` has no line along which a washer could sit"),
    ("nose=1 turn", "does not say the pitch of the thread"),
    ("nose=1 turn of -2", "has turns of -2"),
]


@pytest.mark.parametrize(("given", "told"), BAD)
def test_what_cannot_be_varied_is_one_clear_line(block, given, told):
    with pytest.raises(InputError) as error:
        assembly.variants(block, given)
    (fault,) = error.value.faults
    assert told in str(fault)
    assert fault.hint


def test_too_many_combinations_and_a_number_that_is_varied_twice(block):
    with pytest.raises(InputError, match="that makes 10201 variants; at most 2000"):
        assembly.variants(block, ["nose=0:100:1", "post_y=0:100:1"])
    with pytest.raises(InputError, match="`nose` is varied twice"):
        assembly.variants(block, ["nose=1", "nose=2"])


# BUILDERS_CASES C05 on TC-03a, worked example, own model: clear = 130 cos d - 109.5, and each mm that the damper goes
# forward gives one.
DAMPER = """
format = 1
name = "Rod and damper"
facet_error = 0.004
[dimensions]
damper_x = -75
[points]
left = [-130, 300, 0]
right = [-130, -300, 0]
[parts.axle]
fixed = true
shapes = [{ box = [60, 0, 0], size = [10, 10, 10] }]
[parts.damper]
fixed = true
shapes = [{ name = "body", rod = [["damper_x", 150, -80], ["damper_x", 150, 80]], diameter = 50 }]
[parts.knuckle_left]
shapes = [{ box = [60, 300, 60], size = [10, 10, 10] }]
[parts.knuckle_right]
shapes = [{ box = [60, -300, 60], size = [10, 10, 10] }]
[parts.tie_rod]
shapes = [{ name = "rod", rod = ["left", "right"], diameter = 19 }]
[joints]
pin_left = { pin = ["axle", "knuckle_left"], at = [0, 300, 0], along = [0, 0, 1] }
pin_right = { pin = ["axle", "knuckle_right"], at = [0, -300, 0], along = [0, 0, 1] }
ball_left = { ball = ["tie_rod", "knuckle_left"], at = "left" }
ball_right = { ball = ["tie_rod", "knuckle_right"], at = "right" }
[drives.steer]
turns = { pin_left = 1 }
range = [-25, 25]
[clearance]
required = 5
"""


def test_c05_each_mm_that_the_damper_goes_forward_gives_one(tmp_path):
    record = assembly.variants(made(tmp_path, DAMPER), "damper_x=-72").record
    free = 130 * cos(radians(25)) - 109.5
    for one, forward in zip(record.entries, (0, 3), strict=True):
        assert {one.worst.a, one.worst.b} == {"damper", "tie_rod"}
        assert one.worst.least_mm == pytest.approx(free + forward, abs=0.02)
    assert record.best.rows == (1,)


def test_many_rows_are_cut_to_one_screen_and_counted(found):
    """The file's own and the 8 that come first by their margins are shown, the others counted by their verdicts."""
    own, *_, clear, failing = (found.record.entries[number] for number in (0, 2, 5))
    rows = [replace(clear, number=number, margin_mm=number / 100) for number in range(1, 21)]
    rows += [replace(failing, number=number) for number in range(21, 31)]
    record = replace(found.record, entries=(own, *rows))
    stream = StringIO()
    write(variants_blocks(record, "swingroom sweep block.toml"), stream)
    lines = stream.getvalue().splitlines()
    assert "Left out: 12 CLEAR, 10 FAILS: `--all` prints them, variants.csv has them" in lines
    table = lines[lines.index("", 3) + 2 :]
    numbers = [line.split()[0] for line in table if " CLEAR " in line or " FAILS" in line]
    assert numbers[:9] == ["file", *map(str, range(20, 12, -1))]
    assert len(lines) <= 40
    stream = StringIO()
    write(variants_blocks(record, "swingroom sweep block.toml", everything=True), stream)
    assert stream.getvalue().count("FAILS") == 10


def test_dark_is_the_best_that_holds_and_the_worst_that_fails():
    assert _from_light("clear", (0.95, 6.78)) == (0.95, 6.78)
    assert _from_light("fails", (-6.54, -0.8)) == (-0.8, -6.54)
    assert _from_light("fails", None) is None
