"""Tries to break the bound of single cells, one way of making bounds as hard as another.

``proof_attack`` tries what is proven of whole ranges, where the lowest bound alone counts. Here settings are taken from
single cells, whichever method their bounds were made by, and the two shapes are measured there anew.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from linkage_machines import Floats
from watched_sweep import Swept, from_rest

from assembly.clearance.narrow_phase.distance import nearest
from assembly.clearance.proof.lower_bound import Method
from assembly.clearance.proof.pair_search import PieceSearch
from assembly.kinematics.mechanism import Mechanism

ROUNDING = 1e-6
"""mm by which a measured distance may differ from itself on another way."""
TRIES = 2
"""Settings that are tried in one cell: corners and places inside in equal parts."""


@dataclass(frozen=True)
class Nearer:
    """A setting of a cell at which two shapes are nearer than the cell's bound."""

    method: Method
    about: str
    at: tuple[float, ...]
    distance: float
    bound: float


@dataclass(frozen=True)
class _Leaf:
    piece: PieceSearch
    method: Method
    bound: float
    setting: Floats


def attack_leaves(run: Swept, random: np.random.Generator, count: int) -> Iterator[Nearer]:
    """Every setting that breaks a bound, of about ``count`` cells for each method."""
    tried = list(_tried(run, random, count))
    if not tried:
        return
    for leaf in tried:
        solved = from_rest(_mechanism(run, leaf.piece), leaf.setting[None])
        if not solved.reached[0]:
            continue
        posture = solved.posture
        sides = leaf.piece.a, leaf.piece.b
        collision_models = [run.solids[side.solid] for side in sides]
        mechanism = _mechanism(run, leaf.piece)
        places = [mechanism.world_from_rest(posture, side.part)[0] for side in sides]
        distance = nearest(*collision_models, *places).distance - sum(
            collision_model.solid.mesh.surface_error for collision_model in collision_models
        )
        if distance < leaf.bound - ROUNDING:
            about = " and ".join(
                f"{collision_model.solid.shapes} of {side.part}"
                for collision_model, side in zip(collision_models, sides, strict=True)
            )
            yield Nearer(leaf.method, about, tuple(leaf.setting.tolist()), distance, leaf.bound)


def _tried(run: Swept, random: np.random.Generator, count: int) -> Iterator[_Leaf]:
    every = [piece for state in run.result.states if state.search for piece in state.search.pieces]
    owner = np.concatenate([np.full(len(piece.tiling.figures), number) for number, piece in enumerate(every)])
    row = np.concatenate([np.arange(len(piece.tiling.figures)) for piece in every])
    method = np.concatenate([piece.tiling.figures.method for piece in every])
    for kind in np.setdiff1d(method, [Method.NOTHING]):
        own = np.flatnonzero(method == kind)
        for index in random.choice(own, size=min(count, len(own)), replace=False):
            piece = every[owner[index]]
            for corner in np.arange(TRIES) % 2 == 0:
                setting = _setting(run, piece, int(row[index]), random, corner=bool(corner))
                yield _Leaf(piece, Method(kind), float(piece.tiling.figures.lower[row[index]]), setting)


def _setting(run: Swept, piece: PieceSearch, row: int, random: np.random.Generator, *, corner: bool) -> Floats:
    """A setting of a piece's cell; drives that are not cut stand anywhere, and all do for parts that never move."""
    drives: list[Any] = list(_mechanism(run, piece).machine.drives.values())
    setting = np.array([random.uniform(drive.low, drive.high) for drive in drives])
    if piece.search.pair.rigidly_coupled:
        return setting
    signs = random.choice([-1.0, 1.0], size=len(drives)) if corner else random.uniform(-1, 1, size=len(drives))
    if (product := piece.product) is not None:
        centre, half = (piece.search.reduced.narrowed(one) for one in (product.settings, product.half))
        cut = np.flatnonzero(half > 0).tolist()
        setting[cut] = (centre + signs[: len(half)] * half)[cut]
        return setting
    cells = run.groups.within(piece.search.reduced).rolled(piece.rolls).between(piece.a.body, piece.b.body)
    cell = piece.tiling.ids[row]
    inside = cells.settings[cell] + signs * cells.half[cell]
    cut = list(cells.drives)
    setting[cut] = inside[cut]
    return setting


def _mechanism(run: Swept, piece: PieceSearch) -> Mechanism:
    """The machine whose settings have columns for the rolls that move a piece."""
    return run.groups.within(piece.search.reduced).rolled(piece.rolls).mechanism
