"""Random machines of several groups that have nothing but the ground in common, and stand in each other's way."""

from dataclasses import replace

import numpy as np
from linkage_machines import GROUND, vector
from random_machines import FAMILIES, random_machine

from assembly.geometry.mesh import Mesh
from assembly.kinematics.assembling import assemble
from assembly.model.machine import Machine

FIRST = {"open_chain": 0, "four_bar": 1, "rod_between_cranks": 2, "slider_crank": 3, "shafts": 6, "plunger": 7}
"""A seed of each family whose machines are swept soon."""


def _called(name, group):
    return name if name == GROUND else f"{name}_of_{group}"


def _placed(shape, group, shift):
    mesh = Mesh(shape.mesh.vertices + shift, shape.mesh.faces, shape.mesh.surface_error)
    return replace(shape, name=f"{shape.name}_of_{group}", mesh=mesh)


def beside(made, group, shift):
    """``made`` with all names of its own, elsewhere."""

    def moved(place):
        return vector(np.array(place) + shift)

    parts = {
        _called(name, group): replace(
            part, name=_called(name, group), shapes=tuple(_placed(shape, group, shift) for shape in part.shapes)
        )
        for name, part in made.parts.items()
    }
    joints = {
        _called(name, group): replace(
            joint,
            name=_called(name, group),
            first=_called(joint.first, group),
            second=_called(joint.second, group),
            at_first=moved(joint.at_first),
            at_second=moved(joint.at_second),
        )
        for name, joint in made.joints.items()
    }
    drives = {
        _called(name, group): replace(
            drive, name=_called(name, group), ratios={_called(joint, group): by for joint, by in drive.ratios.items()}
        )
        for name, drive in made.drives.items()
    }
    return replace(made, parts=parts, joints=joints, drives=drives)


def together(*groups):
    """One machine of several, whose ground is one part."""
    ground = replace(
        groups[0].parts[GROUND], shapes=tuple(shape for made in groups for shape in made.parts[GROUND].shapes)
    )
    merged = {
        name: {key: value for made in groups for key, value in getattr(made, name).items()}
        for name in ("parts", "joints", "drives")
    }
    merged["parts"][GROUND] = ground
    return replace(groups[0], **merged)


def grouped_machine(seed: int, share: float = 1.0) -> Machine:
    """Two random machines near each other; of every third seed a third one, which a drive of the first moves too."""
    random, families = np.random.default_rng(seed), list(FIRST.values())
    chosen = random.choice(families, size=3 if seed % 3 == 0 else 2)
    groups = [
        beside(random_machine(int(own) + len(FAMILIES) * (seed + 7 * k), share), k, random.normal(scale=40.0, size=3))
        for k, own in enumerate(chosen)
    ]
    if seed % 3 == 0:
        groups[2] = _following(groups[0], groups[2])
    made = together(*groups)
    assemble(made)
    return replace(made, name=f"groups {seed}")


def _following(leader, made):
    """``made`` with a drive of the ``leader``'s in the place of its own first one of that kind, if it has any."""
    for name, drive in made.drives.items():
        alike = next((one for one in leader.drives.values() if one.kind == drive.kind), None)
        if alike is not None:
            share = min(abs(end) for end in (drive.low, drive.high) if end) / max(abs(alike.low), abs(alike.high))
            more = {joint: share * by for joint, by in drive.ratios.items()}
            others = {other: one for other, one in made.drives.items() if other != name}
            return replace(made, drives={alike.name: replace(alike, ratios={**alike.ratios, **more}), **others})
    return made
