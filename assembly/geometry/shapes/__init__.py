"""Parametric shapes: plain numbers in mm and directions in, a closed outward Mesh with its surface error out.

All are drawn in machine coordinates. ``facet_error`` is the greatest wanted distance in mm between facets and true
surface; the mesh's ``surface_error`` is a proven bound of what came out. ShapeError where the numbers make no shape.
"""

from assembly.geometry.shapes.boxes import box
from assembly.geometry.shapes.every_turn import at_every_turn
from assembly.geometry.shapes.plates import Hole, PlateSide, Slot, hexagon, plate, plate_through
from assembly.geometry.shapes.rod_ends import ROD_END_SIZES, ROD_END_SOURCE, RodEnd, RodEndSize, rod_end, rod_end_size
from assembly.geometry.shapes.rods import rod, tube
from assembly.geometry.shapes.rounds import cone, ring, sphere, turned

__all__ = [
    "ROD_END_SIZES",
    "ROD_END_SOURCE",
    "Hole",
    "PlateSide",
    "RodEnd",
    "RodEndSize",
    "Slot",
    "at_every_turn",
    "box",
    "cone",
    "hexagon",
    "plate",
    "plate_through",
    "ring",
    "rod",
    "rod_end",
    "rod_end_size",
    "sphere",
    "tube",
    "turned",
]
