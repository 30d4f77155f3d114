"""Distances at checked settings, and which pairs are as far apart at every setting; closed forms of small machines."""

from functools import cache

import numpy as np
import pytest
from small_machines import quiet, read, slider

from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.narrow_phase.witness import Witnesses
from assembly.history import compare
from assembly.report.page.numbers import Numbers
from assembly.report.page.view_pairs import STRUCK, distances_data
from assembly.report.text.compare_text import changed_lines
from assembly.report.text.sweep_text import pair_row
from assembly.studies.moving import distance_grid as module
from assembly.studies.moving.distance_grid import distance_grid, round_settings
from assembly.studies.sweep.check import check
from assembly.studies.sweep.joint_ranges import JointsFound
from assembly.studies.sweep.sweep_record import sweep_record
from assembly.studies.sweep.whole_sweep import sweep_machine

TURNTABLE = """
format = 1
name = "Turntable"
facet_error = 0.2

[parts.bed]
fixed = true
shapes = [{{ name = "slab", box = [0, 0, -5], size = [200, 200, 10] }}]

[parts.plate]
shapes = [{{ name = "disc", rod = [[0, 0, 3], [0, 0, 9]], diameter = 80 }},
          {{ name = "lug", box = [40, 0, {lug}], size = [20, 20, 6] }}]

[parts.post]
fixed = true
shapes = [{{ name = "pin", rod = [[0, 55, 0], [0, 55, 60]], diameter = 6 }}]

[joints.axle]
pin = ["bed", "plate"]
at = [0, 0, 0]
along = [0, 0, 1]

[drives.spin]
turns = {{ axle = 1 }}
range = [-80, 80]

[clearance]
required = 1
"""


LONG = slider(low=-5.0, high=35.0)
NOSE = 'name = "nose", box = [0, 30, 0], size = '


@cache
def swept(text):
    """The record of a whole sweep."""
    return sweep_machine(read(text), Effort(), quiet)[1]


@cache
def checked(text):
    """Pairs that are decided and no more."""
    return check(read(text), Effort(decide_only=True, strikes_shown=False), quiet)


def grid_of(found, **limits):
    with pytest.MonkeyPatch.context() as changed:
        for name, value in limits.items():
            changed.setattr(module, name, value)
        witnesses = Witnesses(found.mechanism, found.pairs.solids, found.swept.collision_models)
        return distance_grid(found.mechanism, witnesses, found.found, quiet)


def test_the_gap_of_a_slider_is_what_is_left_at_every_setting_of_the_grid():
    """Closed form: 10 mm less the setting, and nothing once that is past 10 mm."""
    found = checked(LONG)
    grid, record = grid_of(found), sweep_record(found, JointsFound())
    distances = grid.distances[grid.pairs.index(("base", "sledge"))]
    wanted = np.maximum(0.0, 10.0 - grid.axes["push"])
    np.testing.assert_allclose(distances, wanted, atol=1e-9)
    assert (wanted == 0).any()
    assert (wanted > 0).any()
    coded = distances_data(record, grid, numbers := Numbers())
    values = np.frombuffer(b"".join(numbers._blocks), dtype="<u4").reshape(len(grid.pairs), -1)
    row = coded["pairs"].index(next(k for k, pair in enumerate(record.pairs) if pair.b == "sledge"))
    np.testing.assert_array_equal(values[row] == STRUCK, wanted <= 0)
    np.testing.assert_array_equal(values[row][wanted > 0], np.floor(100 * (wanted[wanted > 0] + 1e-6)))


def test_one_part_inside_the_other_is_no_distance():
    """A block of 6 mm goes into one of 20 mm: 17 mm of clearance at 0, none from 17 mm on, nor once it is within."""
    text = LONG.replace(f"{NOSE}[20, 20, 20]", f"{NOSE}[6, 6, 6]")
    assert text != LONG
    grid = grid_of(checked(text))
    distances = grid.distances[grid.pairs.index(("base", "sledge"))]
    wanted = np.maximum(0.0, 17.0 - grid.axes["push"])
    np.testing.assert_allclose(distances, wanted, atol=1e-9)
    assert (grid.axes["push"] > 24).any(), "the small block is swallowed there"


def test_the_grid_is_thinned_to_what_may_be_asked_and_keeps_both_ends():
    grid = grid_of(checked(LONG), MOST_QUERIES=2 * 3, MOST_PAIRS=2)
    assert len(grid.pairs) == 2
    assert grid.axes["push"].tolist() == [-5.0, 0.0, 35.0]


@pytest.mark.parametrize(
    ("low", "high", "most", "wanted"),
    [
        (-30.0, 30.0, 18, np.arange(-30.0, 31, 5)),
        (-7.3, 4.1, 14, [-7.3, *range(-7, 5), 4.1]),
        (0.0, 0.0, 9, [0.0]),
        (-0.02, 1.0, 4, [-0.02, 0.0, 0.5, 1.0]),
        (0.0, 3600.0, 20, np.arange(0.0, 3601, 200)),
    ],
)
def test_settings_are_round_and_both_ends_are_among_them(low, high, most, wanted):
    np.testing.assert_allclose(round_settings(low, high, most), wanted, atol=1e-12)


def constant(record):
    return {frozenset((pair.a, pair.b)): pair.constant for pair in record.pairs}


def test_a_gap_that_never_changes_is_told_at_every_setting():
    """A disc turns 3 mm above a bed; its lug comes no nearer to that, but passes a post (own model)."""
    record = swept(TURNTABLE.format(lug=6))
    told = constant(record)
    assert told[frozenset(("bed", "plate"))]
    assert not told[frozenset(("plate", "post"))]
    rows = {(pair.a, pair.b): pair_row(pair, record) for pair in record.pairs}
    assert rows["bed", "plate"][-1] == "every setting"
    assert rows["plate", "post"][-1] != "every setting"


def test_what_is_nearest_as_drawn_and_goes_away_is_not_called_constant():
    """The slider's range begins at 0, where its gap is 10 mm, and ends at -5, where it is 15."""
    record = swept(slider(low=-5.0, high=0.0))
    assert not constant(record)[frozenset(("base", "sledge"))]


def test_a_comparison_tells_it_too():
    text = TURNTABLE.format(lug=6)
    lower = text.replace("[0, 0, -5], size", "[0, 0, -5.5], size")
    found = compare(swept(text), swept(lower), shrank_mm=0.1)
    lines = [line.text for line in changed_lines(found, "better") if line.text.startswith("bed")]
    assert any("(disc)" in line and "at every setting" in line for line in lines)
