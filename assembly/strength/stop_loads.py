"""What a stop must take: moments and energies of a lean, the squeeze of an elastic pad, and the force at a lever.

A pad's modulus is the builder's number: published conversions from Shore hardness differ by 1.4 to 1.9 times. All
figures hold for a linear pad on rigid parts; they are estimates for a drawing, not a proof for a ride.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, inf, pi, radians, sin, sqrt

from assembly.errors import Fault, InputError
from assembly.model.quantities import GRAVITY, require_between, require_positive

SHAPE_CONSTANT = 2.0
"""b of round and square bonded pads (after Gent and Lindley; Strojniški vestnik 60(2014)7-8, 506-511)."""

STEEPEST_LEAN = 90.0
"""Degrees from upright."""


@dataclass(frozen=True, slots=True)
class RubberPad:
    """A round or square block of rubber bonded on both faces; made by ``round_pad`` or ``square_pad``."""

    loaded_area_mm2: float
    free_area_mm2: float
    """The side that can bulge."""
    thickness_mm: float
    modulus_mpa: float
    """Young's modulus at small strain: ask its maker, or press a sample."""
    bulk_modulus_mpa: float = inf
    """Matters for pads that are wide and thin; left out where it is not given."""

    @property
    def shape_factor(self) -> float:
        """S: loaded area over free area; D / 4t for a disc."""
        return self.loaded_area_mm2 / self.free_area_mm2

    @property
    def apparent_modulus_mpa(self) -> float:
        """1/Ea = 1/[E (1 + b S²)] + 1/B (source as ``SHAPE_CONSTANT``)."""
        return 1 / (1 / (self.modulus_mpa * (1 + SHAPE_CONSTANT * self.shape_factor**2)) + 1 / self.bulk_modulus_mpa)

    @property
    def stiffness_n_per_mm(self) -> float:
        """Stiffness k = Ea A / t, for small strain only."""
        return self.apparent_modulus_mpa * self.loaded_area_mm2 / self.thickness_mm


@dataclass(frozen=True, slots=True)
class Squeeze:
    """How far a pad gives and the force it then pushes back with."""

    give_mm: float
    force_n: float


def round_pad(diameter_mm: float, thickness_mm: float, modulus_mpa: float, bulk_modulus_mpa: float = inf) -> RubberPad:
    """A disc, its faces bonded. Raises InputError for a size or modulus that is not above zero."""
    _require_pad(("pad diameter", diameter_mm), thickness_mm, modulus_mpa, bulk_modulus_mpa)
    area, side = pi / 4 * diameter_mm**2, pi * diameter_mm * thickness_mm
    return RubberPad(area, side, thickness_mm, modulus_mpa, bulk_modulus_mpa)


def square_pad(side_mm: float, thickness_mm: float, modulus_mpa: float, bulk_modulus_mpa: float = inf) -> RubberPad:
    """A square block, its faces bonded. Raises InputError for a size or modulus that is not above zero."""
    _require_pad(("pad side", side_mm), thickness_mm, modulus_mpa, bulk_modulus_mpa)
    return RubberPad(side_mm**2, 4 * side_mm * thickness_mm, thickness_mm, modulus_mpa, bulk_modulus_mpa)


def squeeze_under_force(stiffness_n_per_mm: float, force_n: float) -> Squeeze:
    """Give x = F / k, for a load that comes slowly."""
    require_positive(("the pad's stiffness", stiffness_n_per_mm, "N/mm"), ("the force on the pad", force_n, "N"))
    return Squeeze(force_n / stiffness_n_per_mm, force_n)


def squeeze_by_energy(stiffness_n_per_mm: float, energy_j: float, pressing_n: float = 0.0) -> Squeeze:
    """How far a blow of ``energy_j`` squeezes a pad, all of it taken by the pad.

    x = √(2E/k), F = √(2Ek) (energy balance ½kx² = E, closed form). With ``pressing_n``, a force that goes on pushing
    while the pad gives: ½kx² = E + Px.
    """
    require_positive(("the pad's stiffness", stiffness_n_per_mm, "N/mm"), ("the energy of the blow", energy_j, "J"))
    require_between("the force that goes on pressing", pressing_n, "N", 0.0, 1e9)
    energy_n_mm = 1e3 * energy_j
    force = pressing_n + sqrt(pressing_n**2 + 2 * energy_n_mm * stiffness_n_per_mm)
    return Squeeze(force / stiffness_n_per_mm, force)


def strain(pad: RubberPad, squeeze: Squeeze) -> float:
    """Give over thickness; the linear law holds while it is small. InputError if nothing of the pad is left."""
    if squeeze.give_mm >= pad.thickness_mm:
        message = f"the pad would give {squeeze.give_mm:z.2f} mm and is {pad.thickness_mm:g} mm thick"
        raise InputError(Fault(message, hint="choose a thicker, larger or stiffer pad, or a longer lever"))
    return squeeze.give_mm / pad.thickness_mm


def lean_moment_nm(mass_kg: float, height_mm: float, lean_deg: float, gravity: float = GRAVITY) -> float:
    """Moment m g h sin(lean) of a mass whose centre stands ``height_mm`` above the line it leans about.

    It has the sign of ``lean_deg``, which counts from upright (closed form).
    """
    _require_mass(mass_kg, height_mm, gravity)
    require_between("the lean", lean_deg, "degrees", -STEEPEST_LEAN, STEEPEST_LEAN)
    return mass_kg * gravity * height_mm / 1e3 * sin(radians(lean_deg))


def fall_energy_j(mass_kg: float, height_mm: float, from_deg: float, to_deg: float, gravity: float = GRAVITY) -> float:
    """Energy m g h (cos from - cos to) that a fall from one lean to a steeper one sets free (closed form)."""
    _require_mass(mass_kg, height_mm, gravity)
    for name, lean in (("the lean before the fall", from_deg), ("the lean after the fall", to_deg)):
        require_between(name, lean, "degrees", -STEEPEST_LEAN, STEEPEST_LEAN)
    if abs(to_deg) <= abs(from_deg):
        message = f"from {from_deg:g} to {to_deg:g} degrees nothing falls"
        raise InputError(Fault(message, hint="give a lean after the fall that is farther from upright"))
    return mass_kg * gravity * height_mm / 1e3 * (cos(radians(from_deg)) - cos(radians(to_deg)))


def _require_pad(size: tuple[str, float], thickness_mm: float, modulus_mpa: float, bulk_modulus_mpa: float) -> None:
    given = [
        (*size, "mm"),
        ("pad thickness", thickness_mm, "mm"),
        ("the pad's Young's modulus", modulus_mpa, "MPa"),
    ]
    if bulk_modulus_mpa != inf:
        given.append(("the pad's bulk modulus", bulk_modulus_mpa, "MPa"))
    require_positive(*given)


def _require_mass(mass_kg: float, height_mm: float, gravity: float) -> None:
    require_positive(
        ("the mass", mass_kg, "kg"), ("the height of its centre", height_mm, "mm"), ("gravity", gravity, "m/s²")
    )
