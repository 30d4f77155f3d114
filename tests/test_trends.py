"""What the trend picture shows: which lines, which values, which words."""

import time
from dataclasses import replace

import pytest
from made_records import joint, overlap, pair, record

from assembly.report.charts.trend_picture import MOST_LINES
from assembly.report.charts.trends import run_labels, trend_panels


def pairs_of(*records):
    return trend_panels(records)[0].lines


def joints_of(*records):
    return trend_panels(records)[1].lines


def test_room_of_each_pair_runs_by_run_with_gaps_where_it_was_not_there():
    runs = (
        record([pair(least=9.0), pair("frame", "seat", least=4.0)]),
        record([pair("frame", "seat", least=5.0)]),
        record([pair(least=4.5), pair("frame", "seat", least=6.0)]),
    )
    first, second = pairs_of(*runs)
    assert (first.label, first.values) == ("frame – wheel", (6.0, None, 1.5))
    assert (second.label, second.values) == ("frame – seat", (1.0, 2.0, 3.0))
    assert (first.now, second.now) == ("4.50 mm, 3 mm required", "6.00 mm, 3 mm required (was 5.00 mm)")


def test_an_overlap_lies_below_the_rule_by_its_depth_and_what_is_required():
    (line,) = pairs_of(record([pair(least=3.0)]), record([pair(least=0.0, overlap=overlap(2.0))]))
    assert line.values == (0.0, -5.0)
    assert line.now == "at least 2.00 mm deep in, 3 mm required (was 3.00 mm)"


def test_another_rule_is_told():
    (line,) = pairs_of(record([pair(required_mm=1.0)]), record([pair()]))
    assert (line.values, line.now) == ((4.0, 2.0), "5.00 mm, 3 mm required (was 1 mm required)")


def test_the_worst_of_the_newest_run_are_shown():
    names = [f"part_{number}" for number in range(MOST_LINES + 3)]
    made = record([pair("frame", name, least=float(index)) for index, name in enumerate(names)])
    assert [line.label for line in pairs_of(made)] == [f"frame – {name}" for name in names[:MOST_LINES]]


def test_pairs_that_were_not_looked_at_have_no_line():
    assert pairs_of(record([pair(least=None)])) == ()


def test_joints_are_told_by_share_of_their_limit_the_least_first():
    runs = (
        record([pair()], joints=(joint("ball", reserve=11.0), joint("pin", reserve=5.0, limit=50.0))),
        record([pair()], joints=(joint("ball", reserve=-2.2), joint("pin", reserve=5.0, limit=50.0))),
    )
    ball, pin = joints_of(*runs)
    assert (ball.label, ball.now) == ("ball, lean", "−2.2° margin to 22° (was 11.0°)")
    assert ball.values == pytest.approx((50.0, -10.0))  # % of 22 degrees
    assert (pin.now, pin.values) == ("5.0° margin to 50°", pytest.approx((10.0, 10.0)))


def test_joints_without_a_limit_have_no_line():
    assert joints_of(record([pair()], joints=(replace(joint(), limit=None, reserve=None),))) == ()


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="the zone of this process cannot be set here")
def test_runs_are_labelled_with_the_time_of_this_place(monkeypatch):
    monkeypatch.setenv("TZ", "UTC-3")
    time.tzset()
    try:
        assert run_labels([record(made="2026-03-01T23:10:00+00:00")]) == ["2026-03-02\n02:10"]
    finally:
        monkeypatch.undo()
        time.tzset()
