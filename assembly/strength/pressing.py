"""What a stop takes when it acts: force, squeeze of its pad, shear of its fasteners, pressure where it is touched.

The pressure is that of Hertz's contact of smooth elastic bodies (H. Hertz 1882). It holds while the contact is small
beside the radii and nothing yields: compare the peak pressure with what the softer side stands, which is the builder's
number.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import degrees, inf, pi, radians, sqrt

from assembly.errors import Fault, InputError
from assembly.model.fault_list import listed, shown
from assembly.model.quantities import require_between, require_positive
from assembly.model.travel_stop import Fasteners, Pad, StopLoad, Touch, TravelStop
from assembly.record import HeldEntry, PressEntry
from assembly.strength.bolts import Bolt, Grade, Tab, bolt_shear_n, tab_bearing_n
from assembly.strength.stop_loads import (
    RubberPad,
    fall_energy_j,
    lean_moment_nm,
    round_pad,
    square_pad,
    squeeze_by_energy,
    squeeze_under_force,
    strain,
)


@dataclass(frozen=True, slots=True)
class Elastic:
    """A material: Young's modulus and Poisson's ratio."""

    modulus_mpa: float
    poisson: float

    def __post_init__(self) -> None:
        require_positive(("Young's modulus", self.modulus_mpa, "MPa"))
        require_between("Poisson's ratio", self.poisson, "", 0.0, 0.5)

    @property
    def compliance(self) -> float:
        """(1 - ν²) / E in 1/MPa."""
        return (1 - self.poisson**2) / self.modulus_mpa


def sphere_peak_mpa(radius_mm: float, force_n: float, sphere: Elastic, flat: Elastic) -> float:
    """Pressure at the middle of a sphere on a flat: 3 F / 2 π a² with a = (3 F R / 4 E*)^⅓."""
    require_positive(("the sphere's radius", radius_mm, "mm"), ("the force", force_n, "N"))
    contact: float = (3 * force_n * radius_mm / (4 * _contact_modulus(sphere, flat))) ** (1 / 3)
    return 3 * force_n / (2 * pi * contact**2)


def cylinder_peak_mpa(radius_mm: float, length_mm: float, force_n: float, cylinder: Elastic, flat: Elastic) -> float:
    """Pressure along the middle of a cylinder on a flat: 2 f / π b with b = √(4 f R / π E*) and f = F / ``length_mm``.

    The ends press harder.
    """
    require_positive(
        ("the cylinder's radius", radius_mm, "mm"),
        ("the length of the contact", length_mm, "mm"),
        ("the force", force_n, "N"),
    )
    per_mm = force_n / length_mm
    return 2 * per_mm / (pi * sqrt(4 * per_mm * radius_mm / (pi * _contact_modulus(cylinder, flat))))


def _contact_modulus(first: Elastic, second: Elastic) -> float:
    """E*: 1/E* = (1 - ν1²) / E1 + (1 - ν2²) / E2, in MPa."""
    return 1 / (first.compliance + second.compliance)


SMALL_STRAIN = 0.25
"""Share of its thickness beyond which a pad is stiffer than the linear law says (common practice)."""


def pressing(
    stop: TravelStop, load: StopLoad, at: float, approach: float, height: float, *, turning: bool
) -> PressEntry:
    """What ``stop`` of ``height`` mm takes under ``load`` where it is first struck, its drive standing at ``at``.

    ``approach``: mm by which the two come nearer per unit of the drive, so that work on both sides is the same. Raises
    InputError for numbers that cannot be and for a pad that is squeezed to nothing.
    """
    moment, energy = load.moment, None
    if load.mass is not None:
        moment = abs(lean_moment_nm(load.mass, load.height or 0.0, at))
        if load.fall_from is not None:
            energy = fall_energy_j(load.mass, load.height or 0.0, load.fall_from, at)
    work = 1e3 * (moment or 0.0) * radians(1.0) if turning else load.force or 0.0
    still = work / approach
    force, squeeze, strained, pad, falls = still * load.factor, None, None, None, False
    if isinstance(stop.form, Pad) and stop.form.modulus is not None:
        pad = _elastic(stop.form, stop.form.thickness or height)
        squeeze = squeeze_under_force(pad.stiffness_n_per_mm, force)
        if energy is not None:
            fallen = squeeze_by_energy(pad.stiffness_n_per_mm, energy, still)
            falls = fallen.force_n > squeeze.force_n
            squeeze = fallen if falls else squeeze
        force, strained = squeeze.force_n, strain(pad, squeeze)
    fasteners = None if stop.fasteners is None else held(stop.fasteners)
    return PressEntry(
        moment_nm=moment,
        force_n=force,
        energy_j=energy,
        give_mm=None if squeeze is None else squeeze.give_mm,
        strain=strained,
        strained=strained is not None and strained > SMALL_STRAIN,
        weak=fasteners is not None and fasteners.least_n < force,
        peak_mpa=None if stop.touch is None else _peak(stop.touch, force),
        still_n=still,
        factor=load.factor,
        arm_mm=degrees(approach) if turning else None,
        falls=falls,
        stiffness_n_per_mm=None if pad is None else pad.stiffness_n_per_mm,
        thickness_mm=None if pad is None else pad.thickness_mm,
    )


def held(fasteners: Fasteners) -> HeldEntry:
    """What the bolts that hold a stop take together (EN 1993-1-8, Table 3.4). InputError for what the tables lack."""
    if fasteners.grade not in list(Grade):
        raise InputError(
            Fault(f"no strength for property class {shown(fasteners.grade)}", hint=f"classes: {listed(Grade)}")
        )
    bolt = Bolt(fasteners.size, Grade(fasteners.grade))
    shear = fasteners.bolts * bolt_shear_n(bolt, planes=fasteners.planes, large_hole=False)
    if fasteners.tab is None:
        return HeldEntry(shear, None, shear)
    size = fasteners.tab
    tab = Tab(size.thickness, size.tensile, size.hole, size.end, size.edge)
    bearing = fasteners.bolts * tab_bearing_n(bolt, tab)
    return HeldEntry(shear, bearing, min(shear, bearing))


def _elastic(form: Pad, thickness: float) -> RubberPad:
    make = square_pad if form.square else round_pad
    return make(form.across, thickness, form.modulus or 0.0, form.bulk or inf)


def _peak(touch: Touch, force: float) -> float:
    first, second = (Elastic(*pair) for pair in zip(touch.moduli, touch.poissons, strict=True))
    if touch.length is None:
        return sphere_peak_mpa(touch.radius, force, first, second)
    return cylinder_peak_mpa(touch.radius, touch.length, force, first, second)
