"""What ends the ways of drives: how it is closed in on, and that no way depends on others looked at with it."""

from math import acos, inf
from pathlib import Path

import numpy as np
import pytest
from stop_machines import beam_axle, table_beside_a_post

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.queries import bench
from assembly.clearance.proof.rolled_least import least_at_postures
from assembly.clearance.proof.solid_table import Boxes, stock_of
from assembly.clearance.region.run_out import WayEnds
from assembly.clearance.region.way_lots import WayLot
from assembly.clearance.region.ways import HAIR, Ways
from assembly.clearance.stops.stop_gap import first_below
from assembly.clearance.stops.stop_ways import other_drives_lattice
from assembly.kinematics.assembling import assemble
from assembly.model.reader import machine_from_text
from assembly.model.stop_solids import without_stops

HERE = Path(__file__).resolve().parent


def closed_in(figure, low, high):
    """The end, and at how many settings ``figure`` was looked at."""
    looked = []

    def looked_at(settings, numbers):
        looked.extend(settings)
        return np.array([figure(one) for one in settings])

    ends = np.array([low]), np.array([high])
    (found,) = first_below(looked_at, ends, (np.array([figure(low)]), np.array([figure(high)])))
    return found, len(looked)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_contact_is_closed_in_on_along_straight_lines_in_either_direction(sign):
    """Closed form: cos x falls to 0.9 at acos 0.9; 16 halvings of one degree would take 16 looks."""
    low, high = acos(0.9) - 0.011, acos(0.9) + 0.006
    found, looks = closed_in(lambda x: np.cos(x) - 0.9, sign * low, sign * high)
    assert found == pytest.approx(sign * acos(0.9), abs=(high - low) * 2.0**-16)
    assert looks <= 8


@pytest.mark.parametrize("jump", [0.001, 0.37, 0.999])
def test_a_contact_at_which_the_gap_jumps_is_closed_in_on_too(jump):
    """As where a flank is struck: nothing meets the stop just before."""
    found, looks = closed_in(lambda x: inf if x < jump else -1.0, 0.0, 1.0)
    assert 0 <= found - jump <= 2.0**-16
    assert looks <= 22


def test_settings_beside_zero_are_not_looked_at_twice():
    """Stops of two sides are found to leave ranges that differ by less than a thousandth."""
    lattice = other_drives_lattice({"tilt": (-30.000004, 30.0), "steer": (-40.0, 20.0)}, "steer")
    assert np.diff(lattice[:, 0]) == pytest.approx(np.full(8, 7.5), abs=0.01)
    assert (lattice[:, 0] == 0).sum() == 1
    assert len(other_drives_lattice({"tilt": (-10.0, 30.0), "steer": (0.0, 0.0)}, "steer")) == 9


@pytest.mark.parametrize(("kept", "clearance"), [((1.0, 0.0), 1.0 + HAIR), ((None, 0.0), 0.0)])
def test_what_ends_a_way_does_not_depend_on_those_that_are_looked_at_with_it(kept, clearance):
    """A top comes down beside a post that only a corner of it reaches: one way in five ends on the post."""
    bare = without_stops(machine_from_text(table_beside_a_post(), HERE)).widened
    mechanism, (down, turn) = assemble(bare), bare.drives.values()
    solid_table = stock_of(mechanism, gather_pairs(bare, mechanism.bodies).moving)
    others = np.zeros((5, 2))
    others[:, 1] = [-20.0, 4.9, 5.3, 5.6, turn.high]
    with bench(solid_table.solids, 1) as queries:

        def gone(rows):
            (ends,) = Ways(mechanism, solid_table, queries, *kept).run_out([WayLot(0, down.high, rows)])
            return ends

        together = gone(others)
        # Worked example, own model: the top is 15 mm above the post, whose surface may lie off its facets, and a hair
        # is kept beside what is required.
        clearance += bare.parts["post"].mesh.surface_error if clearance else 0.0
        on_post = [one.at[0] for one in together if one.names == ("post", "top")]
        assert on_post == pytest.approx([15.0 - clearance] * 3, abs=2e-4)
        assert [gone(others[row : row + 1]) for row in range(5)] == [[one] for one in together]
        assert gone(others[[3, 0]]) == [together[3], together[0]]


@pytest.mark.parametrize("kept", [(1.0, 0.0), (None, 0.0)])
def test_what_pairs_are_known_to_be_apart_where_a_way_ends_is_never_more_than_they_are(monkeypatch, kept):
    """Held against the distance as measured there, of rods that stand across their boxes."""
    bare = without_stops(machine_from_text(beam_axle(), HERE)).widened
    mechanism, (steer,) = assemble(bare), bare.drives.values()
    solid_table = stock_of(mechanism, gather_pairs(bare, mechanism.bodies).moving)
    seen, first = [], WayEnds.first

    def watched(ends, clear, short, known):
        table = ends.pair_table
        rows = [np.arange(len(clear))] * len(table.wholes)
        measured = least_at_postures(table, [whole.search for whole in table.wholes], short, rows)
        boxes = Boxes(mechanism, short.posture).every_gap(table.wholes)
        seen.extend((known(number), *own) for number, own in enumerate(zip(measured, boxes, strict=True)))
        return first(ends, clear, short, known)

    monkeypatch.setattr(WayEnds, "first", watched)
    with bench(solid_table.solids, 1) as queries:
        lots = [WayLot(0, end, np.zeros((1, 1))) for end in (steer.high, steer.low)]
        Ways(mechanism, solid_table, queries, *kept).run_out(lots)
    assert len(seen) == len(solid_table.searches)
    assert all((known <= measured + 1e-9).all() for known, measured, _ in seen)
    assert all((known >= boxes - 1e-9).all() for known, _, boxes in seen)
    assert any((known > boxes + 0.01).any() for known, _, boxes in seen)
