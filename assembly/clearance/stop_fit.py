"""Where a stop must stand: the setting it may act at, what dictates that, and the height that acts there.

For every setting looked at of the other drives, the way from rest to the stop's end is gone until something comes too
near or a joint too near its limit; play and the give of the pad are taken off, and the stop must be struck before. The
least height that does so everywhere is the answer. Found at settings; the sweep of the stopped range proves it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, degrees

import numpy as np

from assembly.clearance.run_out import RunOut
from assembly.clearance.stop_gap import TOUCHING, StopGap
from assembly.errors import Fault, InputError
from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import inverse_rigid
from assembly.model.machine import DriveKind
from assembly.model.travel_stop import StopBolt, TravelStop
from assembly.motion.cell_motion import bound_motion
from assembly.motion.mechanism import Mechanism, Solved
from assembly.motion.solver import solve
from assembly.motion.travel import seen
from assembly.strength.pressing import Held, Pressing, held, pressing

ROUNDS = 12
"""Of finding the height from the pad's give and the give from the height."""
JUST_BEFORE = 0.01
"""Drive units before the contact at which it is looked at."""
LATE = 0.005
"""Drive units that count as too late."""


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
class Contact:
    """Where and how a stop is struck at the way that governs it; points in the world, mm."""

    on_stop: Floats
    on_other: Floats
    shape: str
    unsquare_deg: float
    """Between the stop's line and the push; 0 is square."""
    approach: float
    """mm by which the two come nearer per unit of the drive."""
    places: Floats
    """(K, 3): where the stop is struck at the ways looked at, on the stop drawn at rest."""
    drift_mm: float = 0.0
    """How far the place that strikes wanders on the stop while the other drives move."""


@dataclass(frozen=True, slots=True, eq=False)
class StopDesign:
    """A stop's ``recommended`` height in mm, and how it acts at ``height``: the file's where it gives one.

    ``ways``: one per setting of the other drives; ``governing`` is the number of the one that dictates the height.
    ``wanted``: the end of the range that the file asks for. ``give``: of the pad, in the drive's unit. ``faults``: why
    it is no stop, in words.
    """

    stop: TravelStop
    wanted: float
    recommended: float | None = None
    height: float | None = None
    ways: tuple[WayFound, ...] = ()
    governing: int = 0
    give: float = 0.0
    contact: Contact | None = None
    pressing: Pressing | None = None
    held: Held | None = None
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


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """What a stop is designed on: ways to its end with its margins and without any, and the ``hard`` stop it precedes.

    ``others`` (M, d): settings of the other drives, 0 in the stop's own column. ``wanted``: the end of the range that
    the file asks of the stop's drive on its side.
    """

    mechanism: Mechanism
    column: int
    wanted: float
    others: Floats
    ends: tuple[RunOut, ...]
    free: tuple[RunOut, ...]
    hard: StopDesign | None = None


def fit_stop(stop: TravelStop, ground: Ground) -> StopDesign:
    """The design of ``stop``; its ``faults`` say what keeps it from being one."""
    gap = StopGap(ground.mechanism, stop)
    limits = _limits(stop, ground)
    room = gap.heights(_solved(ground, np.zeros(len(limits))))
    if not room.min() > TOUCHING:
        return StopDesign(stop, ground.wanted, faults=(f"its foot stands in {stop.other} at rest",))
    found = _fitted(stop, ground, gap, limits, room)
    if found.recommended is None and stop.height is None:
        return found
    height = stop.height if stop.height is not None else found.recommended
    found = _acting(replace(found, height=height), ground, gap, limits, room)
    return replace(found, faults=(*found.faults, *_late(found, ground)))


def _limits(stop: TravelStop, ground: Ground) -> Floats:
    """The setting (M,) of the stop's drive that it may give way to at most, play and give not yet taken off."""
    if stop.ahead_of is None:
        return np.array([end.at[ground.column] for end in ground.ends])
    if ground.hard is None or ground.hard.height is None:
        message = f"stop {stop.ahead_of.stop} must have a height before one can come ahead of it"
        raise InputError(Fault(message, place=f"stops.{stop.name}.ahead_of"))
    gap = StopGap(ground.mechanism, ground.hard.stop)
    found = gap.contacts(ground.hard.height + stop.ahead_of.by, ground.column, _end(stop, ground), ground.others)
    return np.where(np.isnan(found), np.array([end.at[ground.column] for end in ground.ends]), found)


def _fitted(stop: TravelStop, ground: Ground, gap: StopGap, limits: Floats, room: Floats) -> StopDesign:
    """The design with its least sufficient height; the give of a pad depends on the height and the other way round."""
    design, give, sign = StopDesign(stop, ground.wanted), 0.0, stop.side.sign
    for _ in range(ROUNDS):
        at_most = _at_most(stop, limits, give)
        aim = at_most if stop.ahead_of else sign * np.minimum(sign * at_most, sign * ground.wanted)
        if (sign * at_most <= 0).any():
            row = int(np.argmin(sign * at_most))
            left = "what must be kept" if give == 0 else "what must be kept, and the give of its pad,"
            return replace(design, faults=(f"{left} leaves nothing of the range at {_told(ground, row)}",))
        needed = gap.heights(_solved(ground, aim))
        fault = _unfit(stop, ground, needed, room)
        if fault:
            return replace(design, faults=(fault,))
        height = _stepped(stop, float(needed.max()))
        governing = int(np.argmax(needed))
        contact = _contact(stop, ground, gap, height, float(aim[governing]), governing)
        pressed = _pressed(stop, ground, contact, float(aim[governing]), height)
        ways = _ways(ground, at_most, np.full(len(at_most), np.nan))
        design = StopDesign(stop, ground.wanted, height, None, ways, governing, give, contact, pressed)
        before, give = give, pressed.give_mm / contact.approach if pressed else 0.0
        if abs(give - before) < 1e-6:
            break
    return design


def _unfit(stop: TravelStop, ground: Ground, needed: Floats, room: Floats) -> str:
    """Why no height will do; nothing where one does."""
    row = int(np.argmax(needed))
    if not np.isfinite(needed).any():
        if np.isfinite(room).all():
            return f"it acts in the wrong direction: towards the {stop.side} end {stop.other} leaves its line"
        return f"nothing of {stop.other} ever reaches its line"
    if not np.isfinite(needed).all():
        return f"at {_told(ground, row)} nothing of {stop.other} reaches its line, so it does not act there"
    if needed[row] >= room[row] - TOUCHING:
        way = f"from {room[row]:.2f} to {needed[row]:.2f} mm"
        return f"it acts in the wrong direction: towards the {stop.side} end its gap grows {way}"
    if needed[row] <= TOUCHING:
        return "its height would be negative: the part is past the foot before anything runs out; move the foot back"
    return ""


def _stepped(stop: TravelStop, height: float) -> float:
    return height if stop.step is None else stop.step * ceil(height / stop.step - 1e-9)


def _at_most(stop: TravelStop, limits: Floats, give: float) -> Floats:
    play = 0.0 if stop.ahead_of else stop.margin.play
    return np.asarray(limits - stop.side.sign * (play + give))


def _acting(design: StopDesign, ground: Ground, gap: StopGap, limits: Floats, room: Floats) -> StopDesign:
    """``design`` with where the stop of its height acts, how it is struck there, and what it takes."""
    stop, height = design.stop, design.height or 0.0
    if height >= room.min():
        row = int(np.argmin(room))
        return replace(
            design, faults=(f"it is touched at rest: {room[row]:.2f} mm are free, it is {height:.2f} mm high",)
        )
    acts = gap.contacts(height, ground.column, _end(stop, ground), ground.others)
    if np.isnan(acts).any():
        row = int(np.argmax(np.isnan(acts)))
        return replace(design, faults=(f"at {_told(ground, row)} it is never struck",))
    governing = int(np.argmin(stop.side.sign * (limits - acts)))
    contact = _contact(stop, ground, gap, height, float(acts[governing]), governing)
    struck = _solved(ground, acts - stop.side.sign * JUST_BEFORE)
    contact = replace(
        contact,
        places=np.concatenate([contact.places, _places(stop, ground, gap, height, struck)]),
        drift_mm=_drift(stop, ground, contact, struck, governing),
    )
    pressed = _pressed(stop, ground, contact, float(acts[governing]), height)
    give = pressed.give_mm / contact.approach if pressed else 0.0
    ways = _ways(ground, _at_most(stop, limits, give), acts)
    own = held(stop.fasteners) if stop.fasteners else None
    return replace(
        design, ways=ways, governing=governing, give=give, contact=contact, pressing=pressed, held=own, faults=()
    )


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
    return (f"at {_told(ground, row)} it acts {late[row]:.2f} too late: at {way.acts:.2f}, at most {way.at_most:.2f}",)


def _contact(stop: TravelStop, ground: Ground, gap: StopGap, height: float, acts: float, row: int) -> Contact:
    sign, mechanism = stop.side.sign, ground.mechanism
    solved = _solved(ground, np.array([acts - sign * JUST_BEFORE]), np.array([row]))
    met = gap.meeting(height, solved)
    motion = bound_motion(mechanism, solved, np.full_like(solved.settings, 1e-6))
    carrier, other = (mechanism.bodies.body_of[part] for part in (stop.carrier, stop.other))
    drawn = _drawn(mechanism, solved, stop.other, met.on_other)
    rate = seen(motion, other, carrier, drawn, 0.0, mechanism.bodies.centres).rate[0, ground.column]
    along = mechanism.world_from_rest(solved.posture, stop.carrier)[0][:3, :3] @ np.array(stop.along)
    square = degrees(float(np.arccos(np.clip(abs(along @ met.direction), -1.0, 1.0))))
    approach = max(float(-sign * rate @ met.direction), 1e-9)
    place = _drawn(mechanism, solved, stop.carrier, met.on_stop)
    return Contact(met.on_stop, met.on_other, met.shape, square, approach, place[None])


def _places(stop: TravelStop, ground: Ground, gap: StopGap, height: float, struck: Solved) -> Floats:
    """Where (M, 3) the stop is struck at each way, on the stop drawn at rest."""
    rows = [struck.take(np.array([row])) for row in range(len(struck.settings))]
    return np.array([_drawn(ground.mechanism, row, stop.carrier, gap.meeting(height, row).on_stop) for row in rows])


def _drift(stop: TravelStop, ground: Ground, contact: Contact, struck: Solved, governing: int) -> float:
    """How far in mm the place of the other part that strikes at the governing way is from there at the others."""
    mechanism = ground.mechanism
    place = _drawn(mechanism, struck.take(np.array([governing])), stop.other, contact.on_other)
    stop_from_world = inverse_rigid(mechanism.world_from_rest(struck.posture, stop.carrier))
    stop_from_other = stop_from_world @ mechanism.world_from_rest(struck.posture, stop.other)
    places = stop_from_other[:, :3, :3] @ place + stop_from_other[:, :3, 3]
    return float(np.linalg.norm(places - places[governing], axis=1).max())


def _pressed(stop: TravelStop, ground: Ground, contact: Contact, at: float, height: float) -> Pressing | None:
    if stop.load is None:
        return None
    turning = ground.mechanism.machine.drives[stop.drive].kind is DriveKind.TURNS
    return pressing(stop, stop.load, at, contact.approach, height, turning=turning)


def _drawn(mechanism: Mechanism, solved: Solved, part: str, point: Floats) -> Floats:
    """A point of the world as it lies in ``part`` drawn at rest."""
    rest_from_world = inverse_rigid(mechanism.world_from_rest(solved.posture, part))[0]
    return np.asarray(rest_from_world[:3, :3] @ point + rest_from_world[:3, 3])


def _solved(ground: Ground, settings: Floats, rows: Floats | None = None) -> Solved:
    whole = (ground.others if rows is None else ground.others[rows]).copy()
    whole[:, ground.column] = settings
    return solve(ground.mechanism, whole)


def _end(stop: TravelStop, ground: Ground) -> float:
    drive = ground.mechanism.machine.drives[stop.drive]
    return drive.high if stop.side.sign > 0 else drive.low


def _told(ground: Ground, row: int) -> str:
    """The setting of the other drives in words."""
    drives = ground.mechanism.machine.drives.values()
    others = [f"{drive.name} {ground.others[row, k]:+g}" for k, drive in enumerate(drives) if k != ground.column]
    return ", ".join(others) or "every setting"
