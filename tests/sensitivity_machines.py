"""For the derivatives: figures at any setting, their slopes, and the same by putting machines together anew."""

from dataclasses import replace
from pathlib import Path

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.distance import CollisionModel, nearest
from assembly.clearance.narrow_phase.overlap import overlap_at
from assembly.clearance.narrow_phase.pair_result import Effort, PairResult, Verdict
from assembly.clearance.sensitivity.change import change_of
from assembly.clearance.sensitivity.derivatives import slopes_of
from assembly.clearance.sensitivity.governing import Governing
from assembly.clearance.sensitivity.places import MeasuredPlace, Reserve
from assembly.kinematics.assembling import assemble
from assembly.kinematics.joint_motion import PinTurn, motions_of
from assembly.kinematics.roll_columns import with_rolls
from assembly.kinematics.solver import solve
from assembly.model.parameters import with_number
from assembly.model.perturbed import Perturbations
from assembly.model.reader import machine_from_text

HERE = Path(__file__).resolve().parent
ALIKE = Effort(bracket_mm=1e-9, bracket_share=0.0)


def read(text):
    return machine_from_text(text, HERE)


def rolled(machine):
    """The machine put together, with a column of settings for every roll that is free."""
    mechanism = assemble(machine)
    return with_rolls(mechanism, [n for n, roll in enumerate(mechanism.idle) if not roll.clamped])


def setting_of(mechanism, at):
    return np.array([at.get(name, 0.0) for name in mechanism.machine.drives])


def pair_places(mechanism, a, b, at, *, elsewhere=False):
    """The places of two parts at one setting, by names of drives and rolls; those ``elsewhere`` as near, too."""
    pairs, setting = gather_pairs(mechanism.machine, mechanism.bodies), setting_of(mechanism, at)
    pair = next(pair for pair in pairs.checked if {pair.a, pair.b} == {a, b})
    models = [CollisionModel(pairs.solids[trim]) for trim in (pair.trim_a, pair.trim_b)]
    posture = solve(mechanism, setting[None]).posture
    places = [mechanism.world_from_rest(posture, part)[0] for part in (pair.a, pair.b)]
    least = nearest(*models, *places).distance
    overlap = overlap_at(*models, *places, tuple(setting)) if least <= 0 else None
    drives, names = len(setting) - len(mechanism.rolls), tuple(mechanism.machine.drives)
    result = PairResult(pair, least, tuple(setting), None, Verdict.FAILS, "", overlap=overlap, rolls=names[drives:])
    (found,) = Governing(mechanism, pairs.solids, ALIKE, {}).places([result])
    return [place for place in found if elsewhere or np.array_equal(place.settings, setting)]


def reserve_place(mechanism, joint, at, *, downward=False, motion=None):
    """What a joint keeps of a limit at one setting."""
    drawn = next(
        one for one in motions_of(mechanism.machine.joints[joint], mechanism.bodies) if motion in (None, one.name)
    )
    setting = setting_of(mechanism, at)
    value = float(drawn.values(solve(mechanism, setting[None]).posture)[0])
    figure = Reserve(joint, drawn.name, downward, value, drawn if isinstance(drawn, PinTurn) else None)
    return MeasuredPlace(figure, setting)


def slopes_at(mechanism, places, only=None):
    """Of each place, the slope up and down over every number of the file, or those named alone, by its name."""
    perturbations = Perturbations(mechanism.machine)
    wanted = [one for one in perturbations.parameters if only is None or one.name in only]
    changes = [change_of(mechanism, perturbations, parameter) for parameter in wanted]
    names = [change.parameter.name for change in changes]
    return [
        dict(zip(names, zip(one.up.tolist(), one.down.tolist(), strict=True), strict=True))
        for one in slopes_of(mechanism, places, changes)
    ]


def mean(slopes):
    """The least of several places that govern alike, where both ways agree."""
    up = {name: min(one[name][0] for one in slopes) for name in slopes[0]}
    down = {name: max(one[name][1] for one in slopes) for name in slopes[0]}
    return {name: (up[name] + down[name]) / 2 for name in up}


def shifted(setting, before, after):
    """The setting with what stands at an end of a drive's range moved as that end is."""
    moved = setting.copy()
    drives = zip(before.machine.drives.values(), after.machine.drives.values(), strict=True)
    for column, (old, new) in enumerate(drives):
        for was, now in ((old.low, new.low), (old.high, new.high)):
            if abs(setting[column] - was) < 1e-6:
                moved[column] += now - was
    return moved


def differenced(machine, figures, parameter, step):
    """Central differences of ``figures`` of a mechanism, over machines that are read and put together anew."""
    up, down = (rolled(with_number(machine, parameter.place, parameter.value + way)) for way in (step, -step))
    return [(figure(up) - figure(down)) / (2 * step) for figure in figures]


def _trimmed(mechanism, wanted):
    """A pair of the same two parts, and both of them as it sees them; no other pair's parts are cut."""
    machine, names = mechanism.machine, (wanted.a, wanted.b)
    pairs = gather_pairs(replace(machine, parts={name: machine.parts[name] for name in names}), mechanism.bodies)
    (pair,) = pairs.checked
    return pair, [pairs.solids[trim] for trim in (pair.trim_a, pair.trim_b)]


def gap_anew(before, place):
    """A figure: the room of the two shapes of ``place`` in a machine that was put together anew."""

    def figure(mechanism):
        setting = shifted(place.settings, before, mechanism)
        solved = solve(mechanism, setting[None])
        assert solved.reached[0]
        pair, solids = _trimmed(mechanism, place.pair)
        shapes = (place.a.shape.name, place.b.shape.name)
        models = [
            next(piece for piece in CollisionModel(solid).pieces if piece.solid.shapes[0] == shape)
            for solid, shape in zip(solids, shapes, strict=True)
        ]
        first, second = (mechanism.world_from_rest(solved.posture, part)[0].copy() for part in (pair.a, pair.b))
        second[:3, 3] += place.apart
        return nearest(*models, first, second).distance - pair.required

    return figure
