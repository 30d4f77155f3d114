"""Numbers that make no shape are refused: what failed, what was given, what would be valid."""

import re

import numpy as np
import pytest

from assembly.errors import ShapeError
from assembly.geometry.shapes import (
    Hole,
    Slot,
    box,
    cone,
    hexagon,
    plate,
    plate_through,
    ring,
    rod,
    rod_end,
    sphere,
    tube,
    turned,
)

O = (0, 0, 0)
LINE = [O, (100, 0, 0)]
ELL = [O, (100, 0, 0), (100, 50, 0)]
SQUARE = [(0, 0), (60, 0), (60, 60), (0, 60)]
FLAT = {"at": O, "normal": (0, 0, 1), "along": (1, 0, 0)}
SKEW = [O, (60, 0, 0), (60, 60, 5), (0, 60, 0)]
Z, X = (0, 0, 1), (1, 0, 0)
NAN, INF = float("nan"), float("inf")


def drilled(*holes, slots=()):
    return lambda: plate(SQUARE, 5, holes=holes, slots=slots, **FLAT)


REFUSED = {
    "box of no height": (lambda: box(O, (1, 2, 0)), r"box: size\[2\] = 0 is not a size; give 0.001 to 1e\+06 mm"),
    "box of two sizes": (lambda: box(O, (1, 2)), r"box: size = \(1, 2\) are not 3 sizes; give 3 numbers"),
    "box nowhere": (lambda: box((0, NAN, 0), (1, 2, 3)), r"box: centre = \(0, nan, 0\) is not a point; give 3 numbers"),
    "box with a mirror for a rotation": (lambda: box(O, (1, 2, 3), rotation=np.diag([1, 1, -1])), "is not a rotation"),
    "box with angles for a rotation": (lambda: box(O, (1, 2, 3), rotation=(0, 0, 45)), "give a 3x3 rotation"),
    "rod of no section": (
        lambda: rod(LINE),
        "rod: the section is given by nothing; give exactly one of diameter, square",
    ),
    "rod of two sections": (lambda: rod(LINE, diameter=5, square=5), "given by diameter and square"),
    "rod of negative diameter": (lambda: rod(LINE, diameter=-5), "rod: diameter = -5 is not a size"),
    "rod of endless diameter": (lambda: rod(LINE, diameter=INF), "diameter = inf is not a size"),
    "rod with a word for a size": (lambda: rod(LINE, diameter="thick"), "diameter = 'thick' is not a size"),
    "rod with a yes for a size": (lambda: rod(LINE, diameter=True), "is not a size"),
    "rod of one point": (lambda: rod([O], diameter=5), "rod: points has 1 points; give at least 2"),
    "rod without points": (lambda: rod(None, diameter=5), "is not a list of points"),
    "rod of one point twice": (lambda: rod([O, O], diameter=5), r"points\[0\] and points\[1\] are the same point"),
    "rod of flat points": (lambda: rod([(0, 0), (1, 1)], diameter=5), r"points\[0\] = \(0, 0\) is not a point"),
    "rod to the stars": (lambda: rod([O, (1e9, 0, 0)], diameter=5), "is not a point; give 3 numbers in mm from -1e"),
    "flat bar standing along itself": (lambda: rod(LINE, rectangle=(5, 3), up=X), "up = .* runs along the line itself"),
    "flat bar up nowhere": (lambda: rod(LINE, rectangle=(5, 3), up=O), "up = .* is not a direction"),
    "flat bar of three sizes": (lambda: rod(LINE, rectangle=(5, 3, 2)), "are not 2 sizes"),
    "corner without a bend": (lambda: rod(ELL, diameter=5), r"the corner at points\[1\] has no bend radius; give bend"),
    "bend without a corner": (lambda: rod(LINE, diameter=5, bend=10), "bend = 10 has no corner to round"),
    "bend of no radius": (lambda: rod(ELL, diameter=5, bend=0), "bend = 0 is not a size"),
    "two bends for one corner": (
        lambda: rod(ELL, diameter=5, bend=[9, 9]),
        "bend has 2 radii for 1 inner points; give 1",
    ),
    "bend larger than its leg": (
        lambda: rod(ELL, diameter=5, bend=50.1),
        "take 50.1 mm of the leg .* at most 50.000 mm",
    ),
    "bend tighter than the rod": (
        lambda: rod(ELL, diameter=20, bend=10),
        "bend radius 10 mm is too small .* more than 10 mm",
    ),
    "rod that turns straight back": (
        lambda: rod([*LINE, O], diameter=5, bend=9),
        r"turns straight back at points\[1\]",
    ),
    "tube without a hollow": (
        lambda: tube(LINE, diameter=20, wall=10),
        "wall = 10 leaves no hollow; give less than 10 mm",
    ),
    "flat tube without a hollow": (lambda: tube(LINE, rectangle=(40, 6), wall=3), "give less than 3 mm"),
    "tube of no wall": (lambda: tube(LINE, diameter=20, wall=0), "tube: wall = 0 is not a size"),
    "facets finer than nothing": (lambda: rod(LINE, diameter=5, facet_error=0), "facet_error = 0 is not a size"),
    "plate of two corners": (lambda: plate(SQUARE[:2], 5, **FLAT), "plate: outline has 2 points; give at least 3"),
    "plate that closes too early": (lambda: plate([(0, 0), (9, 9), (0, 0)], 5, **FLAT), "has 2 different points"),
    "plate of one corner twice": (
        lambda: plate([*SQUARE[:2], *SQUARE[1:]], 5, **FLAT),
        r"outline\[1\] and outline\[2\] are",
    ),
    "plate that crosses itself": (
        lambda: plate([(0, 0), (60, 60), (60, 0), (0, 60)], 5, **FLAT),
        r"outline crosses or touches itself near \(30, 30\)",
    ),
    "plate on a line": (lambda: plate([(0, 0), (30, 0), (60, 0)], 5, **FLAT), "outline crosses or touches itself"),
    "plate of no thickness": (lambda: plate(SQUARE, 0, **FLAT), "thickness = 0 is not a size"),
    "plate on no side": (lambda: plate(SQUARE, 5, side="left", **FLAT), "side = 'left' is unknown; give one of middle"),
    "plate along its normal": (lambda: plate(SQUARE, 5, at=O, normal=Z, along=Z), "along = .* runs along the normal"),
    "hole over the edge": (
        drilled(Hole((57, 30), 12)),
        r"holes\[0\] cuts the edge: its radius is 6 mm and its middle 3 mm",
    ),
    "hole that touches the edge": (drilled(Hole((54, 30), 12)), "cuts the edge"),
    "hole beside the plate": (drilled(Hole((90, 30), 12)), r"holes\[0\] at \(90, 30\) lies outside the outline"),
    "hole larger than the plate": (drilled(Hole((30, 30), 90)), "cuts the edge"),
    "holes in each other": (
        drilled(Hole((20, 30), 12), Hole((30, 30), 12)),
        r"holes\[0\] and holes\[1\] run into each other",
    ),
    "hole of no size": (drilled(Hole((20, 30), 0)), r"holes\[0\].diameter = 0 is not a size"),
    "hole nowhere": (drilled(Hole((20,), 9)), r"holes\[0\].at = .* is not a point"),
    "slot over the edge": (drilled(slots=[Slot((30, 30), (57, 30), 8)]), r"slots\[0\] cuts the edge"),
    "slot out of the plate": (
        drilled(slots=[Slot((30, 30), (90, 30), 8)]),
        r"slots\[0\] at \(30, 30\) to \(90, 30\) lies outside",
    ),
    "slot that is a hole": (drilled(slots=[Slot((30, 30), (30, 30), 8)]), r"slots\[0\] starts where it ends"),
    "slot into a hole": (drilled(Hole((20, 20), 9), slots=[Slot((20, 28), (40, 28), 8)]), "run into each other"),
    "skew plate": (
        lambda: plate_through(SKEW, 5),
        r"points\[\d\] = .* mm off the plane of the points; keep all within 0.01",
    ),
    "plate through a line": (lambda: plate_through([O, (1, 1, 1), (3, 3, 3)], 5), "points enclose no area"),
    "flat hole in a plate through points": (
        lambda: plate_through([O, (60, 0, 0), (60, 60, 0)], 5, holes=[Hole((40, 20), 8)]),
        r"holes\[0\].at = \(40, 20\) is not a point; give 3 numbers",
    ),
    "sphere of no size": (lambda: sphere(O, 0), "sphere: diameter = 0 is not a size"),
    "cone of two points": (lambda: cone(LINE, (0, 0)), "cone: diameters = .* leaves no solid"),
    "cone of a negative end": (lambda: cone(LINE, (9, -1)), r"diameters\[1\] = -1 is not a size; give 0 to"),
    "cone of three points": (lambda: cone(ELL, (9, 1)), "points has 3 points; give 2"),
    "cone of a hair's end": (lambda: cone(LINE, (9, 1e-5)), "a diameter that is not 0 = 1e-05 is not a size"),
    "ring without a hole": (lambda: ring(O, Z, diameter=40, thickness=20), "closes the hole .* give less than 20 mm"),
    "ring about nothing": (lambda: ring(O, O, diameter=40, thickness=5), "axis = .* is not a direction; give 3 finite"),
    "turned across its axis": (
        lambda: turned([(0, -3), (9, 5), (0, 5)], O, Z),
        r"point \(0, -3\) crosses the axis; give a radius",
    ),
    "turned at a hair from its axis": (lambda: turned([(0, 1e-5), (9, 5), (0, 5)], O, Z), "is too near the axis"),
    "turned that crosses itself": (
        lambda: turned([(0, 0), (9, 9), (9, 0), (0, 9)], O, Z),
        "profile crosses or touches itself",
    ),
    "turned of two points": (lambda: turned([(0, 0), (9, 9)], O, Z), "profile has 2 points; give at least 3"),
    "hexagon bored through its flats": (
        lambda: hexagon(LINE, 13, bore=13),
        "bore = 13 breaks the flats; give less than 13",
    ),
    "hexagon along a bent line": (lambda: hexagon(ELL, 13), "hexagon: points has 3 points; give 2"),
    "rod end of unknown size": (
        lambda: rod_end(O, X, Z, "M100"),
        r"size = 'M100' is not in the table; did you mean M10\?",
    ),
    "rod end of another trade": (lambda: rod_end(O, X, Z, "3/8"), "give one of M5, M6, M8, M10, M12, M14, M16"),
    "rod end of no size": (lambda: rod_end(O, X, Z, bore=8), "without a size ball_width, .* must be given"),
    "rod end with a misspelt dimension": (lambda: rod_end(O, X, Z, "M8", eye_diametre=24), "did you mean eye_diameter"),
    "rod end bored away": (lambda: rod_end(O, X, Z, "M8", bore=11), "bore = 11 is not less than ball_face = 10.4"),
    "rod end wider than its ball": (
        lambda: rod_end(O, X, Z, "M8", housing_width=12),
        "housing_width = 12 is not less than",
    ),
    "rod end smaller than its ball": (lambda: rod_end(O, X, Z, "M8", eye_diameter=15), "the ball's diameter = 15.87"),
    "rod end shorter than its eye": (
        lambda: rod_end(O, X, Z, "M8", length=12),
        "half of eye_diameter = 12 is not less",
    ),
    "rod end thicker than its eye": (
        lambda: rod_end(O, X, Z, "M8", shank_diameter=24),
        "shank_diameter = 24 is not less",
    ),
    "rod end bolted along its shank": (lambda: rod_end(O, Z, (0.5, 0, 1), "M8"), "leans more than 45 degrees"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_makes_no_shape_is_refused_with_what_would_be_valid(name):
    make, text = REFUSED[name]
    with pytest.raises(ShapeError) as caught:
        make()
    (fault,) = caught.value.faults
    assert re.search(text, str(fault))
    assert fault.hint
    assert fault.message.split(":")[0] in {
        *("box", "rod", "tube", "plate", "sphere", "cone", "ring", "turned", "hexagon", "rod_end"),
    }


def test_the_largest_bend_that_is_offered_fits():
    with pytest.raises(ShapeError) as caught:
        rod([O, (100, 0, 0), (100, 70, 0), (30, 70, 40)], diameter=5, bend=60)
    offered = float(re.search(r"at most ([\d.]+) mm", str(caught.value)).group(1))
    rod([O, (100, 0, 0), (100, 70, 0), (30, 70, 40)], diameter=5, bend=offered)
    with pytest.raises(ShapeError):
        rod([O, (100, 0, 0), (100, 70, 0), (30, 70, 40)], diameter=5, bend=offered + 0.002)


def test_a_flat_bar_may_be_bent_tighter_the_easy_way_than_the_hard_way():
    assert rod(ELL, rectangle=(40, 6), up=Z, bend=20.01).surface_error > 0
    with pytest.raises(ShapeError, match="more than 20 mm"):
        rod(ELL, rectangle=(40, 6), up=Z, bend=19)
    assert rod(ELL, rectangle=(40, 6), up=(0, 1, 0), bend=4).surface_error > 0
