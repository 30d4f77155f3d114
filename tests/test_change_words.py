"""A comparison in a few words: what matters first, how much more there is."""

import pytest
from made_records import joint, lost, pair, record, rod

from assembly.history import compare
from assembly.record import MachineEntry
from assembly.report.text.change_words import change_words


def words(before, now, **asked):
    return change_words(compare(before, now, **({"shrank_mm": 0.5} | asked)))


def test_nothing_changed():
    assert words(record([pair()]), record([pair()])) == "as before"


def test_an_edit_without_effect_is_told():
    edited = MachineEntry("Trike", "trike.toml", "1" * 64, {})
    assert words(record([pair()]), record([pair()], machine=edited)) == "as before, though the file was edited"


@pytest.mark.parametrize(
    ("before", "now", "told"),
    [
        (pair(least=5.0), pair(least=4.0), "WORSE: frame – wheel 1.00 mm less clearance"),
        (pair(least=5.0), pair(least=4.8), "changed: frame – wheel 0.20 mm less clearance"),
        (pair(least=5.0), pair(least=6.5), "changed: frame – wheel 1.50 mm more clearance"),
        (
            pair(least=3.1),
            pair(least=2.9, verdict="fails"),
            "WORSE: frame – wheel now fails with 0.20 mm less clearance",
        ),
        (
            pair(least=2.0, verdict="fails"),
            pair(least=4.0),
            "changed: frame – wheel is all right now with 2.00 mm more clearance",
        ),
        (pair(), pair(verdict="undecided"), "changed: frame – wheel is not decided any more"),
    ],
)
def test_a_pair_by_verdict_and_room(before, now, told):
    assert words(record([before]), record([now])) == told


def test_pairs_that_come_and_go():
    few, more = [pair()], [pair(), pair("frame", "seat", least=1.0, verdict="fails")]
    assert words(record(few), record(more)) == "WORSE: frame – seat is new and fails"
    assert words(record(more), record(few)) == "changed: frame – seat is not checked any more"


def test_joints_rods_and_reach():
    def both(before, now):
        return words(record([pair()], **before), record([pair()], **now))

    assert both({"joints": (joint(reserve=4.0),)}, {"joints": (joint(reserve=2.5),)}) == (
        "changed: lower_ball 1.5° less margin"
    )
    assert both({"joints": (joint(),)}, {"joints": (joint(reserve=-1.0, verdict="fails"),)}) == (
        "WORSE: lower_ball now fails with 5.0° less margin"
    )
    assert both({"joints": ()}, {"joints": (joint(),)}) == "changed: lower_ball has a limit now"
    assert both({"joints": (joint(),)}, {"joints": ()}) == "changed: lower_ball has no limit any more"
    assert both({"rods": (rod(),)}, {"rods": (rod("fails"),)}) == "WORSE: tie_rod now fails"
    assert both({}, {"unreachable": (lost(0.5),), "unreachable_share": 0.1}) == (
        "WORSE: less of the range can be reached"
    )


def test_both_verdicts_lead_where_what_failed_is_clear_and_something_else_got_worse():
    before = [pair("frame", "seat", least=1.0, verdict="fails"), pair("frame", "wheel", least=9.0)]
    now = [pair("frame", "seat", least=3.0), pair("frame", "wheel", least=8.0)]
    told = words(record(before, verdict="fails"), record(now, verdict="clear"))
    assert told.startswith("BETTER AND WORSE: FAILS before, CLEAR now: frame – ")


def test_the_worst_lead_and_the_rest_is_counted():
    names = ["wheel", "seat", "rack", "lamp"]
    before = [pair("frame", name, least=9.0) for name in names]
    now = [
        pair("frame", "wheel", least=8.0),
        pair("frame", "seat", least=2.0, verdict="fails"),
        pair("frame", "rack", least=9.5),
        pair("frame", "lamp", least=7.0),
    ]
    assert words(record(before), record(now)) == (
        "WORSE: frame – seat now fails with 7.00 mm less clearance, frame – lamp 2.00 mm less clearance and 2 more"
    )
