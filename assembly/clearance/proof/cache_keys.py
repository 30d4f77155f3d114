"""A key for each pair over everything that its result depends on, as far as the machine goes.

That is both solids as the pair sees them, the clearance it must keep, the bodies that carry it, all equations of the
independent groups that these belong to, all drives with their ranges, and whether and how near the sweep closes in.
Names of parts do not count. What the program is and on which machine it runs is added by who keeps the results.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any, Protocol

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Exclusion, Pairs
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.kinematics.bodies import joint_ends
from assembly.kinematics.mechanism import Mechanism, Submechanism
from assembly.kinematics.reduced import submechanism
from assembly.kinematics.rod_roll import RodEndOfRod, rods_of
from assembly.kinematics.roll_columns import roll_name
from assembly.model.machine import Part


class _Hash(Protocol):
    def update(self, data: bytes, /) -> None: ...


def pair_keys(mechanism: Mechanism, pairs: Pairs, effort: Effort) -> list[str]:
    """The key of every checked pair, in their order."""
    near = effort.bracket_mm, effort.bracket_share, None if effort.decide_only else effort.interest_mm
    groups = _Groups((near, _drives(mechanism)))
    parts = {name: _part(part) for name, part in mechanism.machine.parts.items()}
    body_of = mechanism.bodies.body_of

    def key(pair: CheckedPair) -> str:
        reduced = submechanism(mechanism, body_of[pair.a], body_of[pair.b])
        ends = reduced.body(body_of[pair.a]), reduced.body(body_of[pair.b])
        solids = [(parts[exclusion.part], _left_out(exclusion)) for exclusion in (pair.trim_a, pair.trim_b)]
        motion, rolls = groups.of(reduced)
        own = [roll for bodies, roll in rolls if bodies.intersection(ends)]
        return digest_of((motion, ends, solids, pair.required, pair.rigidly_coupled, own))

    return [key(pair) for pair in pairs.checked]


def digest_of(value: object) -> str:
    """SHA-256 of a value made of numbers, texts, arrays, dataclasses and collections of them. TypeError on others."""
    digest = hashlib.sha256()
    _feed(digest, value)
    return digest.hexdigest()


Roll = tuple[frozenset[int], object]
"""The bodies that an idle roll turns, and what decides how it is judged."""


class _Groups:
    """What decides where the bodies of a pair go: no more than the equations of the groups that they belong to.

    The pair is searched in the machine reduced to these, and what is found of it is told in the settings of all drives.
    """

    def __init__(self, asked: object) -> None:
        """``asked``: what decides of all pairs how they are searched and told."""
        self._asked, self._known = asked, dict[bytes, tuple[str, list[Roll]]]()

    def of(self, reduced: Submechanism) -> tuple[str, list[Roll]]:
        """A digest of the motion and of what is asked of all pairs, and the rolls, of a reduced machine."""
        key = reduced.bodies.tobytes()
        if key not in self._known:
            own = reduced.mechanism
            self._known[key] = digest_of((motion_of(own), reduced.drives, self._asked)), rolls_of(own)
        return self._known[key]


def _drives(mechanism: Mechanism) -> object:
    """All drives: results have a value of each, and regions span the ranges of those that do not move a pair."""
    return [(drive.name, drive.kind, drive.low, drive.high) for drive in mechanism.machine.drives.values()]


def motion_of(mechanism: Mechanism) -> object:
    """All that decides where bodies go, and what the results say of it: by number, not by the names of parts."""
    drives = _drives(mechanism)
    equations, system = mechanism.equations, mechanism.system
    home = mechanism.home.centres, mechanism.home.rotations
    ends = joint_ends(mechanism.machine, mechanism.bodies)
    own = equations.families, equations.scale, system.chosen, system.blocks, mechanism.bodies.centres, home, drives
    return ends, own


def rolls_of(mechanism: Mechanism) -> list[Roll]:
    """Of each idle roll the bodies that roll, and what decides how they are judged: the rule, the line and the ends.

    Results name the column of a roll, so the name is part of it.
    """
    ends: dict[int, list[object]] = {rod.number: [_end(end) for end in rod.ends] for rod in rods_of(mechanism)}
    return [
        (
            frozenset(roll.bodies),
            (roll_name(mechanism.bodies, roll), str(roll.rule), roll.axis, roll.at, ends.get(number, [])),
        )
        for number, roll in enumerate(mechanism.idle)
    ]


def _end(end: RodEndOfRod) -> object:
    return end.lean.eye, end.lean.bolt, end.lean.bodies, end.limit, end.body


def _part(part: Part) -> str:
    return digest_of([(shape.name, shape.seats, shape.mesh, shape.round_about) for shape in part.shapes])


def _left_out(exclusion: Exclusion) -> object:
    return sorted(exclusion.joints), exclusion.balls


def _feed(digest: _Hash, value: Any) -> None:
    """Each value with its kind and its length, so that no two values are written alike."""
    if isinstance(value, np.ndarray):
        digest.update(f"array {value.dtype.str} {value.shape}:".encode())
        digest.update(np.ascontiguousarray(value).tobytes())
    elif is_dataclass(value):
        digest.update(f"{type(value).__name__}:".encode())
        _feed(digest, [getattr(value, field.name) for field in fields(value)])
    elif isinstance(value, Mapping):
        _feed(digest, list(value.items()))
    elif isinstance(value, list | tuple):
        digest.update(f"{len(value)} items:".encode())
        for item in value:
            _feed(digest, item)
    elif value is None or isinstance(value, str | int | float | np.integer | np.floating):
        text = repr(value)
        digest.update(f"{type(value).__name__} {len(text)}:{text}".encode())
    else:
        raise TypeError(f"no digest is known for a {type(value).__name__}")
