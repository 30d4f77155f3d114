"""Machines whose usable range is known on paper (own models, closed form), and how to ask for it."""

from dataclasses import replace

from small_machines import quiet, read

from assembly.model.machine import Machine
from assembly.record import RangeRecord
from assembly.studies.usable.usable_range import RangeWish, find_usable_range

FACETS = 0.002
"""mm: facet error of the round solids."""


def table(at=(30.0, 20.0), x=(-30.0, 30.0), y=(-20.0, 20.0), required=2.0, more="", diameter=10.0):
    """A round peg on two square slides, and a round post of the same size that stands ``at`` seen from it.

    The peg at (x, y) is nearer to the post than ``required`` inside a circle of diameter + required about ``at``.
    """
    return f"""
format = 1
name = "Table"
facet_error = {FACETS}

[parts.base]
fixed = true
shapes = [{{ name = "post", rod = [[{at[0]}, {at[1]}, -20], [{at[0]}, {at[1]}, 20]], diameter = {diameter} }}]

[parts.carriage]
shapes = [{{ name = "plate", box = [0, 0, -100], size = [20, 20, 20] }}]

[parts.peg]
shapes = [{{ name = "pin", rod = [[0, 0, -20], [0, 0, 20]], diameter = {diameter} }}]

[joints.long_guide]
slide = ["base", "carriage"]
at = [0, 0, -100]
along = [1, 0, 0]

[joints.cross_guide]
slide = ["carriage", "peg"]
at = [0, 0, -60]
along = [0, 1, 0]

[drives.x]
slides = {{ long_guide = 1 }}
range = [{x[0]}, {x[1]}]

[drives.y]
slides = {{ cross_guide = 1 }}
range = [{y[0]}, {y[1]}]

[clearance]
required = {required}
{more}
"""


def over_range(machine: Machine | str, cells: int | None = None, **held: float) -> RangeRecord:
    """The record of a machine's usable range."""
    made = read(machine) if isinstance(machine, str) else machine
    return find_usable_range(made, RangeWish(cells, held), quiet).record


def with_range(machine: Machine, **ranges: tuple[float, float]) -> Machine:
    """``machine`` with the ranges of its drives."""
    drives = {name: replace(machine.drives[name], low=low, high=high) for name, (low, high) in ranges.items()}
    return replace(machine, drives=drives)
