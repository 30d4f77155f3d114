"""What the play of joints takes of clearances is proven: closed forms, shaken machines, every bound weakened once."""

from dataclasses import replace
from math import asin, degrees, radians, sin, sqrt

import numpy as np
import pytest
from tolerance_attack import bounds_of, distances, swept
from tolerance_machines import four_bar_text, read, rod_text

from assembly.clearance.tolerances import worst_case
from assembly.kinematics import loose_motion, loose_rows
from assembly.kinematics.assembling import assemble
from assembly.kinematics.cell_motion import LeftOut

ARM = """
[parts.base]
fixed = true
shapes = [{{ box = [{wall}, 0, 0], size = [10, 400, 40] }}]
{links}
[parts.arm]
shapes = [{{ box = [50, 0, 0], size = [100, 10, 10] }}]
[joints.hinge]
pin = ["{holds}", "arm"]
at = [0, 0, 0]
along = [0, 0, 1]
{play}
[drives.swing]
turns = {{ hinge = 1 }}
range = [-5, 5]
{drives}
"""
RADIAL, AXIAL, ANGLE = 0.1, 0.2, 0.5
PLAY = f"play = {{ radial = {2 * RADIAL}, axial = {2 * AXIAL}, angle = {2 * ANGLE} }}"


def loose_arm(play=PLAY):
    return read(ARM.format(wall=125, links="", holds="base", play=play, drives=""))


def arm_on_drives():
    """The same arm, its play made of drives of a file: three slides and two pins between the base and the hinge."""
    steps = [
        ("slide", (1, 0, 0), RADIAL / sqrt(2)),
        ("slide", (0, 1, 0), RADIAL / sqrt(2)),
        ("slide", (0, 0, 1), AXIAL),
        ("pin", (1, 0, 0), ANGLE / sqrt(2)),
        ("pin", (0, 1, 0), ANGLE / sqrt(2)),
    ]
    links, drives, before = [], [], "base"
    for number, (kind, along, far) in enumerate(steps):
        links.append(
            f"[parts.link_{number}]\nshapes = [{{ box = [0, 0, -200], size = [1, 1, 1] }}]\n"
            f'[joints.step_{number}]\n{kind} = ["{before}", "link_{number}"]\nat = [0, 0, 0]\nalong = {list(along)}'
        )
        moves = "slides" if kind == "slide" else "turns"
        drives.append(f"[drives.d{number}]\n{moves} = {{ step_{number} = 1 }}\nrange = [{-far}, {far}]")
        before = f"link_{number}"
    return read(ARM.format(wall=125, links="\n".join(links), holds=before, play="", drives="\n".join(drives)))


@pytest.fixture(scope="module")
def arm():
    return swept(loose_arm())


def test_an_arm_on_a_loose_hinge_is_proven_by_its_closed_form(arm):
    """An arm's farthest point goes by all of the play of its hinge: sqrt(100² + 5² + 5²) from it as it leans."""
    (worst,) = arm.pairs.values()
    far = sin(radians(ANGLE)) * sqrt(100**2 + 5**2 + 5**2)
    assert RADIAL + AXIAL + far <= worst.play <= 1.1 * (RADIAL + AXIAL + far)
    plain = bounds_of(swept(loose_arm("play = { radial = 0 }")))["base", "arm"]
    assert worst.proven == pytest.approx(plain - worst.play, abs=0.1)


def test_no_machine_with_play_made_of_drives_comes_nearer_than_is_proven(arm):
    mechanism, random = assemble(arm_on_drives()), np.random.default_rng(2)
    ends = np.array([(one.low, one.high) for one in mechanism.machine.drives.values()])
    share = random.integers(2, size=(300, len(ends)))
    settings = np.where(share, ends[:, 1], ends[:, 0])
    settings[:, 0] = random.uniform(*ends[0], size=300)
    found = distances(mechanism, settings, bounds_of(arm))["base", "arm"]
    assert found >= bounds_of(arm)["base", "arm"]


LOOP = {
    "o": "play = { radial = 0.2, axial = 0.4 }",
    "a": "play = { radial = 0.6 }",
    "b": "play = { radial = 0.4 }",
    "c": "play = { radial = 0.1, axial = 0.2 }",
}
CLOSE = {"a": "play = { radial = 0.1 }", "b": "play = { radial = 0.1 }"}


IGNORED = """
[clearance]
pairs = [
  { between = ["crank", "rod"], ignore = "they share a ball" },
  { between = ["rod", "rocker"], ignore = "they share a ball" },
]
"""


def loose_loop(plays=LOOP, across=0.0):
    """A crank, a rod that rolls and a rocker, some of their joints loose."""
    text = rod_text(across).replace("seat_radius = 8", "") + IGNORED
    for name, play in plays.items():
        text = text.replace(f"[joints.{name}]", f"[joints.{name}]\n{play}")
    return read(text)


def shaken(machine, random):
    """The machine as it stands with every joint at an end of its play, chosen at random, put together anew."""
    joints = dict(machine.joints)
    for name, joint in joints.items():
        if joint.play is None:
            continue
        off = random.standard_normal(3)
        if joint.kind == "pin":
            along = np.array(joint.along)
            across = off - (off @ along) * along
            off = joint.play.radial * across / np.linalg.norm(across) + random.choice(joint.play.axial) * along
        else:
            off *= joint.play.radial / np.linalg.norm(off)
        joints[name] = replace(joint, at_second=tuple(np.array(joint.at_second) + off))
    return assemble(replace(machine, joints=joints))


def nearest_shaken(machine, proven, count, seed=3):
    """The least of (distance found - proven) of shaken machines, over all pairs and some settings."""
    random = np.random.default_rng(seed)
    left = np.inf
    for _ in range(count):
        settings = random.uniform(-20, 20, size=(3, 1))
        for names, found in distances(shaken(machine, random), settings, proven).items():
            left = min(left, found - proven[names])
    return left


@pytest.fixture(scope="module")
def loop():
    machine = loose_loop()
    return machine, swept(machine)


def test_shaken_machines_never_come_nearer_than_is_proven(loop):
    machine, worst = loop
    assert len(bounds_of(worst)) == 4
    assert nearest_shaken(machine, bounds_of(worst), 10) >= 0


def test_play_is_proven_beside_tolerances():
    """The rod's end may be drilled 0.3 off as well: both are in the same bound."""
    machine = loose_loop(CLOSE, across=0.3)
    proven = bounds_of(swept(machine, names=("base", "rocker")))
    assert len(proven) == 1
    for side in (39.7, 40.3):
        assert nearest_shaken(machine.with_dimensions(side=side), proven, 2) >= 0


def test_what_a_loop_hands_on_is_in_the_bound(loop):
    """The rocker's end goes by the play of the rod's ends, 0.5 mm of it either way, and by the crank's and its own."""
    _, worst = loop
    rocker = next(one for pair, one in worst.pairs.items() if {pair.a, pair.b} == {"base", "rocker"})
    assert 0.7 < rocker.play < 2.5


def test_a_flat_four_bar_that_is_shaken_stays_inside_what_is_proven():
    """Crank 40, coupler 120, rocker 80, ground 100 (Freudenstein): its pins hold each other in their plane."""
    text = four_bar_text(0)
    for name, play in {"o": 0.2, "a": 0.3, "b": 0.1, "c": 0.2}.items():
        text = text.replace(f"[joints.{name}]", f"[joints.{name}]\nplay = {{ radial = {play} }}")
    machine = read(text)
    proven = bounds_of(swept(machine, names=("frame", "rocker")))
    assert len(proven) == 1
    random, left = np.random.default_rng(6), np.inf
    for _ in range(8):
        settings = random.uniform(-10, 10, size=(2, 1))
        left = min(left, distances(shaken(machine, random), settings, proven)["frame", "rocker"])
    assert 0 <= left - proven["frame", "rocker"] < 1


LINK = """
[parts.lug]
fixed = true
shapes = [{{ name = "tyre", box = [0, 60, 30], size = [40, 20, 20] }}]
[parts.link]
shapes = [{{ box = [0, 60, -5], size = [10, 10, 10] }}]
[joints.pin]
pin = ["lug", "link"]
at = [0, 0, 0]
along = [0, 0, 1]
play = {{ axial = [0, {slack}] }}
[drives.swing]
turns = {{ pin = 1 }}
range = [-3, 3]
[clearance]
required = 1
"""


@pytest.mark.parametrize(("slack", "left"), [(25.4, -5.4), (12.7, 7.3)])
def test_a_link_that_walks_along_its_pin(slack, left):
    """A builder's case: 20.0 to the tyre, the pin 25.4 longer than the link, or 12.7 with a clamp on it."""
    (worst,) = swept(read(LINK.format(slack=slack))).pairs.values()
    assert left - 0.03 <= worst.proven <= left


RIM = """
[points]
tip = [100, 0, 0]
rack = [100, 150, 0]
[parts.frame]
fixed = true
shapes = [{ name = "guard", box = [-250, -10.995, 60], size = [8, 10, 20] }]
[parts.wheel]
shapes = [{ name = "edge", box = [-250, 0, 60], size = [0.01, 0.01, 0.01] }]
[parts.rod]
shapes = [{ rod = ["tip", "rack"], diameter = 8 }]
[parts.rack]
shapes = [{ box = [100, 160, 0], size = [9, 9, 9] }]
[joints.kingpin]
pin = ["frame", "wheel"]
at = [0, 0, 0]
along = [0, 0, 1]
[joints.tip]
ball = ["wheel", "rod"]
at = "tip"
play = { radial = 5.264 }
[joints.rack_end]
ball = ["rod", "rack"]
at = "rack"
[joints.slide]
slide = ["frame", "rack"]
at = "rack"
along = [0, 1, 0]
[drives.steer]
slides = { slide = 1 }
range = [-0.05, 0.05]
"""


def test_a_rim_that_moves_by_hand_while_the_rod_stands_still():
    """A builder's case: 5 mm at a radius of 190 are asin(5/190) = 1.508°; 6.58 at 250, so that 6.00 become -0.58."""
    turned = asin(5 / 190)
    assert degrees(turned) == pytest.approx(1.508, abs=1e-3)
    worst = swept(read(RIM))
    proven = bounds_of(worst)["frame", "wheel"]
    assert proven <= 6.00 - 250 * sin(turned) + 0.05
    assert proven >= 6.00 - 1.4 * 250 * sin(turned)


def test_play_that_the_file_makes_of_a_dimension_with_a_tolerance_is_refused():
    worst = swept(loose_loop({"a": 'play = { radial = "side / 100" }'}, across=0.1))
    assert worst.refused == ("the tolerance of side changes the play of joint a, which is not bounded",)


def test_parts_that_no_drive_moves_are_loose_too():
    """A lid on a pin of its own beside the arm: the play of the arm's hinge does not move it, its own does."""
    text = ARM.format(wall=125, links="", holds="base", play=PLAY, drives="") + (
        '[parts.lid]\nshapes = [{ box = [50, 0, 40], size = [20, 20, 10] }]\n[joints.lid]\npin = ["base", "lid"]\n'
        "at = [50, 0, 40]\nalong = [0, 0, 1]\nplay = { axial = 2 }\n"
        "[drives.lid]\nturns = { lid = 1 }\nrange = [-1, 1]\n"
    )
    found = {(pair.a, pair.b): one.play for pair, one in swept(read(text)).pairs.items()}
    assert found["base", "lid"] == pytest.approx(1.0, abs=0.01)
    assert found["arm", "lid"] == pytest.approx(1.0 + found["base", "arm"], rel=0.1)


def halved(self, moved):
    return np.asarray(0.5 * self.each(moved).sum(axis=1))


def without_length(*given):
    return (replace(one, length=0.0) for one in OF_GROUP(*given))


OF_GROUP = loose_rows._of_group
MUTATIONS = {
    "sum over joints": (loose_motion.LooseMotion, "longest", halved),
    "vectors of rows": (loose_rows, "_of_group", without_length),
    "pairs": (worst_case, "loosened", lambda grown, mechanism: grown),
}


@pytest.mark.parametrize("kind", MUTATIONS)
def test_every_weakened_bound_is_seen(kind, monkeypatch):
    owner, name, weakened = MUTATIONS[kind]
    monkeypatch.setattr(owner, name, weakened)
    machine = read(LINK.format(slack=25.4))
    (worst,) = swept(machine).pairs.values()
    assert worst.proven is None or worst.proven > -5.4 + 0.03


def test_what_is_of_higher_order_is_in_the_bound(monkeypatch):
    """A hinge that is 4° loose: its arm's end goes by the chord, and what is bounded of second order with it."""
    machine = loose_arm("play = { angle = 4 }")
    (worst,) = swept(machine).pairs.values()
    far = 2 * sin(radians(2) / 2) * sqrt(100**2 + 5**2 + 5**2)
    monkeypatch.setattr(LeftOut, "change", lambda self, reach, apart: 0 * apart)
    (weak,) = swept(machine).pairs.values()
    assert far <= weak.play < worst.play
