"""Pages made by hand, without a sweep, and that of a small demo that was swept."""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from records import AT
from small_machines import quiet

from assembly.api import page_content
from assembly.api.kept_runs import NO_RUN
from assembly.api.main_check import sweep
from assembly.api.page_content import PageWish, write_page
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.geometry.mesh import Mesh
from assembly.geometry.turns import quaternions
from assembly.kinematics.solver import solve
from assembly.model.reader import read_machine
from assembly.record import DriveEntry, MovingMachine, MovingPart, PoseGrid, SolvedPose
from assembly.report.page import Page

FILE = Path(__file__).resolve().parent.parent / "meshes" / "corner_case" / "corner_case.toml"
HOSTILE = {
    "markup": "<script>alert('x')</script>",
    "ends and remarks": "</script></style><!-- ]]> &amp; <img src=x onerror=alert(1)>",
    "quotes": "\"quoted\" 'single' `back` {{ 7 * 7 }} {% raw %}",
    "long": "x" * 300,
    "right to left": "שלום עולם",
    "emoji": "🛠️ bracket 👩‍🔧",
}
CUBE = Mesh(
    [[x, y, z] for x in (0, 10) for y in (0, 20) for z in (0, 30)],
    [
        [0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
        [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3],
    ],
)  # fmt: skip
TURN = (0.0, 0.0, 0.0, 1.0)


def moving(names=("arm", "post")):
    """Boxes, of which all but the last slide along x by the setting of the drive `push`."""
    settings, sliding = np.array([-5.0, 1.5, 8.0]), len(names) - 1
    places = np.array([[(5.0 + value, 10.0, 15.0, *TURN)] * sliding + [(0.0, 0.0, 0.0, *TURN)] for value in settings])
    return MovingMachine(
        name="Slider",
        drives={"push": DriveEntry(-5.0, 8.0, "mm")},
        reference_points=np.array([[5.0, 10.0, 15.0]] * sliding + [[0.0, 0.0, 0.0]]),
        parts=tuple(MovingPart(name, body, (("box", CUBE),), CUBE) for body, name in enumerate(names)),
        coarse_mm=0.0,
        grid=PoseGrid({"push": settings}, places, np.ones(3, dtype=bool), 0.2, 0.0121, AT, names[0]),
        solved=(SolvedPose(AT, places[0] + np.array([8.0, 0, 0, 0, 0, 0, 0])),),
        overlaps=(),
    )


def made_page(record, machine=None):
    """A page of ``record`` and nothing else."""
    return Page(record, machine or moving(), "swingroom sweep slider.toml", no_change="No earlier run was kept.")


def corner_page(path):
    """The page of the corner case, with smaller pictures and a coarser range; its sweep and its mechanism."""
    swept = sweep(read_machine(FILE), effort=Effort())
    with pytest.MonkeyPatch.context() as smaller:
        for name, value in (("PICTURE_SIZE", (640, 360)), ("CLOSE_UP_SIZE", (720, 480)), ("RANGE_CELLS", 8)):
            smaller.setattr(page_content, name, value)
        write_page(swept, PageWish("swingroom sweep it", 1), (None, NO_RUN), quiet, path)
    return SimpleNamespace(path=path, swept=swept, mechanism=swept.checked.mechanism)


def places_solved(mechanism, setting):
    """Where every body stands at one setting, as the page writes it."""
    posture = solve(mechanism, np.array([setting])).posture
    return np.concatenate([posture.centres[0], quaternions(posture.rotations)[0]], axis=-1)
