"""Where a stop must stand: the setting it may act at, what dictates that, and the height that acts there.

For every setting looked at of the other drives, the way from rest to the stop's end is gone until something comes too
near or a joint too near its limit; play and the give of the pad are taken off, and the stop must be struck before. The
least height that does so everywhere is the answer. Found at settings; the sweep of the stopped range proves it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, degrees

import numpy as np

from assembly.clearance.region.run_out import RunOut
from assembly.clearance.stops.stop_blow import JUST_BEFORE, Ground, StopContact, contacts_of, drift_of
from assembly.clearance.stops.stop_gap import TOUCHING, StopGap
from assembly.errors import Fault, InputError
from assembly.geometry.mesh import Floats
from assembly.model.machine import DriveKind
from assembly.model.travel_stop import StopBolt, TravelStop
from assembly.record import PressEntry
from assembly.strength.pressing import pressing

ROUNDS = 12
"""Of finding the height from the pad's give and the give from the height."""
SETTLED = 1e-6
"""Drive units."""
LATE = 0.005
"""Drive units that count as too late."""
LEAST_APPROACH = 1e-4
"""mm per unit of the drive: a stop that is struck by less is slid along."""
ASIDE = 0.05
"""mm below its end at which a stop may be struck."""


@dataclass(frozen=True, slots=True)
class Yields:
    """What is lost of a drive where its stop is struck, in the drive's unit; the most of all ways.

    ``give`` of the pad; ``unsure``, for the true surface of what strikes may lie off its facets; ``pressed``, as far as
    it is pressed where it is shown to be struck.
    """

    give: float = 0.0
    unsure: float = 0.0
    pressed: float = 0.0

    def near(self, other: Yields) -> bool:
        """Whether another round would change nothing."""
        return abs(self.give - other.give) < SETTLED and abs(self.unsure - other.unsure) < LATE / 10


@dataclass(frozen=True, slots=True)
class WayFound:
    """One setting of the other drives: what ends the way, where the stop may act at most, and where it acts."""

    ends: RunOut
    """With the margins asked for."""
    free: RunOut
    """Without any: what would really touch or run out first."""
    at_most: float
    acts: float
    """nan where the stop is never struck."""


@dataclass(frozen=True, slots=True, eq=False)
class StopDesign:
    """A stop's ``recommended`` height in mm, and how it acts at ``height``: the file's where it gives one.

    ``ways``: one per setting of the other drives; ``governing`` is the number of the one that dictates the height.
    ``wanted``: the end of the range that the file asks for. ``yields``: what it loses where it is struck, and
    ``pressing`` what it takes at the way that presses it hardest. ``held_back``: drive units by which it acts sooner
    than its margins ask, so that it can be proven. ``faults``: why it is no stop, in words.
    """

    stop: TravelStop
    wanted: float
    recommended: float | None = None
    height: float | None = None
    ways: tuple[WayFound, ...] = ()
    governing: int = 0
    yields: Yields = Yields()
    contact: StopContact | None = None
    pressing: PressEntry | None = None
    held_back: float = 0.0
    faults: tuple[str, ...] = ()

    @property
    def reaches_range(self) -> bool:
        """Whether the range that the file asks for dictates the height, and nothing that runs out."""
        if not self.ways or self.stop.ahead_of:
            return False
        sign, way = self.stop.side.sign, self.ways[self.governing]
        return sign * way.at_most > sign * self.wanted

    @property
    def lever_mm(self) -> float | None:
        """Lever arm of a turning drive's stop."""
        return None if self.contact is None else degrees(self.contact.approach)

    @property
    def to_make(self) -> float | None:
        """The height in mm to make it: the file's, or the recommended one rounded up to a hundredth."""
        if self.height is None or self.stop.height is not None:
            return self.stop.height
        return ceil(100 * self.height - 1e-6) / 100

    @property
    def per_turn(self) -> float | None:
        """Units of the drive per turn of the stop's bolt."""
        if self.contact is None or not isinstance(self.stop.form, StopBolt):
            return None
        return self.stop.form.pitch / self.contact.approach


def fit_stop(stop: TravelStop, ground: Ground, hard: StopDesign | None = None) -> StopDesign:
    """The design of ``stop``; its ``faults`` say what keeps it from being one. ``hard``: the stop it comes ahead of."""
    gap = StopGap(ground.mechanism, stop)
    limits = _limits(stop, ground, hard)
    room = gap.heights(ground.solved(np.zeros(len(limits))))
    if not room.min() > TOUCHING:
        return StopDesign(stop, ground.wanted, faults=(f"its foot stands in {stop.other} with all drives at 0",))
    found = _fitted(stop, ground, gap, limits, room)
    if found.recommended is None and stop.height is None:
        return found
    height = stop.height if stop.height is not None else found.recommended
    found = _acting(replace(found, height=height), ground, gap, limits, room)
    return replace(found, faults=(*found.faults, *_late(found, ground)))


def _limits(stop: TravelStop, ground: Ground, hard: StopDesign | None) -> Floats:
    """The setting (M,) of the stop's drive that it may give way to at most, play and give not yet taken off."""
    if stop.ahead_of is None:
        return np.array([end.at[ground.column] for end in ground.ends])
    if hard is None or hard.height is None:
        message = f"stop {stop.ahead_of.stop} must have a height before one can come ahead of it"
        raise InputError(Fault(message, place=f"stops.{stop.name}.ahead_of"))
    gap = StopGap(ground.mechanism, hard.stop)
    found = gap.contacts(hard.height + stop.ahead_of.by, ground.column, ground.end(stop), ground.others)
    return np.where(np.isnan(found), np.array([end.at[ground.column] for end in ground.ends]), found)


def _fitted(stop: TravelStop, ground: Ground, gap: StopGap, limits: Floats, room: Floats) -> StopDesign:
    """The design with its least sufficient height; the give of a pad depends on the height and the other way round."""
    design = StopDesign(stop, ground.wanted, held_back=ground.held_back)
    lost, sign = Yields(), stop.side.sign
    for _ in range(ROUNDS):
        at_most = _at_most(stop, ground, limits, lost)
        aim = at_most
        if stop.ahead_of is None:
            aim = sign * np.minimum(sign * at_most, sign * ground.wanted - lost.unsure - ground.held_back)
        if (sign * at_most <= 0).any():
            row = int(np.argmin(sign * at_most))
            left = "what must be kept" if lost.give == 0 else "what must be kept, and the deflection of its pad,"
            return replace(design, faults=(f"{left} leaves nothing of the range at {ground.told(row)}",))
        needed = gap.heights(ground.solved(aim))
        fault = _unfit(stop, ground, needed, room)
        if fault:
            return replace(design, faults=(fault,))
        height = _stepped(stop, float(needed.max()))
        governing = int(np.argmax(needed))
        design = replace(design, recommended=height, governing=governing)
        before, lost = lost, _lost(stop, ground, gap, height)
        if lost.near(before):
            break
    return design


def _lost(stop: TravelStop, ground: Ground, gap: StopGap, height: float) -> Yields:
    """What a stop of ``height`` loses where it is struck.

    Nothing where it is not struck on every way, or at rest already, or along its face: then it is no stop.
    """
    if stop.load is None and not gap.surface_error:
        return Yields()
    acts = gap.contacts(height, ground.column, ground.end(stop), ground.others)
    if np.isnan(acts).any() or not acts.all():
        return Yields()
    contacts = contacts_of(stop, ground, gap, height, acts)
    if min(contact.approach for contact in contacts) < LEAST_APPROACH:
        return Yields()
    return _hardest(stop, ground, contacts, acts, height)[1]


def _unfit(stop: TravelStop, ground: Ground, needed: Floats, room: Floats) -> str:
    """Why no height will do; nothing if one does."""
    row = int(np.argmax(needed))
    if not np.isfinite(needed).any():
        if np.isfinite(room).all():
            return f"it acts in the wrong direction: towards the {stop.side} end {stop.other} leaves its line"
        return f"nothing of {stop.other} ever reaches its line"
    if not np.isfinite(needed).all():
        return f"at {ground.told(row)} nothing of {stop.other} reaches its line, so it does not act there"
    if needed[row] >= room[row] - TOUCHING:
        way = f"from {room[row]:z.2f} to {needed[row]:z.2f} mm"
        return f"it acts in the wrong direction: towards the {stop.side} end its gap grows {way}"
    if needed[row] <= TOUCHING:
        past = "the part is past the foot before anything touches or reaches its limit"
        return f"its height would be negative: {past}; move the foot back"
    return ""


def _stepped(stop: TravelStop, height: float) -> float:
    return height if stop.step is None else stop.step * ceil(height / stop.step - 1e-9)


def _at_most(stop: TravelStop, ground: Ground, limits: Floats, lost: Yields) -> Floats:
    play = 0.0 if stop.ahead_of else stop.margin.play
    return np.asarray(limits - stop.side.sign * (play + lost.give + lost.unsure + ground.held_back))


def _acting(design: StopDesign, ground: Ground, gap: StopGap, limits: Floats, room: Floats) -> StopDesign:
    """``design`` with where the stop of its height acts, how it is struck there, and what it takes."""
    stop, height = design.stop, design.height or 0.0
    if height >= room.min() - gap.surface_error:
        row = int(np.argmin(room))
        return replace(
            design,
            faults=(f"it is touched with all drives at 0: {room[row]:z.2f} mm are free, it is {height:z.2f} mm high",),
        )
    acts = gap.contacts(height, ground.column, ground.end(stop), ground.others)
    if np.isnan(acts).any():
        row = int(np.argmax(np.isnan(acts)))
        return replace(design, faults=(f"at {ground.told(row)} it is never struck",))
    flank = _struck_aside(ground, gap, height, acts)
    if flank:
        return replace(design, faults=(flank,))
    governing = int(np.argmin(stop.side.sign * (limits - acts)))
    struck = ground.solved(acts - stop.side.sign * JUST_BEFORE)
    contacts = contacts_of(stop, ground, gap, height, acts)
    idle = next((row for row, contact in enumerate(contacts) if contact.approach < LEAST_APPROACH), None)
    if idle is not None:
        return replace(design, faults=(f"at {ground.told(idle)} it is struck along its face, which holds nothing",))
    pressed, lost = _hardest(stop, ground, contacts, acts, height)
    contact = replace(
        contacts[governing],
        places=np.concatenate([each.places for each in contacts]),
        drift_mm=drift_of(stop, ground, contacts[governing], struck, governing),
    )
    ways = _ways(ground, _at_most(stop, ground, limits, lost), acts)
    return replace(design, ways=ways, governing=governing, yields=lost, contact=contact, pressing=pressed, faults=())


def _struck_aside(ground: Ground, gap: StopGap, height: float, acts: Floats) -> str:
    """Where the stop is struck on its flank before its end is reached; empty if it is not."""
    short = height - gap.heights(ground.solved(acts))
    row = int(np.argmax(short))
    if short[row] <= ASIDE:
        return ""
    return f"at {ground.told(row)} its flank is struck at {acts[row]:z.2f}, {short[row]:z.2f} mm below its end"


def _hardest(
    stop: TravelStop, ground: Ground, contacts: Sequence[StopContact], at: Floats, height: float
) -> tuple[PressEntry | None, Yields]:
    """What the stop takes at the way that presses it hardest, and what is lost of its drive."""
    lost = Yields(0.0, max(each.unsure for each in contacts), max(each.pressed(ground.pressing) for each in contacts))
    if stop.load is None:
        return None, lost
    turning = ground.mechanism.machine.drives[stop.drive].kind is DriveKind.TURNS
    try:
        pressed = [
            pressing(stop, stop.load, setting, contact.approach, height, turning=turning)
            for setting, contact in zip(at.tolist(), contacts, strict=True)
        ]
    except InputError as error:
        raise InputError(*(replace(fault, place=f"stops.{stop.name}") for fault in error.faults)) from error
    gives = [(one.give_mm or 0.0) / contact.approach for one, contact in zip(pressed, contacts, strict=True)]
    return max(pressed, key=lambda one: one.force_n), replace(lost, give=max(gives))


def _ways(ground: Ground, at_most: Floats, acts: Floats) -> tuple[WayFound, ...]:
    found = zip(ground.ends, ground.free, at_most.tolist(), acts.tolist(), strict=True)
    return tuple(WayFound(*way) for way in found)


def _late(design: StopDesign, ground: Ground) -> tuple[str, ...]:
    """Where the stop of the height it has acts too late."""
    sign = design.stop.side.sign
    late = [sign * (way.acts - way.at_most) for way in design.ways]
    if design.faults or not late or not max(late) > LATE:
        return ()
    row = int(np.argmax(late))
    way = design.ways[row]
    unit = ground.mechanism.machine.drives[design.stop.drive].unit
    told = f"at {ground.told(row)} it acts {late[row]:z.2f} {unit} too late"
    return (f"{told}: at {way.acts:z.2f} {unit}, the latest is {way.at_most:z.2f} {unit}",)
