"""Struck parts of random shape, and a dense look at whether a stop that is proven to be struck can be passed."""

from pathlib import Path
from random import Random

import numpy as np
from stop_machines import table

from assembly.clearance.stops.stop_contact import StruckProof, prove_struck
from assembly.clearance.stops.stop_gap import StopGap
from assembly.kinematics.assembling import assemble
from assembly.kinematics.solver import solve
from assembly.model.machine import Machine
from assembly.model.reader import machine_from_text
from assembly.model.stop_solids import without_stops

CASES = Path(__file__).resolve().parent / "cases"
SAMPLES = 801
HOLED = (CASES / "stop_finds_a_hole.toml").read_text(encoding="utf-8")
OWN_CUT = HOLED[HOLED.index("cut = [") : HOLED.index("] } ]") + 1]


def cut_machine(seed: int) -> tuple[Machine, str, float, float]:
    """A machine, its stop, the height of that and the setting it is pressed by, from random cuts in what is struck."""
    random = Random(seed)  # noqa: S311 - shapes of test machines, no secret
    if seed % 3:
        return _bolt_on_block(random)
    return _table_on_pad(random)


def _bolt_on_block(random: Random) -> tuple[Machine, str, float, float]:
    """The bolt of 5 mm of the case, at 9 degrees just on the block, which has holes, slots and grooves of its own."""
    cuts = []
    for _ in range(random.choice([0, 1, 1, 2, 3])):
        y, wide, deep = random.uniform(-45, 45), random.uniform(1.0, 7.0), random.choice([0.01, 0.1, 1.0, 5.0])
        kind = random.randrange(3)
        if kind == 0:
            cuts.append(f"{{ rod = [[200, {y}, {-20 - deep}], [200, {y}, -15]], diameter = {wide} }}")
        elif kind == 1:
            cuts.append(f"{{ box = [200, {y}, -20], size = [{random.uniform(3, 40)}, {wide}, {2 * deep}] }}")
        else:
            cuts.append(f"{{ rod = [[100, {y}, {-20 + 3 - deep}], [300, {y}, {-20 + 3 - deep}]], diameter = 6 }}")
    text = (
        HOLED.replace(OWN_CUT, f"cut = [ {', '.join(cuts)} ]" if cuts else "")
        .replace(", }", " }")
        .replace(",  }", " }")
    )
    return machine_from_text(text, CASES), "s", 23.4505, 9.0 + random.choice([0.003, 0.015, 0.03, 0.1])


def _table_on_pad(random: Random) -> tuple[Machine, str, float, float]:
    """A top that turns and comes down on a pad; it has notches, or is hardly large enough."""
    text = table(random.choice([129.9, 130.2, 136.0, 150.0]))
    if random.random() < 0.7:
        turn, wide = np.deg2rad(random.uniform(-45, 45)), random.uniform(4, 14)
        x, y = 70 * np.cos(turn), 70 * np.sin(turn)
        old = text[text.index('{ name = "top"') : text.index("}]", text.index('{ name = "top"')) + 1]
        text = text.replace(
            old, f"{old[:-1]}, cut = [ {{ rod = [[{x}, {y}, 50], [{x}, {y}, 70]], diameter = {wide} }} ] }}"
        )
    return machine_from_text(text, CASES), "rest", 40.0, 25.0 + random.choice([0.003, 0.05, 0.1])


def proof_of(machine: Machine, name: str, height: float, at: float) -> StruckProof:
    """What the program says of it."""
    return prove_struck(assemble(without_stops(machine)), machine.stops[name], height, at, np.zeros((0, 3)))


def passed_at(machine: Machine, name: str, height: float, at: float) -> list[float]:
    """The settings of the other drive, of many, at which the stop does not touch what it should strike."""
    mechanism = assemble(without_stops(machine))
    column = list(machine.drives).index(machine.stops[name].drive)
    other = list(machine.drives.values())[1 - column]
    settings = np.full((SAMPLES, 2), at)
    settings[:, 1 - column] = np.linspace(other.low, other.high, SAMPLES)
    gap, solved = StopGap(mechanism, machine.stops[name]), solve(mechanism, settings)
    return [float(settings[row, 1 - column]) for row in range(SAMPLES) if gap.is_apart(height, solved, row)]
