"""Wheels on their road in the whole machine: what only all parts, joints and drives together can show."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from math import dist

from assembly.model.fault_list import listed, shown
from assembly.model.machine import Drive, Joint, JointKind, Part
from assembly.model.positions import Place
from assembly.model.reading import Bench
from assembly.model.twins import OtherSide
from assembly.model.wheel import (
    CONTACTS,
    OF_PAIR,
    OF_PAIR_AND_REAR,
    Kingpin,
    Road,
    Wheel,
    Wheels,
    WheelWord,
    figures_of_wheels,
)
from assembly.model.wheel_reader import RunningRead, check_setting, wheels_with_twins

LEAST_BREADTH = 1.0
"""mm: three contacts no farther from one line are taken to lie on one."""
SAME_PLACE = 0.01
"""mm: a joint nearer to a point of a kingpin sits there."""


def wheels_in_place(
    running: RunningRead,
    parts: Mapping[str, Part],
    joints: Mapping[str, Joint],
    drives: Mapping[str, Drive],
    other_side: OtherSide,
) -> Wheels:
    """All wheels, those of the other side too, on their road; raises every fault of theirs."""
    bench, read, road = other_side.bench, running.wheels, running.road
    wheels = wheels_with_twins(read, other_side)
    bench.log.raise_faults()
    rigid = _rigid(parts, joints)
    for name, one in wheels.items():
        place: Place = ("wheels", name if name in read else bench.mirror.other_side(name))
        if one.kingpin is not None:
            _check_kingpin(one, one.kingpin, rigid, joints, (*place, "kingpin"), bench)
        for limit in one.limits:
            check_setting(limit.at or {}, drives, (*place, "limits", limit.figure, "at"), bench)
    for limit in road.limits:
        check_setting(limit.at or {}, drives, ("road", "limits", limit.figure, "at"), bench)
    made = Wheels(wheels, _standing(wheels, road, bench))
    _check_limits(made, bench)
    if road.toe_wanted is not None and not made.pairs:
        hint = "declare a left wheel and a right one beside it"
        bench.log.add(("road", "toe_wanted"), "no left and right wheel make a pair whose toe could be set", hint)
    bench.log.raise_faults()
    return made


def wheels_read_again(running: RunningRead, other_side: OtherSide, rests_on: tuple[str, ...]) -> Wheels:
    """The wheels of a file that was checked before, with other numbers; ``rests_on`` as it then was."""
    return Wheels(wheels_with_twins(running.wheels, other_side), replace(running.road, rests_on=rests_on))


def _check_limits(wheels: Wheels, bench: Bench) -> None:
    """A limit of the road that no figure of these wheels is held to would be kept by every machine."""
    words = {word for word, _ in figures_of_wheels(wheels)}
    for limit in wheels.road.limits:
        if limit.figure not in words:
            told = f"no wheels of this file have {shown(str(limit.figure))}, so that this limit holds nothing"
            bench.log.add(("road", "limits", limit.figure), told, _needed(limit.figure))


def _needed(word: WheelWord) -> str:
    """What a figure of the road needs."""
    if word in OF_PAIR:
        return "it is of a pair: a left and a right wheel of one axle"
    if word in OF_PAIR_AND_REAR:
        return "it is of a left and a right wheel of one axle, with a wheel or a stated contact behind them"
    return "write [wheels.NAME] for each wheel"


def _rigid(parts: Mapping[str, Part], joints: Mapping[str, Joint]) -> dict[str, str]:
    """For every part one that it is rigid with, the same for all of a lot."""
    lot = {name: name for name in parts}

    def top(name: str) -> str:
        while lot[name] != name:
            name = lot[name]
        return name

    fixed = [name for name, part in parts.items() if part.fixed]
    tied = [(one.first, one.second) for one in joints.values() if not one.kind.has_freedom]
    for first, second in (*pairwise(fixed), *tied):
        lot[top(first)] = top(second)
    return {name: top(name) for name in parts}


def _check_kingpin(
    wheel: Wheel, pin: Kingpin, rigid: Mapping[str, str], joints: Mapping[str, Joint], place: Place, bench: Bench
) -> None:
    """Both points must lie on one part that turns as the wheel does, and at a joint only if it is one of that part."""
    if rigid[pin.part] != rigid[pin.upper_part]:
        told = f"its points lie on {shown(pin.part)} and {shown(pin.upper_part)}, which move against each other"
        bench.log.add(place, told, "give two points of the part that steers with the wheel")
        return
    if rigid[pin.part] != rigid[wheel.part] and not _spins_on(wheel, pin.part, rigid, joints):
        told = f"the wheel's part {shown(wheel.part)} does not turn with {shown(pin.part)}, where its kingpin lies"
        bench.log.add(place, told, "put the wheel on a part that is bolted to the upright, or turns on it about `spin`")
        return
    for word, at in (("lower", pin.lower), ("upper", pin.upper)):
        here = [one for one in joints.values() if min(dist(at, one.at_first), dist(at, one.at_second)) < SAME_PLACE]
        here = [one for one in here if one.kind in (JointKind.BALL, JointKind.PIN, JointKind.UNIVERSAL)]
        lots = {rigid[part] for one in here for part in (one.first, one.second)}
        if here and rigid[pin.part] not in lots:
            one = here[0]
            told = (
                f"the wheel's part {shown(pin.part)} does not turn with the upright: the {word} point is the joint "
                f"{one.name} of {shown(one.first)} and {shown(one.second)}"
            )
            bench.log.add(place, told, "put the wheel on a part that is bolted to the upright")
            return


def _spins_on(wheel: Wheel, part: str, rigid: Mapping[str, str], joints: Mapping[str, Joint]) -> bool:
    """Whether a pin along the wheel's axle joins the two."""
    for one in joints.values():
        ends = {rigid[one.first], rigid[one.second]}
        if one.kind is JointKind.PIN and ends == {rigid[wheel.part], rigid[part]} and one.along is not None:
            return abs(sum(a * b for a, b in zip(one.along, wheel.spin, strict=True))) > 1 - 1e-9
    return False


def _standing(wheels: Mapping[str, Wheel], road: Road, bench: Bench) -> Road:
    """The road with the wheels that rest on it: three contacts that lie on no one line."""
    for number, name in enumerate(road.rests_on):
        bench.log.knows(name, wheels, "wheel", ("road", "rests_on", number))
    if road.plane is not None or not wheels:
        return road
    wanted = CONTACTS - (road.contact is not None)
    names = road.rests_on or tuple(wheels)
    if len(set(names)) != wanted:
        more = len(names) > wanted
        count = len(set(names)) + (road.contact is not None)
        told = f"{listed(names)}{' and the stated contact' if road.contact else ''} "
        told += f"{'makes 1 contact' if count == 1 else f'make {count} contacts'}, and a road has {CONTACTS}"
        hint = _contact_hint(len(set(names)), road)
        bench.log.add(("road",) if more and road.rests_on else ("wheels",), told, hint)
    if bench.log.has_faults(("road",)) or bench.log.has_faults(("wheels",)):
        return road
    points = [wheels[name].centre for name in names] + ([road.contact.at] if road.contact and road.contact.at else [])
    if _breadth([point[:2] for point in points]) < LEAST_BREADTH:
        told = f"the contacts of {listed(names)}{' and the stated one' if road.contact else ''} lie on one line"
        bench.log.add(
            ("wheels",), told, "it stands on three points that do not: look at each `centre` and at `contact`"
        )
    return replace(road, rests_on=tuple(names))


def _contact_hint(wheels: int, road: Road) -> str:
    """What gives a road three contacts where so many ``wheels`` rest on it."""
    if wheels == CONTACTS and road.contact is not None:
        return "leave `contact` out: three wheels stand on one road by themselves"
    if wheels >= CONTACTS:
        return "name those that touch it: `[road] rests_on`"
    if wheels == CONTACTS - 1:
        return "state the third: `[road] contact = { on = PART, at = POINT }`, where it stands besides its wheels"
    return "declare its other wheels, or state the road: `[road] plane = { on = PART, at = POINT, normal = [0, 0, 1] }`"


def _breadth(points: Sequence[Sequence[float]]) -> float:
    """How far the one of three points is from the line through the two that lie farthest apart."""
    (ax, ay), (bx, by), (cx, cy) = points
    area = abs((bx - ax) * (cy - ay) - (by - ay) * (cx - ax))
    return area / max(dist(points[0], points[1]), dist(points[1], points[2]), dist(points[2], points[0]), LEAST_BREADTH)
