"""How hard a stop presses where it touches: Hertz contact of smooth elastic bodies (H. Hertz 1882).

Holds while the contact is small beside the radii and nothing yields: compare the peak pressure with what the softer
side stands, which is the builder's number.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, pi, sqrt

from assembly.errors import Fault, InputError
from assembly.model.quantities import require_between, require_positive


@dataclass(frozen=True, slots=True)
class Elastic:
    """A material: Young's modulus and Poisson's ratio. ``RIGID`` gives no way at all."""

    modulus_mpa: float
    poisson: float

    def __post_init__(self) -> None:
        if self.modulus_mpa != inf:
            require_positive(("Young's modulus", self.modulus_mpa, "MPa"))
        require_between("Poisson's ratio", self.poisson, "", 0.0, 0.5)

    @property
    def compliance(self) -> float:
        """(1 - ν²) / E in 1/MPa."""
        return (1 - self.poisson**2) / self.modulus_mpa


RIGID = Elastic(inf, 0.0)
"""A side that is much harder than the other; not for both."""


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
    if first.modulus_mpa == second.modulus_mpa == inf:
        raise InputError(Fault("both sides of the contact are rigid", hint="give the modulus of the softer one"))
    return 1 / (first.compliance + second.compliance)
