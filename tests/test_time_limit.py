"""The time limit holds in every stage, and what is known when it is over is told, never more than that.

Clocks are the test's own: one goes on by a step at each look, so that no test depends on how fast a machine is. What a
sweep that was cut short says is held against the same sweep run to its end, which knows more.
"""

from concurrent.futures import Future
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from clocks import Clock
from page_machines import moving
from rod_machines import twisted_rod
from small_machines import read, slider, trammel
from tries import first

import assembly
from assembly.api.page_content import time_for_page
from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.distance import CollisionModel, nearest
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof import cell_groups
from assembly.clearance.proof.cell_faces import faces
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.refiner import refine
from assembly.clearance.proof.roll_fan import fan_of, least_at_any_roll
from assembly.clearance.proof.solid_table import Boxes, SweptBoxes, stock_of
from assembly.cli import ExitStatus, main
from assembly.errors import TimeLimitError
from assembly.geometry.crossings import meetings
from assembly.geometry.shapes import box
from assembly.kinematics.assembling import assemble
from assembly.kinematics.cell_motion import bound_motion
from assembly.kinematics.solver import solve
from assembly.report.page.numbers import Numbers
from assembly.report.page.packed_solids import solids_data
from assembly.report.render.optional_picture import PICTURE_S, with_picture
from assembly.report.text.run_files import Files
from assembly.studies.sweep.whole_sweep import sweep_machine
from assembly.time_limit import (
    EXTRA_S,
    EXTRA_SHARE,
    check_time,
    extra_time,
    out_of_time,
    result_in_time,
    time_left,
    time_limit,
    untimed,
)

SLOW = trammel() + "[clearance]\nrequired = 43\n"  # least 43.35, close enough to need several cells
LUG = (Path(__file__).resolve().parent / "cases" / "rolling_rod_with_lug.toml").read_text(encoding="utf-8")
ROLLED = LUG.replace("[parts.pushrod]", '[parts.pushrod]\nroll = "some"').replace("need = 20", "need = 1")
MACHINES = {"slow": SLOW, "fails": slider(high=12.7), "rod": twisted_rod(-20, 20, limit=10.05), "roll": ROLLED}


def test_time_is_over_when_more_than_was_allowed_has_gone():
    clock = Clock()
    with time_limit(2.0, clock):
        clock.now = 2.0
        check_time()
        assert out_of_time() == ""
        clock.now = 2.1
        with pytest.raises(TimeLimitError, match="the time limit of 2 s was reached"):
            check_time()
        assert out_of_time() == "the time limit of 2 s was reached"
        with untimed():
            check_time()
    check_time()


@pytest.mark.parametrize(("outer", "inner", "holds"), [(5.0, 2.0, 2.0), (2.0, 5.0, 2.0), (3.0, None, 3.0)])
def test_of_two_limits_the_one_that_ends_sooner_holds(outer, inner, holds):
    clock = Clock()
    with time_limit(outer, clock), time_limit(inner):
        clock.now = holds + 0.1
        assert out_of_time() == f"the time limit of {holds:g} s was reached"
        clock.now = 0.0
    assert out_of_time() == ""


def test_what_needs_longer_than_is_left_is_not_begun():
    clock = Clock()
    with time_limit(10.0, clock):
        clock.now = 7.0
        check_time(3.0)
        with pytest.raises(TimeLimitError, match="the time limit of 10 s was reached"):
            check_time(3.1)
        clock.now = 10.0 - PICTURE_S + 0.1
        files = with_picture(Files(), pytest.fail, Path("picture.png"))
    assert files.picture_note == "none was drawn: the time limit of 10 s was reached"


def test_extra_time_is_given_once():
    clock = Clock()
    with time_limit(10.0, clock), extra_time(), extra_time():
        clock.now = 10.0 + EXTRA_S + 10 * EXTRA_SHARE
        check_time()
        clock.now += 0.01
        with pytest.raises(TimeLimitError):
            check_time()
    assert EXTRA_S < 1.0
    assert EXTRA_SHARE < 0.1


@pytest.mark.parametrize(("limit", "left"), [(10.0, 8.0), (100.0, 97.0)])
def test_time_is_set_aside_for_what_comes_after(limit, left):
    clock = Clock()
    with time_limit(limit, clock):
        with time_for_page():
            clock.now = left
            check_time()
            with time_limit(limit):
                clock.now = left + 0.1
                assert out_of_time() == f"the time limit of {limit:g} s was reached"
        check_time()


def test_a_worker_that_never_answers_is_waited_for_no_longer_than_there_is_time():
    done: Future[int] = Future()
    done.set_result(7)
    with time_limit(0.01, Clock(step=0.004)):
        assert result_in_time(done) == 7
        with pytest.raises(TimeLimitError):
            result_in_time(Future())


@cache
def made(name):
    return assemble(read(MACHINES[name]))


@pytest.mark.parametrize(
    "work",
    [
        lambda: read(SLOW),
        lambda: solve(made("slow"), np.array([[1.0]])),
        lambda: bound_motion(made("slow"), made("slow").at_rest, np.ones((1, 1))),
        lambda: CellGroups(made("slow")).of_blocks(),
        lambda: gather_pairs(made("slow").machine, made("slow").bodies),
        lambda: nearest(*[CollisionModel(SOLID)] * 2, np.eye(4), np.eye(4)),
        lambda: meetings(CUBE.vertices, CUBE.faces),
        lambda: faces(np.array([[0.0], [2.0]]), np.ones((2, 1)), np.array([4.0])),
        lambda: refine([object()]),
        lambda: Boxes(made("slow"), made("slow").at_rest.posture).of(PAIR.a),
        lambda: SweptBoxes(made("slow"), MOTION).displacement(PAIR.a),
        lambda: least_at_any_roll(made("roll"), None, ROLLING, made("roll").at_rest.posture, *np.zeros((2, 1))),
        lambda: fan_of(made("roll"), {}, made("roll").at_rest.posture, ROLLING.rolls),
        lambda: solids_data(moving(), Numbers()),
        lambda: packed().packed(),
    ],
    ids=[
        *("read", "solve", "bound motion", "prove motion", "pairs", "distance", "meetings", "faces", "refine"),
        *("boxes", "swept boxes", "any roll", "fan", "solids of a page", "numbers of a page"),
    ],
)
def test_every_long_stage_looks_at_the_clock(work):
    clock = Clock()
    with time_limit(1.0, clock):
        clock.now = 2.0
        with pytest.raises(TimeLimitError):
            work()


def searches(name):
    machine = made(name).machine
    return stock_of(made(name), gather_pairs(machine, made(name).bodies)).searches


def packed():
    numbers = Numbers()
    numbers.add("u8", np.zeros(4))
    return numbers


PAIR = searches("slow")[0]
ROLLING = next(search for search in searches("roll") if len(search.rolls) == 1)
MOTION = bound_motion(made("slow"), made("slow").at_rest, np.ones((1, 1)))
CUBE = box((0, 0, 0), (1, 1, 1))
SOLID = next(iter(gather_pairs(made("slow").machine, made("slow").bodies).solids.values()))


def test_many_cells_are_bounded_as_few_are():
    mechanism = made("slow")
    settings = np.linspace(-5, 5, 300)[:, None]
    half = np.full((300, 1), 0.1)
    whole, some = solve(mechanism, settings), np.array([0, 255, 256, 299])
    found, alone = bound_motion(mechanism, whole, half), bound_motion(mechanism, whole.take(some), half[some])
    assert len(found) == 300
    for name in ("certified", "shift_rest", "turn_rest", "shift_box"):
        assert np.array_equal(getattr(found, name)[some], getattr(alone, name))


@cache
def whole(name):
    """The record of a sweep that is run to its end, and how often it looked at the clock."""
    clock = Clock(step=1.0)
    with time_limit(1e9, clock):
        _, record = sweep_machine(read(MACHINES[name]), Effort(), lambda *_: None)
    return record, clock.looks


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize("share", first([0.45, 0.8, 0.05, 0.25, 0.65, 0.95], 2))
def test_sweep_cut_short_at_any_look_tells_no_more_than_is_so(name, share):
    full, looks = whole(name)
    machine, allowed = read(MACHINES[name]), max(1.0, share * looks)
    clock, told = Clock(), []
    with time_limit(allowed, clock):

        def at_sweep(stage, _done, _total):
            told.append(stage)
            clock.step = 1.0 if "sweep" in told else 0.0

        _, record = sweep_machine(machine, Effort(), at_sweep)
    assert clock.looks <= looks + 50
    assert record.work.stopped in ("", f"the time limit of {allowed:g} s was reached")
    assert record.work.stopped or record.verdict == full.verdict
    assert record.verdict in ("undecided", full.verdict)
    assert record.verdict == full.verdict or "the time limit of" in record.reason
    assert {(pair.a, pair.b) for pair in record.pairs} == {(pair.a, pair.b) for pair in full.pairs}
    truth = {(pair.a, pair.b): pair for pair in full.pairs}
    for pair in record.pairs:
        known = truth[pair.a, pair.b]
        assert pair.verdict in ("undecided", known.verdict)
        assert pair.proven_mm is None or pair.proven_mm <= known.least_mm + 1e-9
        assert pair.least_mm is None or known.proven_mm is None or pair.least_mm >= known.proven_mm - 1e-9
    limited = {joint.name: joint.verdict for joint in full.joints}
    assert {joint.name for joint in record.joints} == limited.keys()
    assert all(joint.verdict in (None, "undecided", limited[joint.name]) for joint in record.joints)
    assert len(record.rods) == len(full.rods)


@pytest.mark.parametrize("allowed", first([264.0, 236.0, 285.0], 1))
def test_no_cells_are_made_once_the_time_is_over(monkeypatch, allowed):
    """The cells of both drives are made first, then those of pairs that one drive moves: the time ends in between."""
    clock, made = Clock(step=1.0), []
    real = cell_groups.cells_over

    def noted(mechanism, *how):
        made.append(time_left())
        return real(mechanism, *how)

    monkeypatch.setattr(cell_groups, "cells_over", noted)
    starter = read((Path(assembly.__file__).parent / "starter" / "arm_and_crank.toml").read_text(encoding="utf-8"))
    with time_limit(allowed, clock):
        _, record = sweep_machine(starter, Effort(), lambda *_: None)
    assert (record.verdict, record.work.stopped) == ("undecided", f"the time limit of {allowed:g} s was reached")
    assert made
    assert None not in made  # so what makes them looks at the clock


@pytest.mark.parametrize("asked", first([0, 5, 8], 2))
def test_a_pair_that_time_left_without_a_bound_is_not_clear(monkeypatch, asked):
    """It has no cells that keep less than is required, and its bodies' cells are made: it was told CLEAR."""
    displacement, times = SweptBoxes.displacement, []

    def late(self, side):
        times.append(side)
        if len(times) > asked:
            raise TimeLimitError.after(1.0)
        return displacement(self, side)

    monkeypatch.setattr(SweptBoxes, "displacement", late)
    starter = read((Path(assembly.__file__).parent / "starter" / "arm_and_crank.toml").read_text(encoding="utf-8"))
    _, record = sweep_machine(starter, Effort(), lambda *_: None)
    moving = [pair for pair in record.pairs if pair.verdict == "clear"]
    assert all(pair.proven_mm is not None and pair.proven_mm >= pair.required_mm for pair in moving)
    assert {pair.why for pair in record.pairs if pair not in moving} == {"the time limit of 1 s was reached"}


def test_joints_that_were_not_looked_at_for_long_enough_are_undecided_and_say_why():
    clock = Clock()
    with time_limit(1.0, clock):
        _, record = sweep_machine(read(MACHINES["rod"]), Effort(), clock.at("joints", 2.0))
    assert record.verdict == "undecided"
    assert record.work.stopped == "the time limit of 1 s was reached"
    assert record.reason.endswith("(the time limit of 1 s was reached)")


def test_cures_are_left_off_and_the_verdict_stays():
    clock = Clock()
    with time_limit(1.0, clock):
        _, record = sweep_machine(read(MACHINES["fails"]), Effort(), clock.at("cures", 2.0))
    full, _ = whole("fails")
    assert (record.verdict, record.reason) == (full.verdict, full.reason)
    assert record.work.stopped == "the time limit of 1 s was reached"
    assert any(pair.cure or pair.clear_within for pair in full.pairs)
    assert not any(pair.cure or pair.clear_within for pair in record.pairs)


@pytest.mark.parametrize(
    "command",
    ["sweep", "page", "map", "range", "stop", "loads", "measures", "inspect", "pose", "export", "helps", "propose"],
)
def test_a_command_whose_time_is_over_ends_undecided_in_lines(command, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    load = '[loads.push]\nforces = [{ on = "lug", at = [0, 0, 0], newtons = [1, 0, 0] }]\n'
    marked = "[dimensions]\nhigh = { value = 20, may_be = [10, 30] }\n"
    text = slider(extra=marked).replace("[0, 0, 0], size = [20, 20, 20]", "[0, 0, 0], size = [20, 20, 'high']")
    measure = '[measures.far]\ncoordinate = { on = "lug", at = [0, 0, 0] }\nalong = [0, 1, 0]\nmost = 90\n'
    Path("slider.toml").write_text(text + load + measure, encoding="utf-8")
    extra = ["--worst"] if command == "loads" else []
    assert main([command, "slider.toml", "--time-limit", "1e-9", *extra]) == ExitStatus.UNDECIDED
    said = capsys.readouterr()
    assert "the time limit of 1e-09 s was reached" in " ".join((said.out + said.err).split())
    assert "Traceback" not in said.err
    assert not list(tmp_path.rglob("*.part"))
