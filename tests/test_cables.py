"""Paths of cables against closed forms: lengths over the range with bounds, arcs, and what a file may not say."""

from math import cos, exp, pi, radians, sqrt, tan

import pytest
from cable_machines import BARS, ENDS, OVER_THE_PIN, bars, bars_text, hinged
from small_machines import HERE

import assembly
from assembly.clearance.proof.measure_search import BRACKET
from assembly.errors import InputError
from assembly.model.reader import machine_from_text


def needed(d):
    """TC-04 of the builders' cases: the law of cosines with 80, 250 and 60 + d degrees between."""
    return sqrt(68900 - 40000 * cos(radians(60 + d)))


def measured(machine, **wish):
    record = assembly.measures(machine, **wish)
    return {one.name: one for one in record.measures}, record


def test_a_bare_cable_of_a_turning_bar_is_as_long_as_the_law_of_cosines_says_everywhere():
    """TC-04: at -45, -15, 0, 15, 30, 45 degrees 173.96, 201.53, 221.13, 241.97, 262.49 and 281.52 mm."""
    found, record = measured(bars(f"[cables.brake]\nruns = [{{ through = [{ENDS}] }}]"), along="swing", steps=7)
    inner = found["brake inner"]
    settings = [at["swing"] for at in record.track.at]
    assert record.track.values["brake inner"] == pytest.approx([needed(d) for d in settings], abs=1e-6)
    told = dict(zip(settings, record.track.values["brake inner"], strict=True))
    for d, length in {-45: 173.96, -15: 201.53, 0: 221.13, 15: 241.97, 30: 262.49, 45: 281.52}.items():
        assert told[d] == pytest.approx(length, abs=0.006)
    assert (inner.least, inner.most) == pytest.approx((needed(-45), needed(45)), abs=1e-6)
    assert needed(-45) - BRACKET <= inner.proven_least <= inner.least
    assert inner.most <= inner.proven_most <= needed(45) + BRACKET
    assert (inner.at_least, inner.at_most) == ({"swing": -45.0}, {"swing": 45.0})


def test_an_inner_that_is_too_short_is_pulled_by_what_it_lacks():
    """TC-04: of 241.97 mm the limit is 15.00 degrees, and at -45 degrees 68.00 mm are slack."""
    cable = f"[cables.brake]\nruns = [{{ through = [{ENDS}] }}]\ninner = 241.97"
    found, record = measured(bars(cable))
    pull = found["brake pull"]
    assert (pull.least, pull.most) == pytest.approx((-68.00, needed(45) - 241.97), abs=0.01)
    assert (pull.verdict, record.verdict) == ("fails", "fails")
    assert measured(bars(cable, high=14.99))[1].verdict == "clear"
    assert measured(bars(cable, high=15.02))[1].verdict == "fails"


def test_without_a_length_the_inner_is_set_with_all_drives_at_zero():
    cable = f"[cables.brake]\nruns = [{{ through = [{ENDS}] }}]\nfree_play = 2"
    pull = measured(bars(cable))[0]["brake pull"]
    assert (pull.zero, pull.limit_high) == (0.0, 2.0)
    assert (pull.least, pull.most) == pytest.approx((needed(-45) - needed(0), needed(45) - needed(0)), abs=1e-6)
    assert pull.verdict == "fails"


def rounded(angle, radius):
    """Closed form: two straights of 200 that meet at ``angle`` degrees off straight, the corner rounded by an arc."""
    theta = abs(radians(angle))
    return 400 - 2 * radius * tan(theta / 2) + radius * theta


@pytest.mark.parametrize("low", [-90, -20, 15])
def test_a_hose_is_rounded_by_arcs_of_its_least_radius(low):
    """Reference value 8.6: an arc of 60 over 90 degrees is 94.247780 mm long; past straight nothing is lost."""
    hose = f'[cables.hose]\nfriction = 0.1\nruns = [{{ through = [{OVER_THE_PIN}], bend = 60, outer = "to cut" }}]'
    found, _ = measured(hinged(hose, low=min(low, 0), high=90))
    outer, straight, bends = (found[f"hose {each}"] for each in ("outer", "straight", "bends"))
    assert rounded(90, 60) == pytest.approx(2 * 140 + 94.247780, abs=1e-6)
    assert (outer.least, outer.most) == pytest.approx((rounded(90, 60), 400), abs=1e-4)
    assert outer.least - BRACKET <= outer.proven_least
    assert outer.proven_most <= 400 + BRACKET
    assert straight.least == pytest.approx(140, abs=1e-6)
    assert (bends.least, bends.most) == pytest.approx((0, 90), abs=1e-4)
    assert exp(-0.1 * bends.most * pi / 180) == pytest.approx(0.854636, abs=1e-6)  # reference value 8.5


def test_arcs_that_do_not_fit_somewhere_in_the_range_fail():
    """Closed form: arcs of 180 take all of a straight of 200 where tan(θ/2) = 200/180, at 96.03 degrees."""
    hose = f'[cables.hose]\nruns = [{{ through = [{OVER_THE_PIN}], bend = 180, outer = "to cut" }}]'
    assert measured(hinged(hose, low=0, high=96.0))[0]["hose straight"].verdict == "clear"
    assert measured(hinged(hose, low=0, high=96.1))[0]["hose straight"].verdict == "fails"


def test_an_outer_that_is_long_enough_leaves_its_inner_alone_and_one_that_is_not_pulls_it():
    """Closed form: the inner is as long as the outer, or as its path where the outer is drawn tight."""
    longer = (
        f"[cables.hose]\nfree_play = 1\nruns = [{{ through = [{OVER_THE_PIN}], bend = 60, outer = 420, slack = 10 }}]"
    )
    found, record = measured(hinged(longer, low=0, high=60))
    assert record.verdict == "clear"
    assert found["hose outer"].margin == pytest.approx(10, abs=1e-4)
    assert (found["hose pull"].least, found["hose pull"].most) == pytest.approx((0, 0), abs=1e-9)
    found, record = measured(hinged(longer.replace("420", "390"), low=0))
    assert (found["hose outer"].verdict, found["hose pull"].verdict) == ("fails", "clear")
    assert found["hose pull"].least == pytest.approx(390 - 400, abs=1e-4)


def test_what_the_measures_of_a_cable_owe_the_drawing_is_told_in_its_slopes():
    """Closed form: half a millimetre more of the arm changes what the bars pull by ∂(L(45) - L(0))/∂r."""
    text = bars_text(f"[cables.brake]\nruns = [{{ through = [{ENDS}] }}]\nfree_play = 2").replace(
        "[points]", "[dimensions]\narm = 80\n[points]"
    )
    machine = machine_from_text(text.replace('"80 * ', '"arm * '), HERE)
    told = assembly.what_helps(machine, measure="brake pull", most=0)
    (figure,) = (one for one in told.figures if one.names == ("brake pull",))
    (slope,) = (one for one in figure.places[0].slopes if one.number == "arm")

    def grows(d):
        return (80 - 250 * cos(radians(60 + d))) / needed(d)

    assert slope.up == pytest.approx(-(grows(45) - grows(0)), abs=1e-4)


WRONG = {
    "one point": (f"runs = [{{ through = [{ENDS.partition('},')[0]}}}] }}]", "a cable runs through one point"),
    "no point": ("runs = [{ through = [] }]", "a cable runs through no point"),
    "no run": ("runs = []", "a cable without a run"),
    "a guide on no part": (
        f'runs = [{{ through = [{ENDS}, {{ on = "fork", at = "stop" }}] }}]',
        "unknown part `fork`",
    ),
    "a guide on the ground": (
        f'runs = [{{ through = [{{ on = "ground", at = "stop" }}, {ENDS}] }}]',
        "a cable is held by a part, not by the ground",
    ),
    "a guide without a part": (f'runs = [{{ through = [{{ at = "stop" }}, {ENDS}] }}]', "`on` is missing"),
    "an unknown point": (
        f'runs = [{{ through = [{ENDS}, {{ on = "bars", at = "stap" }}] }}]',
        "the nearest of the points is `stop`",
    ),
    "negative slack": (
        f"runs = [{{ through = [{ENDS}], outer = 300, slack = -2 }}]",
        "a slack of -2 mm is wanted: the outer would be shorter than its path",
    ),
    "negative slack of the inner": (f"inner = 300\nslack = -1\nruns = [{{ through = [{ENDS}] }}]", "a slack of -1 mm"),
    "slack of no length": (f"slack = 1\nruns = [{{ through = [{ENDS}] }}]", "slack of an inner whose length"),
    "slack of a bare run": (f"runs = [{{ through = [{ENDS}], slack = 1 }}]", "a run without an outer has no slack"),
    "a hose without length": (f"runs = [{{ through = [{ENDS}], diameter = 5 }}]", "a run without an outer has no hose"),
    "a length below nothing": (f"inner = -5\nruns = [{{ through = [{ENDS}] }}]", "-5 mm is not above 0"),
    "a radius too large": (
        f'runs = [{{ through = [{{ on = "bars", at = "pivot" }}, {ENDS}], bend = 200, outer = "to cut" }}]',
        "arcs of radius 200 need",
    ),
    "the same place twice": (
        f'runs = [{{ through = [{{ on = "frame", at = "stop" }}, {ENDS}] }}]',
        "this point of the cable is the same place as the one before it",
    ),
    "an unknown key": (f"runs = [{{ through = [{ENDS}], radius = 5 }}]", "a run of a cable has no key `radius`"),
    "a misspelt key": (f"runs = [{{ through = [{ENDS}] }}]\nfreeplay = 2", "the nearest is `free_play`"),
    "an outer to cut in other words": (
        f'runs = [{{ through = [{ENDS}], outer = "cut" }}]',
        'write the mm of hose from end to end, or "to cut"',
    ),
    "a word for a length": (f'runs = [{{ through = [{ENDS}], outer = "long" }}]', "unknown dimension `long`"),
    "what nothing is known of": (
        f'inner = 9\nruns = [{{ through = [{ENDS}], outer = "to cut" }}]',
        "`inner` says nothing while an outer of this cable is still to be cut",
    ),
    "fully on too soon": (
        f"free_play = 5\nfull_pull = 4\nruns = [{{ through = [{ENDS}] }}]",
        "it is fully on at 4 mm, before its free play of 5 mm is gone",
    ),
}


@pytest.mark.parametrize("case", WRONG)
def test_what_a_cable_cannot_be_is_told_in_one_line(case):
    cable, told = WRONG[case]
    with pytest.raises(InputError) as caught:
        machine_from_text(bars_text(f"[cables.brake]\n{cable}"), HERE)
    (fault,) = caught.value.faults
    assert told in str(fault)
    assert fault.place.startswith("cables.brake")
    assert fault.line is not None


SPLIT = '[splitters.beam]\nto = ["left", "brake"]\npulls = [9, 9]\n'


def test_a_splitter_of_a_cable_that_is_refused_is_not_told_that_there_is_no_such_cable():
    one_point = f"[cables.left]\nruns = [{{ through = [{ENDS.partition('},')[0]}}}] }}]\n"
    with pytest.raises(InputError) as caught:
        machine_from_text(bars_text(f"{one_point}[cables.brake]\nruns = [{{ through = [{ENDS}] }}]\n{SPLIT}"), HERE)
    (fault,) = caught.value.faults
    assert fault.place == "cables.left.runs[0].through"


def test_a_measure_of_the_file_may_not_be_called_as_one_of_a_cable():
    measure = '[measures."brake inner"]\ndistance = [{ on = "frame", at = "stop" }, { on = "bars", at = "anchor" }]\n'
    with pytest.raises(InputError, match="a cable or a splitter has a measure called `brake inner` too"):
        machine_from_text(bars_text(f"{measure}[cables.brake]\nruns = [{{ through = [{ENDS}] }}]"), HERE)


MIRRORED = (
    BARS.replace("LOW", "-45").replace("HIGH", "45")
    + """
[mirror]
left = "right"
[parts.arm_left]
points = { clip_left = [0, 100, 0] }
shapes = [{ box = [0, 100, 0], size = [4, 4, 4] }]
[parts.arm_right]
points = { clip_right = [0, -90, 0] }
[joints.arm_left]
welded = ["bars", "arm_left"]
[cables.brake_left]
runs = [{ through = [{ on = "frame", at = "stop" }, { on = "arm_left", at = "clip_left" }] }]
"""
)


def test_a_cable_of_one_side_has_a_twin_with_the_points_of_its_own_side():
    """Closed form: from 250 along x to 100 to the left, and to 90 to the right where the file says so."""
    machine = machine_from_text(MIRRORED, HERE)
    found, _ = measured(machine)
    assert found["brake_left inner"].zero == pytest.approx(sqrt(250**2 + 100**2))
    assert found["brake_right inner"].zero == pytest.approx(sqrt(250**2 + 90**2))
    assert machine.cables.cables["brake_right"].runs[0].points[1].part == "arm_right"
