"""Which bodies of a machine have nothing to do with each other: independent groups.

Bodies that rows tie to each other otherwise than by the ground are one component, and components that one drive moves
are one group. No row speaks of bodies of two groups and no drive is in rows of two, so the equations of a group are a
system of their own: where its bodies stand depends on its own drives alone. Bodies that no drive moves belong to every
group, as the ground does.
"""

from __future__ import annotations

import networkx as nx
import numpy as np

from assembly.geometry.mesh import Ids
from assembly.kinematics.system import Equations


def independent_groups(equations: Equations) -> Ids:
    """Number (B,) of the group that each body is in, that of the lowest drive first; -1 where no drive moves it."""
    moved = (equations.ratios != 0).any(axis=0)
    together: nx.Graph[int] = nx.Graph()
    together.add_nodes_from(np.flatnonzero(moved).tolist())
    drives_of = []
    for component in equations.components:
        drives_of.append(np.flatnonzero((equations.ratios[component.rows] != 0).any(axis=0)).tolist())
        nx.add_path(together, drives_of[-1])
    group_of = {drive: k for k, own in enumerate(sorted(nx.connected_components(together), key=min)) for drive in own}
    numbers = np.full(len(equations.bodies), -1, dtype=np.intp)
    for component, own in zip(equations.components, drives_of, strict=True):
        if own:
            numbers[component.bodies] = group_of[own[0]]
    return numbers
