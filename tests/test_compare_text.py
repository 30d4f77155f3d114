"""A comparison in words: the answer first, then what changed in a builder's words, then what was edited."""

from dataclasses import replace

import pytest
from records import joint, pair, record, rod

from assembly.history import compare
from assembly.record import DimensionEntry, DriveEntry, MachineEntry, NotCheckedEntry, SolidEntry, TravelStopEntry
from assembly.report.text.compare_text import MOST_SHOWN, compare_blocks, compare_screen
from assembly.report.text.one_screen import SCREEN_HEIGHT, height


def told(before, now, shrank=0.5):
    """The text of every line and heading."""
    found = compare(before, now, shrank_mm=shrank, told=("run 1", "run 2"))
    return [block.text for block in compare_blocks(found)]


def has(lines, text):
    return any(text in line for line in lines)


STRUCK = pair("a", "b", -2.0)
AT_LEAST = replace(STRUCK, overlap=replace(STRUCK.overlap, at_most_mm=None))
"""A strike of which the greatest depth was not closed in on."""


def test_what_got_better_and_what_was_edited_reads_as_a_builder_says_it():
    arm, upright = "lower_arm_left", "upright_left"
    before = record(
        pair(arm, upright, -2.06, shape_a="cable bracket", shape_b=upright),
        dimensions={"bracket_reach": DimensionEntry(33.0, 0.0, ""), "tie_rod": DimensionEntry(225.7, 0.3, "")},
    )
    now = record(
        pair(arm, upright, 3.465, shape_a="shank", shape_b=upright),
        dimensions={"bracket_reach": DimensionEntry(26.0, 0.0, ""), "tie_rod": DimensionEntry(224.2, 0.3, "")},
    )
    lines = told(before, now)
    assert lines[2].startswith(
        "NOT WORSE: nothing fails that did not, no clearance shrank by more than 0.5 mm; got better: 1 pair"
    )
    assert "Got better: now clear" in lines
    better = "lower_arm_left (cable bracket) – upright_left: struck 2.06 to 2.16 mm deep at push +3 mm, now 3.46"
    assert has(lines, "mm of clearance (shank to upright_left) at ")
    assert has(lines, better)
    assert has(lines, "dimension bracket_reach: 33 → 26")
    assert has(lines, "dimension tie_rod: 225.7 → 224.2")


@pytest.mark.parametrize(
    ("before", "now", "answer"),
    [
        (pair("a", "b", 3.0), pair("a", "b", -1.0), "WORSE: 1 pair fails that did not"),
        (pair("a", "b", 3.0), pair("a", "b", 2.0), "WORSE: 1 clearance shrank by more than 0.5 mm"),
        (
            pair("a", "b", 3.0),
            pair("a", "b", 3.0, 0.5, verdict="undecided"),
            "OPEN: nothing is known to have got worse",
        ),
        (pair("a", "b", 3.0), pair("a", "b", 2.8), "NOT WORSE: nothing fails that did not"),
    ],
)
def test_answer_comes_first(before, now, answer):
    assert told(record(before), record(now))[2].startswith(answer)


def test_an_edit_that_made_what_fails_clear_is_told_as_both_where_a_clearance_shrank():
    """By hand: a – b struck and is clear, a – c lost 1 mm of its 3 mm, which is more than 0.5 mm."""
    struck, near = pair("a", "b", -2.0), pair("a", "c", 3.0)
    before, now = record(struck, near), record(pair("a", "b", 3.0), pair("a", "c", 2.0))
    assert told(before, now)[2] == (
        "BETTER AND WORSE: FAILS before, CLEAR now; but 1 clearance shrank by more than 0.5 mm; "
        "got better: 1 pair, joint, rod or measure now clear"
    )
    assert told(before, record(struck, pair("a", "c", 2.0)))[2].startswith("WORSE: 1 clearance shrank")


def test_a_limit_that_was_edited_is_named_as_edited_where_less_is_left_too():
    lines = told(record(joints=(joint("ball", 13.0),)), record(joints=(joint("ball", 1.0, limit=8.0),)))
    assert has(lines, "limit of ball: 20° → 8°")
    assert not has(lines, "something else in the file")


def test_everything_that_makes_it_worse_is_in_the_answer():
    before = record(pair("a", "b", 3.0), pair("a", "c", 3.0), joints=(joint("ball", 1.0),))
    now = record(pair("a", "b", -1.0), pair("a", "c", 2.0), pair("a", "d", 0.0), joints=(joint("ball", -1.0),))
    assert told(before, now)[2] == (
        "WORSE: 1 pair fails that did not; 1 joint, rod or measure fails that did not; 1 new pair fails; "
        "1 clearance shrank by more than 0.5 mm"
    )


@pytest.mark.parametrize(
    ("before", "now", "text"),
    [
        (
            pair("a", "b", 3.0),
            pair("a", "b", -1.25),
            "3.00 mm of clearance, now struck 1.25 to 1.35 mm deep at push +3 mm (4.25 mm less)",
        ),
        (
            pair("a", "b", 3.0),
            pair("a", "b", 0.5),
            "now 0.50 mm of clearance at push +3 mm (2.50 mm less); 1 mm is required",
        ),
        (pair("a", "b", 170.0, 50.0), pair("a", "b", 40.0, 8.0), "(at least 10.00 mm less)"),
        (
            pair("a", "b", 3.0),
            AT_LEAST,
            "3.00 mm of clearance, now struck at least 2.00 mm deep at push +3 mm (at least 5.00",
        ),
        (AT_LEAST, pair("a", "b", 3.0), "now 3.00 mm of clearance at push +3 mm (at least 5.00 mm more)"),
        (AT_LEAST, pair("a", "b", -1.0), "now struck 1.00 to 1.10 mm deep at push +3 mm (at least 1.00 mm more)"),
        (AT_LEAST, pair("a", "b", -3.0), "now struck 3.00 to 3.10 mm deep at push +3 mm (1.00 mm less, as far as was"),
        (pair("a", "b", 3.0), pair("a", "b", None, verdict="undecided"), "now not looked at, not proven"),
        (pair("a", "b", 3.0), pair("a", "b", 0.0, swallowed=True), "now one inside the other"),
        (pair("a", "b", 3.0), pair("a", "b", 0.0), "now touching"),
        (
            pair("a", "b", 3.0),
            pair("a", "b", 3.0, 0.1, verdict="undecided"),
            "at most 3.00 mm of clearance, not proven",
        ),
    ],
)
def test_pair_reads_as(before, now, text):
    assert has(told(record(before), record(now)), text)


@pytest.mark.parametrize(
    ("before", "now", "text"),
    [
        (
            joint("ball", 3.25),
            joint("ball", -1.5),
            "ball: 3.25° short of its limit, now 1.50° past its limit at push +3 mm",
        ),
        (joint("ball", 3.0), joint("ball", 1.0, limit=18.0), "(limit 20° → 18°)"),
        (
            joint("pin", 3.0, motion="turn"),
            joint("pin", 2.0, motion="turn"),
            "pin turn: 3.00° short of its limit, now 2.00°",
        ),
        (joint("ball", 3.0), joint("ball", 3.0, limit=25.0), "limit of ball: 20° → 25°"),
        (joint("ball", 3.0), None, "limit of ball: 20° → none"),
        (None, joint("ball", -3.0), "ball: a new limit, 3.00° past its limit"),
        (rod("rod", 9.0), rod("rod", -1.0, "fails"), "rod roll: rolls 9.00° freely, now binds"),
    ],
)
def test_joint_reads_as(before, now, text):
    def holding(one):
        return record() if one is None else record(**{"rods" if hasattr(one, "ends") else "joints": (one,)})

    assert has(told(holding(before), holding(now)), text)


@pytest.mark.parametrize(
    ("before", "now", "text"),
    [
        (DimensionEntry(5.0, 0.5, ""), DimensionEntry(5.0, 0.3, ""), "dimension x: 5 as before, ±0.5 → ±0.3"),
        (
            DimensionEntry(5.0, 0.0, ""),
            DimensionEntry(5.0, 0.0, "10 / 2"),
            "5 as before, written as a number, now `10 / 2`",
        ),
        (None, DimensionEntry(5.25, 0.0, ""), "dimension x: new, 5.25"),
        (DimensionEntry(5.0, 0.0, ""), None, "dimension x: gone, it was 5"),
    ],
)
def test_dimension_reads_as(before, now, text):
    given = [record(pair("a", "b", 2.0), dimensions={"x": one} if one else {}) for one in (before, now)]
    assert has(told(*given), text)


STOP = TravelStopEntry("tilt_stop_left", "tilt", "high", 9.37, "frame", "arm")


@pytest.mark.parametrize(
    ("now", "text"),
    [
        ((replace(STOP, height_mm=10.2),), "stop tilt_stop_left: height 9.37 mm → 10.2 mm"),
        ((replace(STOP, height_mm=None),), "height 9.37 mm → not known"),
        ((replace(STOP, other="upright"),), "stop tilt_stop_left: meets arm → upright"),
        ((), "stop tilt_stop_left: gone, height 9.37 mm"),
    ],
)
def test_stop_reads_as(now, text):
    assert has(told(record(pair("a", "b", 2.0), stops=(STOP,)), record(pair("a", "b", 2.0), stops=now)), text)


def test_other_edits_are_told():
    one, other = MachineEntry("M", "m.toml", "a", {"m.toml": "a", "t.stl": "1"}), {"m.toml": "b", "t.stl": "2"}
    parts = {"a": SolidEntry(12, (1.0, 2.0, 3.0)), "b": SolidEntry(12, (1.0, 2.0, 3.0))}
    before = record(pair("a", "b", 2.0), machine=one, parts=parts)
    now = record(
        pair("a", "b", 2.0, required_mm=1.5),
        machine=replace(one, digest="b", digests=other),
        parts={"a": SolidEntry(14, (1.0, 2.5, 3.0)), "c": parts["b"]},
        drives={"push": DriveEntry(-4.0, 8.0, "mm")},
    )
    lines = told(before, now)
    for text in (
        "mesh file t.stl has changed",
        "part a: 1.00 × 2.00 × 3.00 mm → 1.00 × 2.50 × 3.00 mm, 12 → 14 triangles",
        "part b: gone, it was 1.00 × 2.00 × 3.00 mm, 12 triangles",
        "part c: new, 1.00 × 2.00 × 3.00 mm, 12 triangles",
        "range of push: −5 to +8 mm → −4 to +8 mm",
        "1 pair must now keep 1.5 mm, before 1 mm",
    ):
        assert has(lines, text), text


@pytest.mark.parametrize(
    ("changed", "text"),
    [
        ({}, "What was edited: nothing, the file is the same"),
        ({"machine": MachineEntry("Slider", "slider.toml", "x", {})}, "What was edited: something else in the file"),
        ({"parts": {}}, "one record is from before dimensions and parts were kept"),
    ],
)
def test_no_edit_is_told_too(changed, text):
    one = record(pair("a", "b", 2.0))
    assert has(told(one, replace(one, **changed)), text)


def test_pairs_that_are_new_or_gone_are_told():
    before = record(pair("a", "b", 2.0), pair("a", "c", -2.0))
    now = record(
        pair("a", "b", 2.0),
        *(pair("a", f"new_{k}", 5.0 + k) for k in range(7)),
        parts=before.parts,
        not_checked=(NotCheckedEntry("a", "c", "never mind"),),
    )
    lines = told(before, now)
    assert has(lines, "New: 7 pairs that were not checked before")
    assert has(lines, "CLEAR: a (a shape) – new_0 (new_0 shape), 5.00 mm of clearance at push +3 mm")
    assert has(lines, "and 2 more that are clear")
    assert has(lines, "never mind: a – c (struck 2.00 to 2.10 mm deep before)")


def test_a_pair_that_fails_by_another_rule_alone_is_told_so():
    before = record(pair("a", "b", 3.0))
    stricter = replace(before.pairs[0], required_mm=10.0, verdict="fails")
    lines = told(before, replace(before, pairs=(stricter,)))
    asked = f"10 mm is required, before {before.pairs[0].required_mm:g} mm"
    assert has(lines, f"3.00 mm of clearance as before at push +3 mm; {asked}")


def test_long_lists_are_cut_and_say_so():
    many = range(MOST_SHOWN + 3)
    before = record(*(pair("a", f"b{k}", 3.0) for k in many))
    lines = told(before, record(*(pair("a", f"b{k}", 2.9) for k in many)))
    assert has(lines, "and 3 more: --json has all")
    assert sum("mm less" in line for line in lines) == MOST_SHOWN


def test_unchanged_pairs_are_counted_and_those_not_closed_in_on_are_told():
    one = record(pair("a", "b", 2.0), pair("a", "c", 40.0, 3.0), joints=(joint("ball", 3.0),))
    lines = told(one, one)
    assert has(lines, "2 pairs and 1 joint, rod or measure as before; 1 of the pairs were not closed in on")
    assert not any("c shape" in line for line in lines)


SIXTY_BEFORE, SIXTY_NOW = (("fails", 3.0), ("better", 1.5)), (("fails", -1.0), ("better", 5.0))


def test_a_long_comparison_fits_one_screen_with_its_answer_first_and_last():
    """Of 60 pairs of every kind as many are shown as 40 lines of 80 columns hold; what is left out is counted."""
    numbers = range(60)
    before = record(*(pair(f"{what}_{n}", "frame", least) for what, least in SIXTY_BEFORE for n in numbers))
    now = record(*(pair(f"{what}_{n}", "frame", least) for what, least in SIXTY_NOW for n in numbers))
    found = compare(before, now, shrank_mm=0.5, told=("run 1", "run 2"))
    shown = tuple(compare_screen(found))
    assert height(shown) <= SCREEN_HEIGHT
    assert shown[-1].text.startswith("WORSE: 60 pairs fail that did not")
    assert shown[-1] in shown[:-1]
    counted = [block.text for block in shown if "more: `--all` prints them" in getattr(block, "text", "")]
    assert len(counted) == 2
    assert sum("fails_" in getattr(block, "text", "") for block in compare_blocks(found)) == 40
