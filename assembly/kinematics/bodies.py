"""Parts that move as one, and the loops that joints close between them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType

import networkx as nx
import numpy as np

from assembly.geometry.mesh import Floats
from assembly.model.machine import Joint, Machine, Vector

GROUND = 0


@dataclass(frozen=True, slots=True, eq=False)
class Bodies:
    """Groups of parts tied rigidly; body 0 is the ground, made of every fixed part and what is rigid with it.

    ``centres`` (B, 3) mm: the point of each body, at rest, that its motion is reported about.
    """

    members: tuple[tuple[str, ...], ...]
    body_of: Mapping[str, int]
    centres: Floats

    def __len__(self) -> int:
        return len(self.members)

    def label(self, body: int) -> str:
        """The parts of a body in a few words."""
        names = self.members[body]
        return names[0] if len(names) == 1 else f"{names[0]} (with {', '.join(names[1:])})"


def gather_bodies(machine: Machine) -> Bodies:
    """Group the parts of ``machine`` into bodies, in the order of the file."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(machine.parts)
    fixed = [name for name, part in machine.parts.items() if part.fixed]
    nx.add_path(graph, fixed)
    welded = (joint for joint in machine.joints.values() if not joint.kind.has_freedom)
    graph.add_edges_from((joint.first, joint.second) for joint in welded)
    order = {name: index for index, name in enumerate(machine.parts)}
    groups = [tuple(sorted(group, key=order.__getitem__)) for group in nx.connected_components(graph)]
    groups.sort(key=lambda names: (not any(name in fixed for name in names), order[names[0]]))
    body_of = {name: body for body, names in enumerate(groups) for name in names}
    return Bodies(tuple(groups), MappingProxyType(body_of), _centres(machine, groups))


def _centres(machine: Machine, groups: list[tuple[str, ...]]) -> Floats:
    """The middle of each body's joints: levers stay short, which keeps the motion bounds tight."""
    centres = np.zeros((len(groups), 3))
    body_of = {name: body for body, names in enumerate(groups) for name in names}
    places: dict[int, list[Vector]] = {}
    for joint in moving_joints(machine):
        places.setdefault(body_of[joint.first], []).append(joint.at_first)
        places.setdefault(body_of[joint.second], []).append(joint.at_second)
    for body, own in places.items():
        centres[body] = (np.min(own, axis=0) + np.max(own, axis=0)) / 2
    return centres


def moving_joints(machine: Machine) -> list[Joint]:
    """The joints that let something move, in the order of the file."""
    return [joint for joint in machine.joints.values() if joint.kind.has_freedom]


class Chains:
    """The shortest chains of joints between bodies, looked for from a body when it is first asked for."""

    def __init__(self, machine: Machine, bodies: Bodies) -> None:
        self._graph: nx.Graph[int] = nx.Graph(_joint_graph(machine, bodies))
        self._from: dict[int, dict[int, list[int]]] = {}

    def between(self, first: int, last: int) -> tuple[int, ...]:
        """Both, then those between them on the shortest chain of joints, if any connects them."""
        if first not in self._from:
            self._from[first] = nx.single_source_shortest_path(self._graph, first)
        return (first, last, *self._from[first].get(last, [])[1:-1])


def joint_ends(machine: Machine, bodies: Bodies) -> list[tuple[int, int]]:
    """The two bodies of each moving joint, in the order in which chains are looked for."""
    return [(bodies.body_of[one.first], bodies.body_of[one.second]) for one in moving_joints(machine)]


def loop_through(machine: Machine, bodies: Bodies, joint_name: str) -> tuple[str, ...]:
    """Names of the joints of the shortest loop that ``joint_name`` closes; the joint alone where it closes none."""
    graph = _joint_graph(machine, bodies)
    joint = machine.joints[joint_name]
    ends = bodies.body_of[joint.first], bodies.body_of[joint.second]
    graph.remove_edge(*ends, key=joint_name)
    try:
        path = nx.shortest_path(graph, *ends)
    except nx.NetworkXNoPath:
        return (joint_name,)
    return joint_name, *(min(graph[a][b]) for a, b in pairwise(path))


def loop_numbers(ends: Sequence[tuple[int, int]]) -> list[int]:
    """For each joint between two bodies, which lot of loops that share joints it is part of; -1: of none."""
    graph: nx.Graph[int] = nx.Graph()
    graph.add_edges_from(ends)
    numbers: dict[frozenset[int], int] = {}
    for number, edges in enumerate(nx.biconnected_component_edges(graph)):
        numbers.update((frozenset(edge), number) for edge in edges)
    lots = [numbers.get(frozenset(one), len(numbers) + body) for body, one in enumerate(ends)]
    many = Counter(lots)
    return [lot if many[lot] > 1 or one[0] == one[1] else -1 for lot, one in zip(lots, ends, strict=True)]


def loops(machine: Machine, bodies: Bodies) -> tuple[tuple[str, ...], ...]:
    """The independent closed loops, each as the names of its joints; shortest first.

    A basis of shortest rings has no chords, so the joints between the bodies of a ring are the ring. No ring passes
    through a body twice, so bodies that one body alone joins have rings of their own.
    """
    graph = _joint_graph(machine, bodies)
    simple: nx.Graph[int] = nx.Graph(graph)
    simple.remove_edges_from(list(nx.selfloop_edges(simple)))
    lots = [simple.subgraph(nodes) for nodes in nx.biconnected_components(simple) if len(nodes) > 2]
    rings = [lot.subgraph(nodes).edges for lot in lots for nodes in nx.minimum_cycle_basis(lot)]
    found = [tuple(sorted(min(graph[a][b]) for a, b in ring)) for ring in rings]
    for a, b, key in graph.edges(keys=True):
        if a == b:
            found.append((key,))
        elif key != min(graph[a][b]):
            found.append(tuple(sorted((key, min(graph[a][b])))))
    return tuple(sorted(found, key=lambda names: (len(names), names)))


def _joint_graph(machine: Machine, bodies: Bodies) -> nx.MultiGraph[int]:
    graph: nx.MultiGraph[int] = nx.MultiGraph()
    graph.add_nodes_from(range(len(bodies)))
    for joint in moving_joints(machine):
        graph.add_edge(bodies.body_of[joint.first], bodies.body_of[joint.second], key=joint.name)
    return graph
