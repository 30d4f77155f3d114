"""The study of rods: what it says of a rod whose bolts twist against each other, by closed forms."""

import numpy as np
import pytest
from rod_machines import twisted_rod
from small_machines import read, slider

from assembly.clearance.proof import joint_search as searching
from assembly.clearance.proof.joint_search import joint_search
from assembly.kinematics.assembling import assemble
from assembly.kinematics.joint_motion import Lean, Span
from assembly.studies.sweep.joint_ranges import rod_rolls


def roll_of(text):
    (rod,) = rod_rolls(assemble(read(text)))
    return rod.entry


def test_twist_of_the_bolts_is_taken_from_the_roll():
    """Each end allows ±14 about its own bolt, so a twist of t leaves 28 - |t|: a little at both full locks (C14)."""
    rod = roll_of(twisted_rod(-20, 24))
    assert (rod.parts, rod.ends) == (("rod",), ("near", "far"))
    assert rod.free == pytest.approx(28 - 24, abs=1e-6)
    assert list(rod.at.values()) == [24.0]
    assert rod.verdict == "clear"


def test_one_roll_serves_all_where_the_bolts_twist_little():
    """Drawn as it is the rod leans by the twist at the far end only; rolled half of it back it has the most room."""
    rod = roll_of(twisted_rod(0, 20))
    # closed form: windows of ±14 about 0 (near) and about 0..20 (far): from 6 to 14
    assert (abs(rod.common_roll), rod.common_room) == (pytest.approx(10, abs=0.01), pytest.approx(4, abs=0.01))
    assert rod.left == pytest.approx(4, abs=0.01)


def test_ends_that_are_clocked_wrong_are_turned_back():
    """C14: both ends tilted the same way. The far end is 20 out, the bolts twist ±5: 28 - 25 is left, 23 could be."""
    rod = roll_of(twisted_rod(-5, 5, clocked=20))
    assert rod.free == pytest.approx(3, abs=1e-6)
    assert abs(rod.clocking) == pytest.approx(20, abs=0.01)
    assert rod.clocked_free == pytest.approx(23, abs=0.01)
    turned = [roll_of(twisted_rod(-5, 5, clocked=20 + turn)).free for turn in (-20, 20)]
    assert max(turned) == pytest.approx(rod.clocked_free, abs=0.01)


def test_rod_that_binds_fails_and_says_where():
    rod = roll_of(twisted_rod(-5, 30))
    assert rod.verdict == "fails"
    assert rod.free == pytest.approx(-2, abs=1e-6)
    assert list(rod.at.values()) == [30.0]


def test_rod_that_binds_at_rest_already_fails():
    assert roll_of(twisted_rod(-1, 1, clocked=28.5)).verdict == "fails"


def test_rod_whose_bolts_turn_together_must_roll_and_is_proven_to_serve():
    """No one roll serves ±30 of both bolts with ±14 of lean; rolling along it has 28 everywhere."""
    rod = roll_of(twisted_rod(-30, 30, near="carrier"))
    assert rod.common_room == pytest.approx(14 - 30, abs=0.01)
    assert rod.free == pytest.approx(28, abs=1e-6)
    assert rod.verdict == "clear"


def test_binding_between_the_settings_looked_at_is_found():
    """The bolts twist by 28.01 at the end of the range, which is left out of what is looked at: nearly served."""
    mechanism = assemble(read(twisted_rod(-1, 28.01)))
    search = joint_search(mechanism)
    search.seen = search.seen.take(np.flatnonzero(search.seen.settings[:, 0] < 27.5))
    (rod,) = rod_rolls(mechanism, search)
    assert rod.entry.verdict == "fails"
    (at,) = rod.entry.at.values()
    assert at > 28


def test_a_rod_whose_leans_are_not_bounded_in_the_cells_is_seen_to_be_called_clear(monkeypatch):
    """The bolts twist by 28.001 at the very end, .001 more than the rod has: no cell's centre shows it."""

    def proven():
        search = joint_search(mechanism)
        search.seen = search.seen.take(np.flatnonzero(search.seen.settings[:, 0] < 27.5))
        return rod_rolls(mechanism, search)[0].entry.verdict

    def at_centres(lean, motion, _):
        values = lean.values(motion.posture)
        return Span(values, values, np.ones_like(motion.half))

    mechanism = assemble(read(twisted_rod(-1, 28.001)))
    assert proven() == "undecided"
    monkeypatch.setattr(Lean, "span", at_centres)
    assert proven() == "clear"


def test_too_few_cells_leave_a_rod_undecided(monkeypatch):
    monkeypatch.setattr(searching, "MOST_CHILDREN", 1)
    assert roll_of(twisted_rod(-26, 26)).verdict == "undecided"


def test_machine_without_rods_has_none():
    assert rod_rolls(assemble(read(slider()))) == ()


def test_reversing_the_drive_reverses_the_roll():
    one, other = roll_of(twisted_rod(0, 20)), roll_of(twisted_rod(-20, 0))
    assert one.common_roll == pytest.approx(-other.common_roll, abs=0.01)
    assert other.free == pytest.approx(one.free, abs=1e-6)
