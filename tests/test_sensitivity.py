"""Derivatives of figures over the numbers of a file, against closed forms (REFERENCE_VALUES, BUILDERS_CASES)."""

import numpy as np
import pytest
from oracles import linkages
from sensitivity_machines import mean, pair_places, read, reserve_place, rolled, slopes_at

from assembly.clearance.stops.stop_place import stop_place

PER_DEGREE = np.pi / 180

FOUR_BAR = """
format = 1
[dimensions]
coupler = 120
lock = 10
[points]
knee = [KNEE, 0]
wrist = [WRIST, 0]
[parts.ground]
fixed = true
shapes = [{ box = [0, -60, 0], size = [10, 10, 10] }]
[parts.crank]
shapes = [{ rod = [[0, 0, 0], "knee"], diameter = 4 }]
[parts.link]
set_length = { from = "knee", to = "wrist", is = "coupler" }
shapes = [{ rod = ["knee", "wrist"], diameter = 4 }]
[parts.rocker]
shapes = [{ rod = [[100, 0, 0], "wrist"], diameter = 4 }]
[joints.crank_pin]
pin = ["ground", "crank"]
at = [0, 0, 0]
along = [0, 0, 1]
[joints.knee]
pin = ["crank", "link"]
at = "knee"
along = [0, 0, 1]
[joints.wrist]
pin = ["link", "rocker"]
at = "wrist"
along = [0, 0, 1]
[joints.rocker_pin]
pin = ["ground", "rocker"]
at = [100, 0, 0]
along = [0, 0, 1]
limit = [-90, 90]
[drives.turn]
turns = { crank_pin = 1 }
range = ["-lock", "lock"]
"""


def four_bar(crank_angle):
    """REFERENCE_VALUES 1.1, drawn with its crank at ``crank_angle``: crank 40, coupler 120, rocker 80, ground 100."""
    coupler, _ = linkages.four_bar(40, 120, 80, 100, crank_angle)
    knee = 40 * np.array([np.cos(np.radians(crank_angle)), np.sin(np.radians(crank_angle))])
    wrist = knee + 120 * np.array([np.cos(np.radians(coupler)), np.sin(np.radians(coupler))])
    return read(
        FOUR_BAR.replace("KNEE", f"{knee[0]:.17g}, {knee[1]:.17g}").replace(
            "WRIST", f"{wrist[0]:.17g}, {wrist[1]:.17g}"
        )
    )


@pytest.mark.parametrize("setting", [0.0, 10.0])
def test_a_longer_coupler_turns_the_rocker_as_the_four_bar_says(setting):
    """Closed form: with |P4 - P2| = b, the rocker turns by 1 / (c sin(th3 - th4)) rad for each mm of coupler."""
    machine = four_bar(40.0)
    coupler, rocker = linkages.four_bar(40, 120, 80, 100, 40.0 + setting)
    mechanism = rolled(machine)
    (slopes,) = slopes_at(mechanism, [reserve_place(mechanism, "rocker_pin", {"turn": setting})])
    wanted = np.degrees(1 / (80 * np.sin(np.radians(coupler - rocker))))
    assert slopes["coupler"] == pytest.approx((-wanted, -wanted), rel=2e-4)
    assert slopes["link.set_length"] == pytest.approx(slopes["coupler"], rel=1e-9)


@pytest.mark.parametrize(("crank_angle", "rocker", "span"), [(24.146848, 54.900368, 160), (231.317813, 128.682187, 80)])
def test_a_longer_coupler_moves_both_limits_of_the_rocker(crank_angle, rocker, span):
    """REFERENCE_VALUES 1.2: there (b ± a)² = c² + d² + 2 c d cos(th4), of which the derivative by b is taken."""
    mechanism = rolled(four_bar(crank_angle))
    (slopes,) = slopes_at(mechanism, [reserve_place(mechanism, "rocker_pin", {"turn": 0.0})])
    wanted = np.degrees(span / (80 * 100 * np.sin(np.radians(rocker))))
    assert np.abs(slopes["coupler"]) == pytest.approx((wanted, wanted), rel=2e-4)


def test_a_range_that_ends_later_takes_what_the_speed_ratio_says():
    """REFERENCE_VALUES 7.14: w4/w2 = 0.279919 at a crank of 40; the machine is drawn 10 degrees before."""
    mechanism = rolled(four_bar(30.0))
    (slopes,) = slopes_at(mechanism, [reserve_place(mechanism, "rocker_pin", {"turn": 10.0})])
    assert slopes["lock"] == pytest.approx((-0.279919, -0.279919), abs=1e-4)


SLIDER_CRANK = """
format = 1
[dimensions]
crank = 50
rod = 200
offset = OFFSET
[parts.ground]
fixed = true
shapes = [{ box = [0, -90, 0], size = [10, 10, 10] }]
[parts.crank]
shapes = [{ rod = [[0, 0, 0], ["crank", 0, 0]], diameter = 4 }]
[parts.rod]
shapes = [{ rod = [["crank", 0, 0], ["crank + sqrt(rod**2 - offset**2)", "offset", 0]], diameter = 4 }]
[parts.block]
shapes = [{ box = ["crank + sqrt(rod**2 - offset**2)", "offset", 0], size = [10, 10, 10] }]
[joints.crank_pin]
pin = ["ground", "crank"]
at = [0, 0, 0]
along = [0, 0, 1]
[joints.big_end]
pin = ["crank", "rod"]
at = ["crank", 0, 0]
along = [0, 0, 1]
[joints.small_end]
pin = ["rod", "block"]
at = ["crank + sqrt(rod**2 - offset**2)", "offset", 0]
along = [0, 0, 1]
[joints.guide]
slide = ["ground", "block"]
at = ["crank + sqrt(rod**2 - offset**2)", "offset", 0]
along = [1, 0, 0]
limit = [-150, 20]
[drives.turn]
turns = { crank_pin = 1 }
range = [-10, 100]
"""


def place_of_block(crank, rod, offset, degrees):
    """REFERENCE_VALUES 1.3 and 1.4: x = r cos t + sqrt(l² - (r sin t - c)²)."""
    angle = np.radians(degrees)
    return crank * np.cos(angle) + np.sqrt(rod**2 - (crank * np.sin(angle) - offset) ** 2)


@pytest.mark.parametrize("offset", [0.0, -20.0])
@pytest.mark.parametrize("setting", [30.0, 90.0])
def test_crank_rod_and_offset_move_the_slider_as_its_closed_form_says(offset, setting):
    mechanism = rolled(read(SLIDER_CRANK.replace("OFFSET", str(offset))))
    (slopes,) = slopes_at(mechanism, [reserve_place(mechanism, "guide", {"turn": setting}, downward=True)])

    def travel(**numbers):
        all_numbers = {"crank": 50.0, "rod": 200.0, "offset": offset} | numbers
        return place_of_block(**all_numbers, degrees=setting) - place_of_block(**all_numbers, degrees=0.0)

    for name, value in (("crank", 50.0), ("rod", 200.0), ("offset", offset)):
        wanted = (travel(**{name: value + 1e-4}) - travel(**{name: value - 1e-4})) / 2e-4
        assert np.mean(slopes[name]) == pytest.approx(wanted, abs=1e-6)


HOOKE = """
format = 1
[dimensions]
beta = 30
[parts.ground]
fixed = true
shapes = [{ box = [0, 0, -60], size = [10, 10, 10] }]
[parts.driving]
shapes = [{ rod = [[-60, 0, 0], [-10, 0, 0]], diameter = 8 }]
[parts.driven]
shapes = [{ rod = [["10 * cos(beta)", "10 * sin(beta)", 0], ["60 * cos(beta)", "60 * sin(beta)", 0]], diameter = 8 }]
[joints.input]
pin = ["ground", "driving"]
at = [-80, 0, 0]
along = [1, 0, 0]
[joints.output]
pin = ["ground", "driven"]
at = ["80 * cos(beta)", "80 * sin(beta)", 0]
along = ["cos(beta)", "sin(beta)", 0]
limit = [-100, 100]
[joints.yoke]
universal = ["driving", "driven"]
at = [0, 0, 0]
axes = [[0, 1, 0], [0, 0, 1]]
[drives.turn]
turns = { input = 1 }
range = [-80, 80]
"""


@pytest.mark.parametrize("turned", [15.0, 45.0, 75.0])
def test_the_angle_of_a_hooke_joint_turns_its_output_as_its_closed_form_says(turned):
    """REFERENCE_VALUES 1.5, tan(out) = tan(in) / cos(b): d out / d b = tan(in) sin(b) / (cos² b + tan² in)."""
    mechanism = rolled(read(HOOKE))
    (slopes,) = slopes_at(mechanism, [reserve_place(mechanism, "output", {"turn": turned})])
    tangent, beta = np.tan(np.radians(turned)), np.radians(30)
    sizes = {
        "in the plane": tangent * np.sin(beta) / (np.cos(beta) ** 2 + tangent**2),
        "across": -tangent * np.sin(beta) / (1 + (tangent * np.cos(beta)) ** 2),
    }
    assert any(np.mean(slopes["beta"]) == pytest.approx(-size, rel=1e-6) for size in sizes.values())


STEERED_WHEEL = """
format = 1
[points]
tie_inner = TIE_INNER
tie_outer = [-90, 450, 250]
[parts.frame]
fixed = true
shapes = [{ box = [200, 0, 300], size = [10, 10, 10] }]
[parts.lower]
shapes = [{ rod = [[0, 100, 250], [0, 450, 250]], diameter = 4 }]
[parts.upper]
shapes = [{ rod = [[0, 100, 400], [0, 450, 400]], diameter = 4 }]
[parts.carrier]
shapes = [{ rod = [[0, 450, 260], [0, 450, 390]], diameter = 4 }]
[parts.wheel]
shapes = [{ rod = [[-10, 450, 250], "tie_outer"], diameter = 4 }]
[parts.rod]
shapes = [{ rod = ["tie_inner", "tie_outer"], diameter = 4 }]
[joints]
low = { pin = ["frame", "lower"], at = [0, 100, 250], along = [1, 0, 0] }
high = { pin = ["frame", "upper"], at = [0, 100, 400], along = [1, 0, 0] }
low_out = { pin = ["lower", "carrier"], at = [0, 450, 250], along = [1, 0, 0] }
high_out = { pin = ["upper", "carrier"], at = [0, 450, 400], along = [1, 0, 0] }
king = { pin = ["carrier", "wheel"], at = [0, 450, 250], along = [0, 0, 1], limit = [-30, 30] }
inner = { ball = ["frame", "rod"], at = "tie_inner" }
outer = { ball = ["rod", "wheel"], at = "tie_outer" }
[drives.lift]
turns = { low = 1 }
range = [-12, 12]
"""


def toe_by_hand(inner, travel):
    """BUILDERS_CASES TC-01 with h = 0, in degrees: (90 (1 - cos d))² + (Oy - Py + 90 sin d)² = L² - drop²."""
    _, py, pz = inner
    out = 100 + 350 * np.sqrt(1 - (travel / 350) ** 2) - py
    square = (450 - py) ** 2 + (250 - pz) ** 2 - (250 + travel - pz) ** 2
    size = np.hypot(out, 90)
    return np.degrees(np.arcsin((square - out**2 - 2 * 90**2) / 180 / size) + np.arctan2(90, out))


@pytest.mark.parametrize("inner", [(-90.0, 100.0, 250.0), (-90.0, 20.0, 250.0)], ids=["D", "E"])
@pytest.mark.parametrize("travel", [-40.0, 60.0])
def test_a_bracket_beside_its_place_turns_the_wheel_as_the_worked_example_says(inner, travel):
    """TC-01 SPREAD: height errors matter some ten times more than sideways ones."""
    mechanism = rolled(read(STEERED_WHEEL.replace("TIE_INNER", str(list(inner)))))
    lean = float(np.degrees(np.arcsin(travel / 350)))
    (slopes,) = slopes_at(mechanism, [reserve_place(mechanism, "king", {"lift": lean})])
    for axis, name in ((1, "tie_inner.y"), (2, "tie_inner.z")):
        step = 1e-4 * np.eye(3)[axis]
        wanted = (toe_by_hand(inner + step, travel) - toe_by_hand(inner - step, travel)) / 2e-4
        assert abs(np.mean(slopes[name])) == pytest.approx(abs(wanted), abs=1e-7)
    if inner[1] == 100.0 and travel == 60.0:
        assert abs(3.2 * np.mean(slopes["tie_inner.z"])) == pytest.approx(0.3545, abs=1.5e-3)
        assert abs(np.mean(slopes["tie_inner.z"])) > 10 * abs(np.mean(slopes["tie_inner.y"]))


PASSING = """
format = 1
facet_error = 0.002
[dimensions]
apart = 25
thick = 20
thin = 16
turned = TURNED
[points]
left = ["-50 * cos(turned)", "-50 * sin(turned)", "apart"]
right = ["50 * cos(turned)", "50 * sin(turned)", "apart"]
[parts.still]
fixed = true
shapes = [{ name = "bar", rod = [[-60, 0, 0], [60, 0, 0]], diameter = "thick" }]
[parts.moving]
shapes = [{ name = "bar", rod = ["left", "right"], diameter = "thin" }]
[joints.guide]
slide = ["still", "moving"]
at = [0, 0, 0]
along = [1, 0, 0]
[drives.push]
slides = { guide = 1 }
range = [-5, 5]
"""


@pytest.mark.parametrize("turned", [0.0, 35.0, 90.0])
def test_bars_side_by_side_or_skew_lose_half_of_every_diameter(turned):
    """REFERENCE_VALUES 5.7 (parallel, axes 25 apart: exactly 7) and 5.8 (skew, at any angle)."""
    mechanism = rolled(read(PASSING.replace("TURNED", str(turned))))
    places = pair_places(mechanism, "still", "moving", {"push": 1.3})
    slopes = slopes_at(mechanism, places)
    found = mean(slopes)
    assert places[0].gap == pytest.approx(7.0, abs=5e-3)
    assert found["apart"] == pytest.approx(1.0, abs=1e-9)
    assert found["thick"] == pytest.approx(-0.5, abs=2e-3)
    assert found["thin"] == pytest.approx(-0.5, abs=2e-3)


AXLE = """
format = 1
[dimensions]
arm = 130
damper_x = -75
lock = 30
[parts.beam]
fixed = true
shapes = [{ name = "damper", rod = [["damper_x", 150, -60], ["damper_x", 150, 60]], diameter = 50 }]
[parts.arm_left]
shapes = [{ box = [0, 300, -60], size = [10, 10, 10] }]
[parts.arm_right]
shapes = [{ box = [0, -300, -60], size = [10, 10, 10] }]
[parts.rod]
shapes = [{ name = "tube", rod = [["-arm", -300, 0], ["-arm", 300, 0]], diameter = 19 }]
[joints]
king_left = { pin = ["beam", "arm_left"], at = [0, 300, 0], along = [0, 0, 1] }
king_right = { pin = ["beam", "arm_right"], at = [0, -300, 0], along = [0, 0, 1] }
end_left = { ball = ["rod", "arm_left"], at = ["-arm", 300, 0] }
end_right = { ball = ["rod", "arm_right"], at = ["-arm", -300, 0] }
[drives.steer]
turns = { king_left = 1 }
range = ["-lock", "lock"]
"""


@pytest.mark.parametrize("turned", [10.0, 20.0, 30.0])
def test_the_rod_of_a_steered_axle_gains_as_the_case_says(turned):
    """TC-03a and C05: clear = 130 cos d - 109.5; each mm that the damper goes forward gives one."""
    mechanism = rolled(read(AXLE))
    places = pair_places(mechanism, "beam", "rod", {"steer": turned})
    found = mean(slopes_at(mechanism, places))
    assert places[0].gap == pytest.approx(130 * np.cos(np.radians(turned)) - 109.5, abs=0.03)
    assert found["damper_x"] == pytest.approx(1.0, abs=2e-3)
    assert found["arm"] == pytest.approx(np.cos(np.radians(turned)), abs=2e-3)
    lost = -130 * np.sin(np.radians(30)) * PER_DEGREE if turned == 30.0 else 0.0
    assert found["lock"] == pytest.approx(lost, abs=2e-3)


def test_both_locks_govern_alike_and_both_are_told():
    """The axle is the same on both sides, so the rod is as near at either lock: closed form, as above."""
    mechanism = rolled(read(AXLE))
    places = pair_places(mechanism, "beam", "rod", {"steer": 30.0}, elsewhere=True)
    assert sorted({float(place.settings[0]) for place in places}) == [-30.0, 30.0]
    for slopes in slopes_at(mechanism, places):
        assert np.mean(slopes["arm"]) == pytest.approx(np.cos(np.radians(30)), abs=2e-3)


TAB = """
format = 1
[dimensions]
height = HEIGHT
[parts.frame]
fixed = true
shapes = [{ name = "main tube", box = [0, 0, 270.95], size = [400, 38.1, 38.1] }]
[parts.steering]
shapes = [{ name = "rod", rod = [[0, -200, "height"], [0, 200, "height"]], diameter = 16 }]
[joints.way]
slide = ["frame", "steering"]
at = [0, 0, 300]
along = [0, 1, 0]
[drives.push]
slides = { way = 1 }
range = [-5, 5]
"""


@pytest.mark.parametrize(("height", "slope"), [(300.0, 1.0), (268.2, -1.0)])
def test_a_rod_over_a_tube_or_through_it_gains_by_every_mm(height, slope):
    """C02: 2.00 clear above the tube; lowered by 31.8 its shortest way out is down, by 24.30."""
    mechanism = rolled(read(TAB.replace("HEIGHT", str(height))))
    places = pair_places(mechanism, "frame", "steering", {"push": 0.5})
    found = mean(slopes_at(mechanism, places))
    assert found["height"] == pytest.approx(slope, abs=1e-9)
    assert bool(places[0].apart.any()) == (height < 290)
    if height < 290:
        assert np.linalg.norm(places[0].apart) == pytest.approx(24.30 + 0.1, abs=0.03)


FORK = """
format = 1
facet_error = 0.002
[dimensions]
web = 10.5
head = HEAD
[parts.fork]
fixed = true
shapes = [{ name = "web", box = [0, "-web - 5", 0], size = [40, 10, 12] }]
[parts.end]
shapes = [{ name = "head", rod = [[0, 0, -4], [0, 0, 4]], diameter = "2 * head" }]
[joints.pin]
pin = ["fork", "end"]
at = [0, 0, 0]
along = [0, 0, 1]
[drives.swing]
turns = { pin = 1 }
range = [-20, 20]
"""


@pytest.mark.parametrize(("head", "clear"), [(9.5, 1.0), (11.1, -0.6)])
def test_a_larger_head_in_its_fork_loses_what_its_radius_gains(head, clear):
    """C13: web 10.5 from the pin's axis; a head of 9.5 is 1.00 clear, one of 11.1 stands 0.60 in it."""
    mechanism = rolled(read(FORK.replace("HEAD", str(head))))
    places = pair_places(mechanism, "fork", "end", {"swing": 7.0})
    found = mean(slopes_at(mechanism, places))
    room = places[0].gap - float(np.linalg.norm(places[0].apart))
    assert room == pytest.approx(clear, abs=5e-3)
    assert found["web"] == pytest.approx(1.0, abs=1e-9)
    assert found["head"] == pytest.approx(-1.0, abs=2e-3)


LOCK = """
format = 1
facet_error = 0.002
[dimensions]
lever = 45
face = 40
bolt = 8
ball = 12
[parts.frame]
fixed = true
shapes = [{ name = "lug", box = [38, "face + 5", 0], size = [40, 10, 40] }]
[parts.arm]
shapes = [{ name = "ball", sphere = ["lever", 0, 0], diameter = "ball" }]
[joints.king]
pin = ["frame", "arm"]
at = [0, 0, 0]
along = [0, 0, 1]
[drives.steer]
turns = { king = 1 }
range = [-10, 40]
[stops.lock]
drive = "steer"
side = "high"
parts = ["arm", "frame"]
at = [38, "face", 0]
along = [0, -1, 0]
height = "bolt"
pad = { square = 36, modulus = 80 }
"""


def test_a_longer_stop_is_struck_sooner_by_its_lever():
    """Closed form: lever sin d + ball / 2 = face - bolt; at a lever of 45 a turn of 1.25 mm is some 1.6 degrees."""
    machine = read(LOCK)
    mechanism = rolled(machine)
    found = stop_place(mechanism, machine.stops["lock"])
    angle = np.arcsin((40 - 8 - 6) / 45)
    assert found.acts == pytest.approx(np.degrees(angle), abs=0.02)
    slopes = mean(slopes_at(mechanism, found.places))
    later = np.degrees(1 / (45 * np.cos(angle)))
    wanted = {"bolt": -later, "face": later, "ball": -later / 2, "lever": -later * np.sin(angle)}
    for name, slope in wanted.items():
        assert found.per_mm * slopes[name] == pytest.approx(slope, rel=3e-3)
