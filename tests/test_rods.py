"""Rods that are screwed together: lengths, engagement and turns by hand, from worked examples and published tables."""

from math import asin, degrees

import pytest
from rod_threads import M8, M8_LEFT, lever, rod_table
from small_machines import read

import assembly
from assembly.errors import InputError
from assembly.model.rod_entries import threaded_rod_entry
from assembly.model.thread_standards import COARSE, FINE, NUTS

INCH = 'size = "1/4-28", diameter = 6.35, pitch = 0.907, thread_length = 31.75, ball_to_tip = 65.4845'
"""TC-05a, own: a 1/4-28 thread; from ball to tip so that 9.525 mm are in."""


def entry(text):
    return threaded_rod_entry(read(text).rods["rod"])


def tc_05(first="right", second="right", tube=838.2, rules=()):
    ends = (f'{INCH}, hand = "{hand}"' for hand in (first, second))
    return entry(lever(rod_table(*ends, tube=tube, rules=rules), length=950.119))


def verdicts(rod):
    return {rule.rule: rule.verdict for end in rod.ends for rule in end.rules}


def test_engagement_at_a_set_length():
    """TC-05a (worked example, own model): 9.525 in each = 1.50 D, 22.23 showing, 10.5 turns to fall out."""
    rod = tc_05(rules=("1.5 d", "half the thread", "2.5 d"))
    for end in rod.ends:
        assert end.engaged_mm == pytest.approx(9.525, abs=1e-9)
        assert end.diameters == pytest.approx(1.5, abs=1e-9)
        assert end.showing_mm == pytest.approx(22.225, abs=1e-9)
        assert end.turns == pytest.approx(10.5, abs=0.005)
    assert verdicts(rod) == {"1.5 d": "clear", "half the thread": "fails", "2.5 d": "fails"}
    assert [rule.required_mm for rule in rod.ends[0].rules] == pytest.approx([9.525, 15.875, 15.875])
    assert (rod.verdict, rod.turns_out) == ("fails", pytest.approx(10.5, abs=0.005))


@pytest.mark.parametrize(("tube", "captive"), [(838.2, False), (838.2 + 12.69, False), (838.2 + 12.7, True)])
def test_captive_where_a_thread_comes_up_before_the_other_leaves(tube, captive):
    """TC-05a: 22.23 can go in where 9.53 hold: not captive; a tube 12.70 longer makes it just so."""
    rod = tc_05(tube=tube, rules=("captive",))
    assert rod.captive is captive
    assert rod.verdict == ("clear" if captive else "fails")


def test_two_hands_are_captive_at_no_length():
    """TC-05a2: both ends come loose together, whatever the length."""
    assert not any(tc_05("right", "left", tube=tube).captive for tube in (830.0, 838.2, 860.0, 870.0))


@pytest.mark.parametrize(
    ("rule", "verdict"), [("5 turns", "clear"), ("8 mm", "fails"), ("1.5 d", "fails"), ("1 d in steel", "fails")]
)
def test_rules_of_engagement_by_name(rule, verdict):
    """TC-05b: 7.0 mm of M8 are 5.6 turns: "5 turns" pass, "8 mm" and "1.5 D = 12" fail."""
    rod = entry(lever(rod_table(f"{M8}, engaged = 7", M8_LEFT, rules=(rule,))))
    first, second = rod.ends
    assert (first.turns, first.engaged_mm, second.engaged_mm) == (pytest.approx(5.6), 7.0, pytest.approx(17.0))
    assert first.rules[0].verdict == verdict
    assert first.rules[0].source


@pytest.mark.parametrize(("size", "diameters"), [("M6", 0.83), ("M8", 0.78), ("M10", 0.75), ("M12", 0.73)])
def test_five_turns_are_less_than_a_diameter(size, diameters):
    """TC-05b: 5 turns are only 0.83 D (M6), 0.78 D (M8), 0.75 D (M10), 0.73 D (M12)."""
    assert 5 * COARSE[size] / float(size[1:]) == pytest.approx(diameters, abs=0.005)


def test_a_rule_of_the_builders_own_and_one_of_the_share_of_the_thread():
    rules = (('{ name = "shop", turns = 8, source = "our own" }',), ('{ name = "third", share = 0.4 }',))
    rod = entry(lever(rod_table(M8, M8_LEFT, rules=rules)))
    assert [(rule.required_mm, rule.source) for rule in rod.ends[0].rules] == [
        (pytest.approx(10.0), "our own"),
        (pytest.approx(10.0), "the builder's own"),
    ]


def test_no_rule_judges_nothing():
    assert entry(lever(rod_table(M8, M8_LEFT))).verdict is None


@pytest.mark.parametrize(
    ("first", "second", "per_turn"),
    [
        ('size = "M5", hand = "right"', 'size = "M5", hand = "left"', 1.6),
        ('size = "M6", hand = "right"', 'size = "M6", hand = "left"', 2.0),
        (M8, M8_LEFT, 2.5),
        ('size = "M10", hand = "left"', 'size = "M10", hand = "right"', 3.0),
        ('size = "M12", hand = "right"', 'size = "M12", hand = "left"', 3.5),
        ('size = "M10", hand = "right"', M8, 0.25),
        (M8, M8, 0.0),
        ('size = "M8x1", hand = "right"', M8_LEFT, 2.25),
    ],
)
def test_a_turn_makes_the_sum_of_pitches_or_their_difference(first, second, per_turn):
    """Closed form: 2 P with a right and a left thread (M5 1.6 ... M12 3.5), M10 with M8 of one hand 0.25 mm."""
    assert entry(lever(rod_table(first, second))).per_turn_mm == pytest.approx(per_turn)


def test_least_and_greatest_length():
    """Closed form: a lock nut of 4 mm leaves 21 of 25 mm to go in, 9 from today's 12: 18 mm shorter; 8 must be in."""
    nut = 'lock_nut = "ISO 4035"'
    rod = entry(lever(rod_table(f"{M8}, {nut}", f"{M8_LEFT}, {nut}", rules=("1 d in steel",))))
    assert (rod.least_mm, rod.greatest_mm, rod.apart_mm) == pytest.approx((282.0, 308.0, 324.0))
    assert "1 d in steel" in rod.greatest_by


def test_the_end_with_less_to_spare_ends_the_turning():
    """Closed form: 9 of 12 mm may come out at the left end, 2 of 10 at the right; each gives half of the length."""
    rod = entry(lever(rod_table(f"{M8}, engaged = 14", M8_LEFT, rules=("1 d in steel",))))
    assert (rod.ends[1].engaged_mm, rod.greatest_mm) == (pytest.approx(10.0), pytest.approx(304.0))
    assert rod.greatest_by.startswith("far")
    assert rod.least_mm == pytest.approx(300 - 2 * 11.0)


def test_a_hole_that_is_tapped_less_deep_ends_it_before_the_thread_does():
    rod = entry(lever(rod_table(f"{M8}, tapped = 15", f"{M8_LEFT}, tapped = 20")))
    assert rod.least_mm == pytest.approx(294.0)
    assert "bottom" in rod.least_by


def test_tips_meet_in_a_short_tube():
    """Closed form: two tips of 42 mm meet at 84 mm; the threads alone would go to 34 + 84 - 50 = 68 mm."""
    rod = entry(lever(rod_table(M8, M8_LEFT, tube=34), length=98.0))
    assert rod.least_mm == pytest.approx(84.0)
    assert "tips" in rod.least_by


def test_threads_of_one_hand_are_turned_end_by_end():
    """Closed form: each of two ends with 12 in may come out by 4: 8 mm; nuts of 6.8 leave 6.2 of 13 to go in."""
    nut = 'lock_nut = "ISO 4032 M8"'
    rod = entry(lever(rod_table(f"{M8}, {nut}", f"{M8}, {nut}", rules=("1 d in steel",))))
    assert (rod.least_mm, rod.greatest_mm) == pytest.approx((300 - 12.4, 308.0))


@pytest.mark.parametrize(
    ("size", "flats", "full", "thin", "pitch"),
    [
        ("M5", 8, 4.7, 2.7, 0.8),
        ("M6", 10, 5.2, 3.2, 1.0),
        ("M8", 13, 6.8, 4.0, 1.25),
        ("M10", 16, 8.4, 5.0, 1.5),
        ("M12", 18, 10.8, 6.0, 1.75),
        ("M14", 21, 12.8, 7.0, 2.0),
        ("M16", 24, 14.8, None, 2.0),
    ],
)
def test_nuts_and_coarse_pitches_are_those_of_the_standards(size, flats, full, thin, pitch):
    """Published: ISO 4032 and ISO 4035 (across flats, greatest height), ISO 261/262 (coarse pitch)."""
    assert (NUTS["ISO 4032"][size].across_flats, NUTS["ISO 4032"][size].height) == (flats, full)
    assert COARSE[size] == pitch
    assert all(fine < pitch for fine in FINE[size])
    if thin is not None:
        assert (NUTS["ISO 4035"][size].across_flats, NUTS["ISO 4035"][size].height) == (flats, thin)


@pytest.fixture(scope="module")
def turned():
    """The rod with a right and a left M8 on an arm of 80, looked at once."""
    return assembly.rods(read(lever(rod_table(M8, M8_LEFT))), length=303.0)


def test_degrees_of_the_lever_for_each_step(turned):
    """Published example: half a turn (1.25) on 80 is 0.895283; TC-05c: 0.625 is 0.448, a flat (0.417) is 0.298."""
    one = turned.turned[0]
    assert (one.part, one.about) == ("lever", pytest.approx((0, 0, 1)))
    for step, (mm, told) in zip(
        one.steps, [(2.5, 1.790785), (1.25, 0.895283), (0.416667, 0.298), (0.625, 0.448)], strict=True
    ):
        assert step.mm == pytest.approx(mm, abs=1e-6)
        assert step.longer_deg == pytest.approx(-degrees(asin(mm / 80)), abs=2e-6)
        assert step.longer_deg == pytest.approx(-told, abs=5e-4)
        assert step.shorter_deg == pytest.approx(degrees(asin(mm / 80)), abs=2e-6)


def test_degrees_on_an_arm_of_100():
    """Published example: 1.432394 degrees for a turn of M8 with two hands on 100 mm (small angle: 2.5/100)."""
    found = assembly.rods(read(lever(rod_table(M8, M8_LEFT), arm=100.0))).turned[0].steps[0]
    assert -found.longer_deg == pytest.approx(1.432394, abs=2e-4)


def test_locks_move_with_the_rod(turned):
    """Closed form: pushed by -4, the lever stands at asin(-4/80) today and at asin(-6.5/80) a turn longer.

    The rod of 300 mm leans a little as the lever turns: it is short by 1e-4 degrees of that.
    """
    down, up = turned.turned[0].locks
    assert (down.drive, down.at, up.at) == ("push", -4.0, 4.0)
    assert (down.today_deg, down.longer_deg) == pytest.approx(
        (-degrees(asin(4 / 80)), -degrees(asin(6.5 / 80))), abs=2e-4
    )
    assert (up.today_deg, up.longer_deg) == pytest.approx((degrees(asin(4 / 80)), degrees(asin(1.5 / 80))), abs=2e-4)


def test_turns_to_a_wanted_length(turned):
    """Closed form: 3 mm at 2.5 for a turn are 1.2 turns, and half of it comes out at either end."""
    way = turned.ways[0]
    assert (way.turns, way.change_mm, way.engaged_mm) == (pytest.approx(1.2), 3.0, pytest.approx((10.5, 10.5)))
    assert way.settable


@pytest.mark.parametrize(
    ("wanted", "settable", "below", "above"),
    [(301.25, True, 301.25, 301.25), (301.0, False, 300.625, 301.25), (299.5, False, 299.375, 300.0)],
)
def test_an_end_goes_by_half_turns(wanted, settable, below, above):
    """TC-05c: an end that must be unbolted makes 0.625 mm for half a turn; what lies between cannot be set."""
    way = assembly.rods(read(lever(rod_table(M8, M8))), length=wanted).ways[0]
    assert (way.turned, way.settable) == ("end", settable)
    assert (way.below_mm, way.above_mm) == pytest.approx((below, above))


def test_a_length_that_the_rules_forbid_is_told():
    way = assembly.rods(read(lever(rod_table(M8, M8_LEFT, rules=("1 d in steel",)))), length=309.0).ways[0]
    assert way.verdict == "fails"
    assert "1 d in steel" in way.why


def test_a_twin_has_the_same_hands_and_its_own_joints():
    text = lever(rod_table(M8, M8_LEFT)).replace("rod]", "rod_left]").replace('"rod"', '"rod_left"')
    for name in ("lever", "bar", "near", "far", "pivot", "guide"):
        text = text.replace(f'"{name}"', f'"{name}_left"').replace(f"\n{name} =", f"\n{name}_left =")
        text = text.replace(f"[parts.{name}]", f"[parts.{name}_left]")
    text = text.replace("[points]", '[mirror]\nleft = "right"\n[points]').replace(
        "guide = 1", "guide_left = 1, guide_right = 1"
    )
    rods = read(text).rods
    assert list(rods) == ["rod_left", "rod_right"]
    one, other = rods.values()
    assert (other.part, other.twin_of, other.length) == ("rod_right", "rod_left", one.length)
    assert [(end.joint, end.hand) for end in other.ends] == [("near_right", "right"), ("far_right", "left")]


FAULTS = [
    (rod_table('size = "M8x1.1", hand = "right"', M8), "neither the coarse thread of M8 (1.25 mm) nor a fine one"),
    (rod_table('size = "M8", hand = "up"', M8), "`up` is not one of the choices; choose 'right' or 'left'"),
    (rod_table(M8, M8, part="rood"), "rods.rod.part: unknown part `rood`; the nearest of the parts is `rod`"),
    (rod_table(M8, f'{M8}, lock_nut = "ISO 4035 M10"'), "the lock nut is `M10` and the thread `M8`"),
    (rod_table(M8, f'{M8}, lock_nut = "thin"'), "the lock nut `thin` is not known"),
    (rod_table(f"{M8}, thread_length = 160, ball_to_tip = 170", M8, tube=100), "longer than half the rod, which is"),
    (rod_table(M8, M8, tube=270), "27.00 mm are in at `near`, and 25.00 mm can be"),
    (rod_table(M8, M8, tube=210), "ends 3.00 mm short of the tube"),
    (rod_table(f"{M8}, engaged = 5", f"{M8}, engaged = 5"), "`engaged` stands at both ends"),
    (rod_table('size = "W5/16", hand = "right"', M8), "the thread `W5/16` is not known; write M3 to M24"),
    (rod_table(M8, M8, rules=("1 d",)), "there is no rule of engagement `1 d`"),
    (rod_table(M8, M8, rules=(('{ name = "x" }',),)), "a rule is one of `diameters`, `millimetres`, `turns`, `share`"),
    (rod_table(M8, M8).replace('"near"', '"guide"'), "`guide` does not tie `rod`"),
    (rod_table(M8, M8).replace('"near"', '"far"'), "`far` is at both ends"),
    (rod_table('size = "M20", hand = "right"', M8), "`thread_length` is missing"),
    (rod_table(M8, f"{M8}, pitch = 9"), "a pitch of 9 mm on M8 cannot be"),
    (
        rod_table(M8, M8).replace("ends = [", f'ends = [{{ joint = "near", {M8} }},'),
        "3 ends are given, and a rod has two",
    ),
]


@pytest.mark.parametrize(("table", "told"), FAULTS, ids=[told[:40] for _, told in FAULTS])
def test_a_faulty_rod_is_told_in_one_line(table, told):
    with pytest.raises(InputError) as caught:
        read(lever(table))
    assert told in str(caught.value)
    assert all("rods.rod" in str(fault) and fault.line for fault in caught.value.faults)


def test_an_unusual_pitch_is_allowed_where_it_is_written_as_such():
    assert entry(lever(rod_table('size = "M8", pitch = 1.1, hand = "right"', M8))).ends[0].size == "M8×1.1"


def test_a_machine_without_rods_says_how_to_write_one():
    with pytest.raises(InputError, match=r"describe one with \[rods\.NAME\]"):
        assembly.rods(read(lever("")))
    with pytest.raises(InputError, match="the nearest of the rods is `rod`"):
        assembly.rods(read(lever(rod_table(M8, M8))), ["rood"])
