"""How far joints may move, as the file states it or as their mounting has it."""

from __future__ import annotations

from math import isnan

from assembly.model.file_tables import BallTable, CylindricalTable, JointTable, PinTable, SlideTable
from assembly.model.mounting import read_mounting
from assembly.model.positions import Place
from assembly.model.reading import Bench

LARGEST_MISALIGNMENT = 90.0

LimitPair = tuple[float, float]


def read_limits(table: JointTable, place: Place, bench: Bench) -> tuple[LimitPair | None, LimitPair | None]:
    """Limits of turning in degrees and of travel in mm, from rest; None where none is stated."""
    if isinstance(table, PinTable):
        return _limit(table.limit, (*place, "limit"), bench), None
    if isinstance(table, SlideTable):
        return None, _limit(table.limit, (*place, "limit"), bench)
    if isinstance(table, CylindricalTable):
        turn = _limit(table.turn_limit, (*place, "turn_limit"), bench)
        return turn, _limit(table.travel_limit, (*place, "travel_limit"), bench)
    return None, None


def _limit(given: list[float | str] | None, place: Place, bench: Bench) -> LimitPair | None:
    if given is None:
        return None
    low, high = (bench.figures.coordinate(each, (*place, k)) for k, each in enumerate(given))
    if low >= high:
        bench.log.add(place, f"the limit from {low:g} to {high:g} is empty or reversed", "write [lowest, highest]")
    elif low > 0 or high < 0:
        hint = "limits count from the zero position, where all drives are at 0"
        bench.log.add(place, f"the limit from {low:g} to {high:g} does not contain 0", hint)
    return low, high


def read_lean(table: BallTable, place: Place, bench: Bench) -> tuple[float | None, str]:
    """Degrees that a ball's bolt may lean against its eye, and what is met there.

    The rating as stated; where the mounting reaches less than is stated, or nothing is stated, what the mounting has.
    """
    stated = _stated(table, place, bench)
    mounting = table.mounting and read_mounting(table.mounting, (*place, "mounting"), bench)
    about = f"joints.{place[-1]}"
    if table.bolt is None and (table.misalignment is not None or table.mounting is not None):
        what = "angle limit is given" if table.mounting is None else "its mounting is described"
        bench.note(about, f"{what} but no bolt is given, so it cannot be checked")
    if not mounting:
        return stated, ""
    reached, limiter = mounting.limit()
    if stated is not None and stated <= reached:
        return stated, ""
    if stated is not None and not isnan(stated):
        told = f"{stated:g}° in the file, {reached:z.1f}° as mounted: {limiter} is the limit"
        bench.note(about, told)
    return reached, limiter


def _stated(table: BallTable, place: Place, bench: Bench) -> float | None:
    if table.misalignment is None:
        return None
    degrees = bench.figures.number(table.misalignment, (*place, "misalignment"))
    if not isnan(degrees) and not 0 < degrees <= LARGEST_MISALIGNMENT:
        hint = f"give the angle limit as mounted, above 0 and up to {LARGEST_MISALIGNMENT:g} degrees"
        bench.log.add((*place, "misalignment"), f"{degrees:g} degrees is no angle limit of a ball joint", hint)
    return degrees
