"""Stops: from tables to values, those of the other side too."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from math import isnan, nan

from assembly.model.fault_list import shown
from assembly.model.machine import Drive, DriveKind, Joint
from assembly.model.mirror import flipped
from assembly.model.positions import Place
from assembly.model.quantities_read import Given
from assembly.model.reading import Bench
from assembly.model.schema import checked_table
from assembly.model.stop_tables import (
    AheadOfTable,
    FastenersTable,
    MarginTable,
    PadTable,
    StopBoltTable,
    StopLoadTable,
    StopTable,
    TabTable,
    TouchTable,
)
from assembly.model.travel_stop import (
    AheadOf,
    Fasteners,
    Margin,
    Pad,
    RangeEnd,
    StopBolt,
    StopLoad,
    TabSize,
    Touch,
    TravelStop,
)

_SECTION = "stops"
_LARGEST = 1e9


def read_stops(
    raw: Mapping[str, object], drives: Mapping[str, Drive | None], joints: Mapping[str, Joint | None], bench: Bench
) -> dict[str, TravelStop]:
    """All stops of the file and their twins; faults are noted. ``joints``: those of the file, without twins."""
    bench.log.check_names(raw, "stop", (_SECTION,))
    stops = {name: _read_stop(name, entry, drives, bench) for name, entry in raw.items()}
    for name, stop in stops.items():
        if stop is not None and stop.ahead_of is not None:
            _check_ahead(stop, raw, stops, (_SECTION, name, "ahead_of"), bench)
    sound = {name: stop for name, stop in stops.items() if stop is not None}
    return {**sound, **_twins(sound, drives, joints, bench)}


def _read_stop(name: str, raw: object, drives: Mapping[str, Drive | None], bench: Bench) -> TravelStop | None:
    place: Place = (_SECTION, name)
    log, before = bench.log, bench.log.marks
    table = checked_table(StopTable, raw, place, log)
    if table is None:
        return None
    _check_names(name, table, drives, bench)
    size, striker, struck = bench.figures.size, *table.parts
    stop = TravelStop(
        name=name,
        drive=table.drive,
        side=RangeEnd(table.side),
        striker=striker,
        struck=struck,
        carrier=table.carrier or struck,
        at=bench.points.point(table.at, (*place, "at")),
        along=bench.points.direction(table.along, (*place, "along")),
        form=_form(table, place, bench),
        height=None if table.height is None else size(table.height, (*place, "height")),
        step=None if table.step is None else size(table.step, (*place, "step")),
        margin=_margin(table.margin, (*place, "margin"), bench),
        ahead_of=None if table.ahead_of is None else _ahead(table.ahead_of, (*place, "ahead_of"), bench),
        load=None if table.load is None else _load(table.load, drives.get(table.drive), (*place, "load"), bench),
        fasteners=None if table.fasteners is None else _fasteners(table.fasteners, (*place, "fasteners"), bench),
        touch=None if table.touch is None else _touch(table.touch, (*place, "touch"), bench),
    )
    return stop if log.marks == before else None


def _check_names(name: str, table: StopTable, drives: Collection[str], bench: Bench) -> None:
    place, log = (_SECTION, name), bench.log
    if name in bench.part_names:
        log.add(place, f"a part is called {shown(name)} already", "a stop becomes a part of its name; give it another")
    log.knows(table.drive, drives, "drive", (*place, "drive"))
    striker, struck = table.parts
    for number, part in enumerate(table.parts):
        log.knows(part, bench.part_names, "part", (*place, "parts", number))
    if striker == struck:
        hint = "name the part that strikes, then the one that is struck"
        log.add((*place, "parts"), f"{shown(striker)} is paired with itself", hint)
    if table.carrier is not None and table.carrier not in table.parts:
        hint = f"the pad stands on {shown(striker)} or {shown(struck)}"
        log.add((*place, "carrier"), f"{shown(table.carrier)} is neither of the two parts", hint)
    for key in ("fasteners", "touch"):
        if getattr(table, key) is not None and table.load is None:
            log.add((*place, key), f"`{key}` says nothing without a load", "give the stop a `load` as well")


def _ahead(table: AheadOfTable, place: Place, bench: Bench) -> AheadOf:
    return AheadOf(table.stop, bench.figures.amount(table.by, (*place, "by")))


def _form(table: StopTable, place: Place, bench: Bench) -> Pad | StopBolt:
    if (table.pad is None) == (table.bolt is None):
        bench.log.add(place, "a stop is a `pad` or a `bolt`", "give one of them")
    if table.bolt is not None:
        return _bolt(table.bolt, (*place, "bolt"), bench)
    return _pad(table.pad or PadTable(diameter=1.0), (*place, "pad"), bench)


def _bolt(table: StopBoltTable, place: Place, bench: Bench) -> StopBolt:
    size = bench.figures.size
    return StopBolt(size(table.diameter, (*place, "diameter")), size(table.pitch, (*place, "pitch")))


def _pad(table: PadTable, place: Place, bench: Bench) -> Pad:
    if (table.diameter is None) == (table.square is None):
        bench.log.add(place, "a pad is round or square", "give `diameter`, or `square` with its side")
    key = "diameter" if table.square is None else "square"
    given = table.diameter if table.square is None else table.square
    across = nan if given is None else bench.figures.size(given, (*place, key))
    thickness = None if table.thickness is None else bench.figures.size(table.thickness, (*place, "thickness"))
    modulus, bulk = (_optional(getattr(table, key), (*place, key), bench) for key in ("modulus", "bulk"))
    if modulus is None and (bulk is not None or thickness is not None):
        bench.log.add(
            place, "a pad without `modulus` is hard", "give its Young's modulus in MPa, or leave the rest out"
        )
    return Pad(across, table.square is not None, modulus, bulk, thickness)


def _margin(table: MarginTable, place: Place, bench: Bench) -> Margin:
    amount = bench.figures.amount
    return Margin(
        amount(table.joints, (*place, "joints")),
        amount(table.clearance, (*place, "clearance")),
        amount(table.play, (*place, "play")),
    )


def _load(table: StopLoadTable, drive: Drive | None, place: Place, bench: Bench) -> StopLoad:
    given = [key for key in ("moment", "force", "mass") if getattr(table, key) is not None]
    if len(given) != 1:
        bench.log.add(place, "a load is one of `moment`, `force` and `mass`", "give one of them")
    turning = drive is None or drive.kind is DriveKind.TURNS
    if given and (given[0] == "force") == turning and drive is not None:
        hint = "give `moment` in N·m or `mass` with `height`" if turning else "give `force` in N"
        bench.log.add((*place, given[0]), f"the stop's drive {'turns' if turning else 'slides'}", hint)
    if table.mass is None and table.height is not None:
        bench.log.add((*place, "height"), "only a mass has a `height`", "give `mass` in kg as well")
    if table.fall_from is not None and table.mass is None:
        bench.log.add((*place, "fall_from"), "only a mass falls", "give `mass` and `height`")
    factor = bench.figures.number(table.factor, (*place, "factor"))
    if not isnan(factor) and not 1 <= factor <= 1000:
        bench.log.add(
            (*place, "factor"), f"{factor:g} is no factor for a blow", "give 1 for a load that comes slowly, or more"
        )
    moment, force, mass, height = (
        _optional(getattr(table, key), (*place, key), bench) for key in ("moment", "force", "mass", "height")
    )
    fall = None if table.fall_from is None else bench.figures.coordinate(table.fall_from, (*place, "fall_from"))
    return StopLoad(moment, force, mass, height, factor, fall)


def _fasteners(table: FastenersTable, place: Place, bench: Bench) -> Fasteners:
    if table.bolts < 1:
        bench.log.add((*place, "bolts"), f"{table.bolts} bolts hold nothing", "give 1 or more")
    tab = None if table.tab is None else _tab(table.tab, (*place, "tab"), bench)
    return Fasteners(table.size, table.grade, table.bolts, table.planes, tab)


def _tab(table: TabTable, place: Place, bench: Bench) -> TabSize:
    keys = ("thickness", "tensile", "hole", "end", "edge")
    return TabSize(*(_positive(getattr(table, key), (*place, key), bench) for key in keys))


def _touch(table: TouchTable, place: Place, bench: Bench) -> Touch:
    moduli = [_positive(each, (*place, "moduli", k), bench) for k, each in enumerate(table.moduli)]
    poissons = [bench.figures.number(each, (*place, "poissons", k)) for k, each in enumerate(table.poissons)]
    for number, ratio in enumerate(poissons):
        if not isnan(ratio) and not 0 <= ratio <= 0.5:
            bench.log.add((*place, "poissons", number), f"{ratio:g} is no Poisson's ratio", "give 0 to 0.5; steel 0.3")
    length = None if table.length is None else bench.figures.size(table.length, (*place, "length"))
    radius = bench.figures.size(table.radius, (*place, "radius"))
    return Touch(radius, length, (moduli[0], moduli[1]), (poissons[0], poissons[1]))


def _optional(given: Given | None, place: Place, bench: Bench) -> float | None:
    return None if given is None else _positive(given, place, bench)


def _positive(given: Given, place: Place, bench: Bench) -> float:
    number = bench.figures.number(given, place)
    if not isnan(number) and not 0 < number <= _LARGEST:
        bench.log.add(place, f"{number:g} cannot be", "give a number above 0")
    return number


def _check_ahead(
    stop: TravelStop, raw: Mapping[str, object], stops: Mapping[str, TravelStop | None], place: Place, bench: Bench
) -> None:
    name = stop.ahead_of.stop if stop.ahead_of else ""
    if not bench.log.knows(name, raw, "stop", (*place, "stop")):
        return
    later = stops[name]
    if name == stop.name or (later is not None and later.ahead_of is not None):
        hint = "let soft stops come ahead of one hard stop that is ahead of nothing"
        bench.log.add((*place, "stop"), f"{shown(name)} cannot come after it", hint)
    elif later is not None and (later.drive, later.side) != (stop.drive, stop.side):
        bench.log.add((*place, "stop"), f"{shown(name)} takes another end", "name a stop of the same drive and side")


def _twins(
    stops: Mapping[str, TravelStop],
    drives: Mapping[str, Drive | None],
    joints: Mapping[str, Joint | None],
    bench: Bench,
) -> dict[str, TravelStop]:
    mirror = bench.mirror
    sense = {name: _mirrored_sense(drive, joints, bench) for name, drive in drives.items() if drive is not None}

    def flip(name: str, stop: TravelStop) -> TravelStop:
        ahead = stop.ahead_of and AheadOf(mirror.other_side(stop.ahead_of.stop), stop.ahead_of.by)
        return replace(
            stop,
            name=name,
            side=stop.side if sense.get(stop.drive, 0) > 0 else stop.side.opposite,
            striker=mirror.other_side(stop.striker),
            struck=mirror.other_side(stop.struck),
            carrier=mirror.other_side(stop.carrier),
            at=flipped(stop.at),
            along=flipped(stop.along),
            ahead_of=ahead,
            twin_of=stop.name,
        )

    for name, stop in stops.items():
        if mirror.has_twin(name) and mirror.other_side(name) not in stops and sense.get(stop.drive) == 0:
            message = f"{shown(stop.drive)} is not the same drive in the mirror, so the stop's twin cannot be made"
            bench.log.add((_SECTION, name), message, f"write {shown(mirror.other_side(name))} out")
    return mirror.twins(stops, flip)


def _mirrored_sense(drive: Drive, joints: Mapping[str, Joint | None], bench: Bench) -> int:
    """1 or -1: the mirror takes the drive's setting s to s or to -s; 0 where it takes it to no setting of the drive.

    Seen in the mirror a turn goes the other way round about the mirrored line, and a slide the same way along it.
    """
    found = set()
    for name, ratio in drive.ratios.items():
        twin = bench.mirror.other_side(name)
        own = drive.ratios.get(twin)
        if own is None:
            return 0
        sense = ratio / own * (-1 if drive.kind is DriveKind.TURNS else 1)
        joint = joints.get(name) or joints.get(twin)
        if joint is not None and joint.along is not None and twin == name:
            across = flipped(joint.along)
            sense *= 1 if sum(a * b for a, b in zip(across, joint.along, strict=True)) > 0 else -1
            if min(_apart(across, joint.along, 1), _apart(across, joint.along, -1)) > 1e-6:
                return 0
        found.add(round(sense, 9))
    return int(found.pop()) if found in ({1.0}, {-1.0}) else 0


def _apart(one: tuple[float, float, float], other: tuple[float, float, float], sign: int) -> float:
    return max(abs(a - sign * b) for a, b in zip(one, other, strict=True))
