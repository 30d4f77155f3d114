import numpy as np
import pytest
from picture_scenes import ball, box, tube

from assembly.geometry.mesh import joined
from assembly.report.render.camera import looking
from assembly.report.render.palette import Paint
from assembly.report.render.section import fill_cut, inside_at_near_plane

SIZE = (400, 300)
AREA = (100 / 300) ** 2
"""mm² of one pixel of a picture 100 mm high."""


def cut(mesh, near, towards=(-1, 0, 0)):
    return inside_at_near_plane(mesh.vertices[mesh.faces], looking(towards, (0, 0, 0), 100, near), SIZE)


@pytest.mark.parametrize("depth", [-20.0, 0.0, 15.0, 31.0])
def test_a_ball_is_cut_in_a_circle(depth):
    inside = cut(ball(30, splits=5), depth)
    expected = np.pi * max(0.0, 30**2 - depth**2)  # closed form
    assert set(np.unique(inside)) <= {0, 1}
    assert inside.sum() * AREA == pytest.approx(expected, rel=5e-3)


def test_the_cut_lies_where_the_solid_is():
    inside = cut(box((200, 20, 10), (0, 12, 30)), 0.0)
    rows, columns = np.nonzero(inside)
    # closed form: seen from ahead, y left is to the right, 3 px per mm
    assert (columns.min(), columns.max() + 1) == (200 + 3 * 2, 200 + 3 * 22)
    assert (rows.min(), rows.max() + 1) == (150 - 3 * 35, 150 - 3 * 25)


def test_solids_that_run_into_each_other_stay_solid():
    inside = cut(joined([ball(20, (0, -8, 0)), ball(20, (0, 8, 0))]), 0.0)
    lens = 2 * (20**2 * np.arccos(8 / 20) - 8 * np.sqrt(20**2 - 8**2))  # two circular segments
    assert (inside == 2).sum() * AREA == pytest.approx(lens, rel=0.01)
    assert (inside < 0).sum() == 0


def test_a_hole_stays_empty():
    inside = cut(tube(10, 25, 80), 5.0, (0, 0, -1))
    assert inside[150, 200] == 0
    assert (inside == 1).sum() * AREA == pytest.approx(np.pi * (25**2 - 10**2), rel=0.01)


def test_a_solid_wider_than_the_picture_fills_it():
    assert (cut(box((10, 900, 900)), 0.0) == 1).all()


@pytest.mark.parametrize("way", [1, -1])
def test_a_cut_face_is_hatched_its_own_way_and_outlined(way):
    inside = np.zeros((80, 100), dtype=bool)
    inside[10:70, 20:90] = True
    colour = np.ones((80, 100, 3), dtype=np.float32)
    fill_cut(colour, inside, Paint((200, 100, 50), (0, 0, 0), way, 0.5), 1.0, 1.0)
    assert (colour[~inside] == 1).all()
    assert not colour[10, 20:90].any()
    assert not colour[10:70, 89].any()
    middle = colour[12:68, 22:88, 0]
    assert set(np.round(middle.ravel() * 255).astype(int)) == {200, 90}  # 45 % of the fill, 55 % of the black line
    rows, columns = np.nonzero(middle < 0.5)
    assert len(set((columns + way * rows) % 15)) == 1  # 45 degrees
    assert len(rows) == pytest.approx(middle.size / 15, rel=0.05)
