"""At which rolls a part that can roll about its own line is judged, as written in the file."""

from __future__ import annotations

from assembly.model.fault_list import shown
from assembly.model.file_tables import ROLL_HINT
from assembly.model.machine import RollRule
from assembly.model.positions import Place
from assembly.model.reading import Bench

HALF_TURN = 180.0


def read_roll(given: float | str | None, place: Place, bench: Bench) -> RollRule | float | None:
    """The rule by its name, or the angle in degrees of the clamped part; None if there is none or a fault."""
    if given is None:
        return None
    if isinstance(given, str) and given in set(RollRule):
        return RollRule(given)
    before = bench.log.marks
    if isinstance(given, str) and given.isalpha() and given not in bench.figures.dimensions:
        bench.log.add(place, f"there is no roll {shown(given)}", ROLL_HINT)
    degrees = bench.figures.number(given, place) if bench.log.marks == before else 0.0
    if abs(degrees) > HALF_TURN:
        bench.log.add(place, f"a roll of {degrees:g} degrees is more than half a turn", "give -180 to 180 degrees")
    return degrees if bench.log.marks == before else None
