"""Joints and drives: from tables to values."""

from __future__ import annotations

from collections.abc import Mapping
from math import isnan, radians, sin

import numpy as np

from assembly.model.fault_list import FaultLog, listed, shown
from assembly.model.file_tables import (
    BallTable,
    CylindricalTable,
    DriveTable,
    FixedJointTable,
    JointTable,
    PinTable,
    SlideTable,
    UniversalTable,
)
from assembly.model.limits import read_lean, read_limits
from assembly.model.load_reader import read_rating
from assembly.model.machine import Drive, DriveKind, Joint, JointKind, RatedForce, Vector
from assembly.model.play_reader import read_play
from assembly.model.positions import Place
from assembly.model.quantities_read import LOST, Points
from assembly.model.reading import Bench, OwnPoints
from assembly.model.schema import checked_table
from assembly.model.seats import left_to_program
from assembly.model.ties import tie_of

_PARALLEL = sin(radians(1))

_MOVED_BY = {
    DriveKind.TURNS: (JointKind.PIN, JointKind.CYLINDRICAL),
    DriveKind.SLIDES: (JointKind.SLIDE, JointKind.CYLINDRICAL),
}

FARTHEST = {
    DriveKind.TURNS: (3600.0, "degrees, ten whole turns,"),
    DriveKind.SLIDES: (1e5, "mm, a hundred metres,"),
}
"""How far a drive, and a joint that it moves, may go either way from rest, and that in words: nobody builds more, and
a sweep would never end."""


def read_joint(name: str, table: JointTable, own: Mapping[str, OwnPoints], bench: Bench) -> Joint | None:
    """One joint of the file, or None with its faults noted. ``own`` holds every part's own copies of points."""
    log, place, tie = bench.log, ("joints", name), tie_of(table)
    before = log.marks
    shared, first, second = bench.points.known, own.get(tie.first, {}), own.get(tie.second, {})
    views = _Views(
        drawn=bench.points.with_own(shared, first, second),
        first=bench.points.with_own(first, shared, second),
        second=bench.points.with_own(second, shared, first),
    )
    at_first, at_second = _places(table, views, place)
    lines = _lines(table, views, place, log)
    lean, limiter = read_lean(table, place, bench) if isinstance(table, BallTable) else (None, "")
    turn, travel = read_limits(table, place, bench)
    joint = Joint(
        name=name,
        kind=tie.kind,
        first=tie.first,
        second=tie.second,
        at_first=at_first,
        at_second=at_second,
        along=lines.get("along"),
        along_second=lines.get("along_second"),
        seat=0.0 if left_to_program(table, bench) else bench.figures.amount(table.seat_radius, (*place, "seat_radius")),
        bolt=lines.get("bolt"),
        misalignment=lean,
        eye=lines.get("eye"),
        limiter=limiter,
        turn_limit=turn,
        travel_limit=travel,
        ratings=_ratings(table, place, bench),
        play=read_play(table, tie.kind, place, bench),
    )
    return joint if log.marks == before else None


class _Views:
    """The points as the drawing, the first part and the second part have them."""

    def __init__(self, drawn: Points, first: Points, second: Points) -> None:
        self.drawn, self.first, self.second = drawn, first, second


def _places(table: JointTable, views: _Views, place: Place) -> tuple[Vector, Vector]:
    at = getattr(table, "at", None)
    if at is None:
        if table.seat_radius != 0.0:
            log = views.drawn.figures.log
            log.add((*place, "seat_radius"), "a seat needs a place to lie round", "give the joint `at`")
        return (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)
    first = views.first.point(at, (*place, "at"))
    if any(map(isnan, first)):
        return LOST, LOST
    return first, views.second.point(at, (*place, "at"))


def _lines(table: JointTable, views: _Views, place: Place, log: FaultLog) -> dict[str, Vector | None]:
    """The directions that a kind of joint has: ``along``, ``along_second``, ``bolt`` and ``eye``."""
    if isinstance(table, UniversalTable):
        first = views.first.direction(table.axes[0], (*place, "axes", 0))
        second = views.second.direction(table.axes[1], (*place, "axes", 1))
        if np.linalg.norm(np.cross(first, second)) < _PARALLEL:
            log.add((*place, "axes"), "the two axes are parallel", "a universal joint has crossed axes")
        return {"along": first, "along_second": second}
    if isinstance(table, BallTable):
        return _bolt_and_eye(table, views, place, log)
    if isinstance(table, PinTable | SlideTable | CylindricalTable):
        return {"along": views.drawn.direction(table.along, (*place, "along"))}
    return {}


def _bolt_and_eye(table: BallTable, views: _Views, place: Place, log: FaultLog) -> dict[str, Vector | None]:
    bolt = None if table.bolt is None else views.second.direction(table.bolt, (*place, "bolt"))
    eye = None if table.eye is None else views.first.direction(table.eye, (*place, "eye"))
    if eye is not None and table.bolt is None:
        log.add((*place, "eye"), "the eye's line is given, but no bolt for it to lean against", "give `bolt` as well")
    return {"bolt": bolt, "eye": eye}


def _ratings(table: JointTable, place: Place, bench: Bench) -> tuple[tuple[RatedForce, float], ...]:
    given = {
        RatedForce.WHOLE: ("rating", table.rating),
        RatedForce.RADIAL: ("radial_rating", table.radial_rating),
        RatedForce.AXIAL: ("axial_rating", table.axial_rating),
    }
    ratings = []
    for of, (key, number) in given.items():
        if number is not None:
            where = (*place, key)
            ratings.append((of, read_rating(number, where, bench)))
            _check_rated(table, of, where, bench.log)
    return tuple(ratings)


def _check_rated(table: JointTable, of: RatedForce, place: Place, log: FaultLog) -> None:
    """A rating must be of a force that can be reported."""
    lined = isinstance(table, PinTable | SlideTable | CylindricalTable) or getattr(table, "bolt", None) is not None
    if isinstance(table, FixedJointTable):
        log.add(
            place,
            "welded or bolted parts are one body here, so the force between them is not known",
            "leave the rating out",
        )
    elif of is not RatedForce.WHOLE and not lined:
        hint = "give a ball joint its `bolt`, or rate the whole force by `rating`"
        log.add(place, "the joint has no line that this rating could be told by", hint)
    elif of is RatedForce.AXIAL and not isinstance(table, PinTable | BallTable):
        log.add(place, "the joint moves along its line, so it carries nothing that way", "leave the rating out")


def read_drive(name: str, raw: object, bench: Bench) -> Drive | None:
    """One drive of the file, or None with its faults noted."""
    log, place = bench.log, ("drives", name)
    before = log.marks
    log.check_name(name, "drive", place)
    table = checked_table(DriveTable, raw, place, log)
    if table is None:
        return None
    given = {kind: getattr(table, kind) for kind in DriveKind if getattr(table, kind) is not None}
    if len(given) != 1:
        fault = "both turns and slides are given" if given else "neither turns nor slides is given"
        log.add(place, fault, "a drive has one of them")
        return None
    kind, given_ratios = next(iter(given.items()))
    ratios = {joint: bench.figures.coordinate(ratio, (*place, kind, joint)) for joint, ratio in given_ratios.items()}
    if not ratios:
        log.add((*place, kind), "the drive moves no joint", "name one joint and its ratio")
    for joint, ratio in ratios.items():
        _check_driven(joint, ratio, kind, (*place, kind, joint), bench)
    low, high = (bench.figures.coordinate(each, (*place, "range", k)) for k, each in enumerate(table.range))
    _check_range(low, high, (*place, "range"), log)
    _check_reach(kind, (low, high), (*place, "range"), log)
    beyond = _beyond(table, low, high, place, bench)
    if beyond is not None:
        _check_reach(kind, beyond, (*place, "beyond"), log)
    if log.marks == before:
        for joint, ratio in ratios.items():
            _check_reach(kind, (ratio * low, ratio * high), (*place, kind, joint), log, f"{shown(joint)} is moved")
    return Drive(name, kind, ratios, low, high, beyond) if log.marks == before else None


def _beyond(table: DriveTable, low: float, high: float, place: Place, bench: Bench) -> tuple[float, float] | None:
    if table.beyond is None:
        return None
    least, most = (bench.figures.coordinate(each, (*place, "beyond", k)) for k, each in enumerate(table.beyond))
    if least > low or most < high:
        told = f"`beyond` from {least:g} to {most:g} does not hold the range from {low:g} to {high:g}"
        bench.log.add((*place, "beyond"), told, "write [lowest, highest], as far out as limits are to be sought")
    return least, most


def _check_driven(joint: str, ratio: float, kind: DriveKind, place: Place, bench: Bench) -> None:
    if ratio == 0:
        bench.log.add(place, "a ratio of 0 moves nothing", "give how far the joint moves for a setting of 1")
    if not bench.log.knows(joint, bench.ties, "joint", place):
        return
    tie = bench.ties[joint]
    if tie is not None and tie.kind not in _MOVED_BY[kind]:
        able = [name for name, other in bench.ties.items() if other and other.kind in _MOVED_BY[kind]]
        hint = f"joints that can: {listed(able)}" if able else "this file has no joint that can"
        bench.log.add(place, f"{shown(joint)} is a {tie.kind} joint, which no drive of `{kind}` can move", hint)


def _check_range(low: float, high: float, place: Place, log: FaultLog) -> None:
    if low >= high:
        log.add(place, f"the range from {low:g} to {high:g} is empty or reversed", "write [lowest, highest]")
    elif low > 0 or high < 0:
        hint = "the machine is drawn with all drives at 0"
        log.add(place, f"the range from {low:g} to {high:g} does not contain 0", hint)


def _check_reach(
    kind: DriveKind, ends: tuple[float, float], place: Place, log: FaultLog, what: str = "the drive goes"
) -> None:
    """What goes from the one of ``ends`` to the other must stay within reason."""
    farthest, words = FARTHEST[kind]
    end = max(ends, key=abs)
    if abs(end) > farthest:
        hint = f"{farthest:g} {words} either way is the most"
        log.add(place, f"{what} to {end:g} {words.split(',')[0]}, which is beyond reason", hint)
