"""What changed between two runs: told where it is known, sorted by what matters, and never made up."""

from dataclasses import replace

import pytest
from records import joint, pair, record, rod

from assembly.history import compare
from assembly.record import (
    DimensionEntry,
    DriveEntry,
    MachineEntry,
    NotCheckedEntry,
    ProgramEntry,
    RequiredChange,
    SolidEntry,
    TravelStopEntry,
    UnreachableEntry,
)


def compared(before, now, shrank=0.5):
    return compare(before, now, shrank_mm=shrank)


def only(before, now, **options):
    """The one change between two records of one pair each."""
    found = compared(record(before), record(now), **options)
    (change,) = found.pairs
    return change, found


def test_same_record_has_no_change():
    one = record(pair("a", "b", 2.0), pair("a", "c", 40.0, 3.0), joints=(joint("ball", 3.0),), rods=(rod("rod", 9.0),))
    found = compared(one, one)
    assert (found.worse, found.opened, found.pairs, found.joints, found.reach) == (False, 0, (), (), None)
    assert (found.same_pairs, found.vague_pairs, found.same_joints) == (2, 1, 2)
    assert (found.dimensions, found.stops, found.ranges, found.parts, found.files, found.required) == ((),) * 6
    assert not found.no_details


@pytest.mark.parametrize(
    ("before", "now", "turn", "change", "worse"),
    [
        (3.46, -2.06, "fails", -5.52, True),
        (-2.06, 3.46, "passes", 5.52, False),
        (3.0, 0.9, "fails", -2.1, True),  # 1 mm is required
        (3.0, 2.4, "worse", -0.6, True),
        (3.0, 2.6, "worse", -0.4, False),
        (2.6, 3.0, "better", 0.4, False),
        (-2.0, -2.3, "worse", -0.3, False),
        (-2.0, -2.7, "worse", -0.7, True),
        (-2.0, -1.0, "better", 1.0, False),
    ],
)
def test_pair_that_both_runs_closed_in_on_is_compared_by_what_was_found(before, now, turn, change, worse):
    found, whole = only(pair("a", "b", before), pair("a", "b", now))
    assert (found.turn, found.at_least) == (turn, False)
    assert found.change_mm == pytest.approx(change)
    assert (found.before.room_mm, found.now.room_mm) == (before, now)
    assert whole.worse is worse


def test_change_below_what_is_measured_is_none():
    found = compared(record(pair("a", "b", 3.0)), record(pair("a", "b", 2.99)), shrank=0.0)
    assert (found.pairs, found.worse, found.same_pairs, found.vague_pairs) == ((), False, 1, 0)


def test_any_loss_counts_where_none_is_allowed():
    assert only(pair("a", "b", 3.0), pair("a", "b", 2.9), shrank=0.0)[1].worse


@pytest.mark.parametrize(
    ("before", "now", "change"),
    [
        ((170.0, 5.0), (140.0, 8.0), None),  # brackets overlap: nothing is known
        ((170.0, 50.0), (40.0, 8.0), -10.0),  # it was never below 50 and now a setting shows 40
        ((40.0, 8.0), (170.0, 50.0), 10.0),
        ((170.0, 8.0), (40.0, 8.0), None),
    ],
)
def test_pair_that_nobody_closed_in_on_changes_only_where_the_brackets_are_apart(before, now, change):
    found = compared(record(pair("a", "b", *before)), record(pair("a", "b", *now)))
    if change is None:
        assert (found.pairs, found.vague_pairs, found.worse) == ((), 1, False)
    else:
        assert [(one.change_mm, one.at_least) for one in found.pairs] == [(pytest.approx(change), True)]
        assert found.worse == (change < 0)


def test_pair_that_came_near_counts_from_what_was_proven_of_it():
    """It was seen 30 mm off and proven to keep 11: now it is at 5, so that it lost 6 mm or more, not 25."""
    change, found = only(pair("a", "b", 30.0, 11.0), pair("a", "b", 5.0))
    assert (change.turn, change.change_mm, change.at_least, found.worse) == ("worse", -6.0, True, True)
    assert (change.before.closed_in, change.now.closed_in) == (False, True)
    change, _ = only(pair("a", "b", 5.0), pair("a", "b", 30.0, 11.0))
    assert (change.turn, change.change_mm, change.at_least) == ("better", 6.0, True)


def test_what_was_only_seen_is_no_figure_to_compare_with():
    """31.7 mm was seen where 8.3 was proven: that it is 16.2 now, closed in on, says nothing of an edit."""
    found = compared(record(pair("a", "b", 31.7, 8.3)), record(pair("a", "b", 16.2)))
    assert (found.pairs, found.vague_pairs, found.worse) == ((), 1, False)


def test_record_from_before_it_was_kept_is_not_taken_as_closed_in_on():
    before, now = pair("a", "b", 3.0, closed_in=False), pair("a", "b", 2.0)
    change, found = only(before, now)
    assert (change.change_mm, change.at_least, found.worse) == (pytest.approx(-0.95), True, True)
    assert compared(record(before), record(pair("a", "b", 2.97))).vague_pairs == 1


def test_far_pair_that_was_closed_in_on_by_rank_says_nothing():
    """The nearest 20 are closed in on however far they are: 60 mm against 90 unproven is no change."""
    assert compared(record(pair("a", "b", 90.0, 4.0)), record(pair("a", "b", 60.0))).pairs == ()


def test_undecided_opens_and_is_not_called_worse():
    change, found = only(pair("a", "b", 3.0), pair("a", "b", 3.0, -1.0, verdict="undecided"))
    assert (change.turn, found.worse, found.opened) == ("open", False, 1)
    change, found = only(pair("a", "b", 3.0, -1.0, verdict="undecided"), pair("a", "b", 3.0))
    assert (change.turn, found.worse, found.opened) == ("passes", False, 0)
    change, found = only(pair("a", "b", 3.0, -1.0, verdict="undecided"), pair("a", "b", -1.0))
    assert (change.turn, found.worse) == ("fails", True)


def test_pair_never_looked_at_has_no_room():
    change, found = only(pair("a", "b", 3.0), pair("a", "b", None, verdict="undecided"))
    assert (change.turn, change.change_mm, change.now.room_mm, found.worse) == ("open", None, None, False)


def test_pair_that_passes_is_never_too_much():
    """With less required, a pair may pass with less clearance than before."""
    change, found = only(pair("a", "b", 3.0, required_mm=4.0, verdict="fails"), pair("a", "b", 2.0))
    assert (change.turn, change.too_much, found.worse) == ("passes", False, False)


def test_order_of_names_and_of_pairs_changes_nothing():
    one = record(pair("a", "b", 2.0), pair("a", "c", 3.0))
    other = record(pair("c", "a", 3.0), pair("b", "a", 2.0))
    assert compared(one, other).pairs == ()
    change, _ = only(pair("a", "b", 2.0), pair("b", "a", 1.2))
    assert (change.a, change.before.shape_a, change.now.shape_a) == ("b", "b shape", "b shape")


def test_pairs_are_sorted_by_what_matters():
    before = [
        pair("better", "x", 2.0),
        pair("worse but far", "x", 9.0),
        pair("worse", "x", 3.0),
        pair("far too much worse", "x", 8.0),
        pair("mends little", "x", -1.0),
        pair("mends much", "x", -4.0),
        pair("opens", "x", 3.0),
        pair("fails little", "x", 3.0),
        pair("fails much", "x", 3.0),
    ]
    now = [
        pair("better", "x", 2.4),
        pair("worse but far", "x", 8.7),
        pair("worse", "x", 2.7),
        pair("far too much worse", "x", 7.0),
        pair("mends little", "x", 3.0),
        pair("mends much", "x", 3.0),
        pair("opens", "x", 3.0, -1.0, verdict="undecided"),
        pair("fails little", "x", 0.5),
        pair("fails much", "x", -3.0),
    ]
    assert [one.a for one in compared(record(*before), record(*now)).pairs] == [
        "fails much",
        "fails little",
        "opens",
        "mends much",
        "mends little",
        "far too much worse",
        "worse",
        "worse but far",
        "better",
    ]


def test_new_and_vanished_pairs_are_told_apart_from_those_that_changed():
    before = record(pair("a", "b", 2.0), pair("a", "old", -1.0), pair("a", "c", 2.0), pair("b", "c", 2.0))
    now = record(
        pair("a", "b", 2.0),
        pair("a", "new", 5.0),
        pair("b", "new", -1.0),
        parts={name: SolidEntry(12, (1.0, 1.0, 1.0)) for name in ("a", "b", "c", "new")},
        not_checked=(NotCheckedEntry("c", "a", "bolted together"),),
    )
    found = compared(before, now)
    assert [(one.a, one.b, one.now.verdict, one.before) for one in found.new_pairs] == [
        ("b", "new", "fails", None),
        ("a", "new", "clear", None),
    ]
    assert [(one.b, one.why, one.now) for one in found.gone_pairs] == [
        ("old", "old is gone", None),
        ("c", "bolted together", None),
        ("c", "not in the record", None),
    ]
    assert found.worse, "a new pair fails"
    parts = {one.name: (one.before is None, one.now is None) for one in found.parts}
    assert (parts["new"], parts["old"]) == ((True, False), (False, True))


def test_new_pair_that_is_clear_is_not_worse():
    assert not compared(record(pair("a", "b", 2.0)), record(pair("a", "b", 2.0), pair("a", "new", 2.0))).worse


@pytest.mark.parametrize(
    ("before", "now", "turn", "worse"),
    [
        (joint("ball", 3.0), joint("ball", 1.0), "worse", False),
        (joint("ball", 1.0), joint("ball", 3.0), "better", False),
        (joint("ball", 3.0), joint("ball", -1.0), "fails", True),
        (joint("ball", -1.0), joint("ball", 3.0), "passes", False),
        (joint("ball", 3.0), joint("ball", 3.0, verdict="undecided"), "open", False),
        (joint("ball", 3.0), joint("ball", 3.0, limit=25.0), None, False),
    ],
)
def test_joints_are_compared_by_their_reserves(before, now, turn, worse):
    found = compared(record(joints=(before,)), record(joints=(now,)))
    (change,) = found.joints
    assert (change.name, change.motion, change.turn, found.worse) == ("ball", "misalignment", turn, worse)


# What each verdict before and now amounts to, the figures being the same: by the meaning of the words.
TURNS = {
    ("clear", "clear"): None,
    ("clear", "undecided"): "open",
    ("clear", "fails"): "fails",
    ("undecided", "clear"): "passes",
    ("undecided", "undecided"): None,
    ("undecided", "fails"): "fails",
    ("fails", "clear"): "passes",
    ("fails", "undecided"): "open",
    ("fails", "fails"): None,
}
# The same where both runs saw it past what is allowed: it is known that "clear" is not so, whatever a record says.
TURNS_PAST = {**TURNS, ("undecided", "clear"): None, ("fails", "clear"): "open", ("clear", "undecided"): None}


def kept_or_past(kind, verdict, figure):
    """A record of one pair, joint or rod with ``figure`` mm or degrees to spare, and the verdict given."""
    if kind == "joint":
        return record(joints=(joint("ball", figure, verdict=verdict),))
    if kind == "rod":
        return record(rods=(rod("rod", figure, verdict),))
    return record(pair("a", "b", figure + 1.0, verdict=verdict))  # 1 mm is required


@pytest.mark.parametrize("kind", ["pair", "joint", "rod"])
@pytest.mark.parametrize(("figure", "turns"), [(0.5, TURNS), (0.0, TURNS), (-1e-9, TURNS), (-0.5, TURNS_PAST)])
@pytest.mark.parametrize(("before", "now"), TURNS)
def test_every_change_of_verdict_is_told_as_what_it_is(kind, figure, turns, before, now):
    found = compared(kept_or_past(kind, before, figure), kept_or_past(kind, now, figure))
    assert [one.turn for one in (*found.pairs, *found.joints)] == [turn for turn in [turns[before, now]] if turn]
    assert (found.worse, found.opened) == (turns[before, now] == "fails", turns[before, now] == "open")


def test_end_of_a_rod_that_is_past_its_limit_in_both_runs_is_not_called_clear():
    """As records of rods had it that could roll: the end took the verdict of the rod, and kept its own figure."""
    bound = record(joints=(joint("b1", -8.0, limit=12.0),), rods=(rod("pushrod", -4.0, "fails"),))
    rolls = record(joints=(joint("b1", -8.0, limit=12.0, verdict="clear"),), rods=(rod("pushrod", 4.0),))
    assert {one.name: (one.turn, one.now.verdict) for one in compared(bound, rolls).joints} == {
        "b1": ("open", "undecided"),
        "pushrod": ("passes", "clear"),
    }
    lost = compared(record(joints=(joint("b1", 3.0, limit=12.0),)), rolls).joints
    assert [one.turn for one in lost if one.name == "b1"] == ["open"]


@pytest.mark.parametrize(
    ("now", "turn"),
    [
        (pair("a", "b", -2.0, verdict="clear"), "open"),
        (pair("a", "b", 0.0, swallowed=True, verdict="clear"), "open"),
        (pair("a", "b", 0.0, required_mm=0.0, verdict="clear"), "passes"),
    ],
)
def test_pair_that_strikes_is_never_clear(now, turn):
    change, _ = only(pair("a", "b", -3.0), now)
    assert change.turn == turn


def test_rods_and_limits_that_come_and_go_are_told():
    before = record(joints=(joint("gone", 3.0), joint("same", 3.0)), rods=(rod("rod", 9.0),))
    now = record(joints=(joint("new", -3.0), joint("same", 3.01)), rods=(rod("rod", -2.0, "fails"),))
    found = compared(before, now)
    assert [(one.name, one.turn, one.before is None, one.now is None) for one in found.joints] == [
        ("new", "fails", True, False),
        ("rod", "fails", False, False),
        ("gone", None, False, True),
    ]
    assert (found.worse, found.same_joints) == (True, 1)


def test_joint_without_a_limit_is_not_compared():
    free = replace(joint("pin", 3.0), limit=None, limit_high=None, reserve=None, verdict=None)
    found = compared(record(joints=(free,)), record(joints=(replace(free, most=2.0),)))
    assert (found.joints, found.same_joints) == ((), 0)


LOST = UnreachableEntry({"push": 8.0}, ("guide",), 2.0, 0.5, "it locks")
NOT_PROVEN = UnreachableEntry({"push": 8.0}, ("guide",), 0.0, 1.0, "near a dead centre")


@pytest.mark.parametrize(
    ("before", "now", "turn", "worse"),
    [
        (((), 0.0), ((LOST,), 0.02), "fails", True),
        (((LOST,), 0.02), ((), 0.0), "passes", False),
        (((), 0.0), ((NOT_PROVEN,), 0.01), "open", False),
        (((LOST,), 0.02), ((LOST,), 0.03), "worse", False),
        (((LOST,), 0.03), ((LOST,), 0.02), "better", False),
    ],
)
def test_settings_that_cannot_be_reached_are_compared(before, now, turn, worse):
    found = compared(*(record(unreachable=places, unreachable_share=share) for places, share in (before, now)))
    assert (found.reach.turn, found.reach.before_share, found.reach.now_share) == (turn, before[1], now[1])
    assert found.worse is worse


def test_what_was_edited_is_named():
    def plain(value):
        return DimensionEntry(value, 0.3, "")

    stop = TravelStopEntry("tilt_stop", "tilt", "high", 9.37, "frame", "arm")
    part = SolidEntry(12, (1.0, 2.0, 3.0))
    names = "slider.toml", "tub.stl", "lamp.stl", "old.stl"
    files = dict(zip(names, "abcd", strict=True))
    before = record(
        pair("a", "b", 2.0),
        dimensions={"tie_rod": plain(231.4), "track": plain(640.0), "old": plain(1.0)},
        stops=(stop,),
        parts={"a": part, "b": part},
        machine=MachineEntry("Slider", "slider.toml", "a", files),
    )
    now = record(
        pair("a", "b", 2.0, required_mm=1.5),
        dimensions={"tie_rod": plain(229.9), "track": plain(640.0), "new": plain(2.0)},
        stops=(replace(stop, height_mm=10.2),),
        drives={"push": DriveEntry(-4.0, 8.0, "mm")},
        parts={"a": part, "b": replace(part, triangles=14)},
        machine=MachineEntry("Slider", "slider.toml", "z", {"slider.toml": "z", "up/tub.stl": "b", "lamp.stl": "C"}),
    )
    found = compared(before, now)
    dimensions = {one.name: (one.before and one.before.value, one.now and one.now.value) for one in found.dimensions}
    assert dimensions == {"tie_rod": (231.4, 229.9), "new": (None, 2.0), "old": (1.0, None)}
    assert [(one.name, one.before.height_mm, one.now.height_mm) for one in found.stops] == [("tilt_stop", 9.37, 10.2)]
    assert [(one.name, one.before.from_, one.now.from_) for one in found.ranges] == [("push", -5.0, -4.0)]
    assert [one.name for one in found.parts] == ["b"]
    assert {one.name: (one.before, one.now) for one in found.files} == {"lamp.stl": ("c", "C"), "old.stl": ("d", None)}
    assert found.required == (RequiredChange(1.0, 1.5, 1),)


def test_record_from_before_parts_were_kept_is_not_held_against_the_file():
    before = replace(record(pair("a", "b", 2.0)), parts={}, dimensions={})
    found = compared(before, record(pair("a", "b", 2.0), dimensions={"track": DimensionEntry(640.0, 0.0, "")}))
    assert (found.no_details, found.parts, found.dimensions, found.worse) == (True, (), (), False)


def test_runs_are_named():
    before = record(pair("a", "b", -2.0), program=ProgramEntry("swingroom", "0.0.9"))
    found = compare(before, record(), shrank_mm=1.0, told=("run 3", "run 4"))
    assert (found.before.told, found.before.verdict, found.before.version) == ("run 3", "fails", "0.0.9")
    assert (found.now.told, found.now.name, found.shrank_mm) == ("run 4", "Slider", 1.0)
