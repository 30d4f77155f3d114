"""What a stop takes when it acts: force, squeeze of its pad, shear of its fasteners, pressure where it is touched."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, radians

from assembly.errors import Fault, InputError
from assembly.model.fault_list import listed, shown
from assembly.model.travel_stop import Fasteners, Pad, StopLoad, Touch, TravelStop
from assembly.strength.bolts import Bolt, Grade, Tab, bolt_shear_n, tab_bearing_n
from assembly.strength.contact import Elastic, cylinder_on_flat, sphere_on_flat
from assembly.strength.stop_loads import Pad as ElasticPad
from assembly.strength.stop_loads import (
    Squeeze,
    fall_energy_j,
    lean_moment_nm,
    round_pad,
    square_pad,
    squeeze_by_energy,
    squeeze_under_force,
    strain,
)

SMALL_STRAIN = 0.25
"""Share of its thickness beyond which a pad is stiffer than the linear law says (common practice)."""


@dataclass(frozen=True, slots=True)
class Held:
    """What a stop's fasteners take, N: in shear, and in the holes of the tab where one is given."""

    shear_n: float
    bearing_n: float | None

    @property
    def least_n(self) -> float:
        """The smaller of the two."""
        return min(self.shear_n, inf if self.bearing_n is None else self.bearing_n)


@dataclass(frozen=True, slots=True)
class Pressing:
    """What one stop takes, alone, when it acts.

    ``still_n`` is the force of the load at rest, ``force_n`` the largest: that times the stated ``factor``, or that of
    the fall where it is more (``falls``). ``approach``: mm by which the two come nearer per unit of the drive, over
    which the force holds the load. ``stiffness_n_per_mm`` and ``thickness_mm`` of an elastic pad.
    """

    moment_nm: float | None
    still_n: float
    factor: float
    approach: float
    force_n: float
    falls: bool
    energy_j: float | None
    stiffness_n_per_mm: float | None
    thickness_mm: float | None
    squeeze: Squeeze | None
    strain: float | None
    held: Held | None
    peak_mpa: float | None

    @property
    def give_mm(self) -> float:
        """How far the pad gives; 0 of a hard one."""
        return self.squeeze.give_mm if self.squeeze else 0.0

    @property
    def strained(self) -> bool:
        """Whether the pad is squeezed so far that its figures are not to be trusted."""
        return self.strain is not None and self.strain > SMALL_STRAIN

    @property
    def weak(self) -> bool:
        """Whether its fasteners take less than it does."""
        return self.held is not None and self.held.least_n < self.force_n


def pressing(stop: TravelStop, load: StopLoad, at: float, approach: float, height: float, *, turning: bool) -> Pressing:
    """What ``stop`` of ``height`` mm takes under ``load`` where it is first struck, its drive standing at ``at``.

    ``approach``: mm by which the two come nearer per unit of the drive, so that work on both sides is the same. Raises
    InputError for numbers that cannot be and for a pad that is squeezed to nothing.
    """
    moment, energy = load.moment, None
    if load.mass is not None:
        moment = abs(lean_moment_nm(load.mass, load.height, at))
        if load.fall_from is not None:
            energy = fall_energy_j(load.mass, load.height, load.fall_from, at)
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
    return Pressing(
        moment_nm=moment,
        still_n=still,
        factor=load.factor,
        approach=approach,
        force_n=force,
        falls=falls,
        energy_j=energy,
        stiffness_n_per_mm=None if pad is None else pad.stiffness_n_per_mm,
        thickness_mm=None if pad is None else pad.thickness_mm,
        squeeze=squeeze,
        strain=strained,
        held=None if stop.fasteners is None else held(stop.fasteners),
        peak_mpa=None if stop.touch is None else _peak(stop.touch, force),
    )


def held(fasteners: Fasteners) -> Held:
    """What the bolts that hold a stop take together (EN 1993-1-8, Table 3.4). InputError for what the tables lack."""
    if fasteners.grade not in list(Grade):
        raise InputError(
            Fault(f"no strength for property class {shown(fasteners.grade)}", hint=f"classes: {listed(Grade)}")
        )
    bolt = Bolt(fasteners.size, Grade(fasteners.grade))
    shear = fasteners.bolts * bolt_shear_n(bolt, planes=fasteners.planes, large_hole=False)
    if fasteners.tab is None:
        return Held(shear, None)
    size = fasteners.tab
    tab = Tab(size.thickness, size.tensile, size.hole, size.end, size.edge)
    return Held(shear, fasteners.bolts * tab_bearing_n(bolt, tab))


def _elastic(form: Pad, thickness: float) -> ElasticPad:
    make = square_pad if form.square else round_pad
    return make(form.across, thickness, form.modulus or 0.0, form.bulk or inf)


def _peak(touch: Touch, force: float) -> float:
    first, second = (Elastic(*pair) for pair in zip(touch.moduli, touch.poissons, strict=True))
    if touch.length is None:
        return sphere_on_flat(touch.radius, force, first, second).peak_mpa
    return cylinder_on_flat(touch.radius, touch.length, force, first, second).peak_mpa
