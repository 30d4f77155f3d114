"""Distance queries in bulk, on any ``concurrent.futures`` executor: workers read the solids once and keep them.

python-fcl holds the interpreter lock and its objects cannot be sent, so a worker is a process that makes its
own from a file of the solids. Any executor whose workers can read that file will do.
"""

from __future__ import annotations

import pickle
import threading
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from assembly.clearance.narrow_phase.bounding_balls import Side
from assembly.clearance.narrow_phase.checked_pairs import Solid
from assembly.clearance.narrow_phase.distance import CollisionModel, about_middles, nearest_about
from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import inverse_rigid
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Posture
from assembly.parallel.workers import process_pool
from assembly.temporary import temporary_folder
from assembly.time_limit import result_in_time

CHUNK = 48
"""Queries sent to a worker in one go: some 10 ms of work."""


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """Distances wanted between solid ``a`` and solid ``b`` (numbers) at N places of b seen from a (N, 4, 4)."""

    a: int
    b: int
    a_from_b: Floats

    def __len__(self) -> int:
        return len(self.a_from_b)


def job_at(mechanism: Mechanism, a: Side, b: Side, posture: Posture) -> Job:
    """The job that measures two solids at each of N postures."""
    world_from_a, world_from_b = (mechanism.world_from_rest(posture, side.part) for side in (a, b))
    return Job(a.solid, b.solid, inverse_rigid(world_from_a) @ world_from_b)


class Bench:
    """Measures distances of numbered solids, here or on an executor's workers."""

    def __init__(self, solids: Sequence[Solid], folder: Path, executor: Executor | None) -> None:
        self.collision_models: list[CollisionModel] = []
        self.executor = executor
        self.queries = 0
        self.seconds = 0.0
        """Spent in queries, summed over the workers."""
        self._folder = folder
        self._stores: tuple[str, ...] = ()
        self._asked = False
        self.add(solids)

    def add(self, solids: Sequence[Solid]) -> None:
        """Make more solids ready; their numbers go on from those before."""
        if not solids:
            return
        self.collision_models += [CollisionModel(solid) for solid in solids]
        if self.executor is not None:
            store = self._folder / f"solids_{len(self._stores)}.pickle"
            store.write_bytes(pickle.dumps(tuple(solids)))
            self._stores = (*self._stores, str(store))
            # Workers that are forked from this thread need not read them.
            _KEPT.keep(self._stores, self.collision_models)

    def measure(self, jobs: Sequence[Job]) -> list[Floats]:
        """Distances (N,) mm for each job, in the order of the jobs whatever the number of workers."""
        return [found[:, 0] for found in self.look(jobs)]

    def look(self, jobs: Sequence[Job]) -> list[Floats]:
        """(N, 4) for each job: distance in mm, and the direction from a to b in which it was found, as a sees it."""
        self.queries += sum(len(job) for job in jobs)
        if self.executor is None:
            found, seconds = _measure(self.collision_models, jobs)
            self.seconds += seconds
            return found
        pieces = [
            (index, Job(job.a, job.b, job.a_from_b[start : start + CHUNK]))
            for index, job in enumerate(jobs)
            for start in range(0, len(job), CHUNK)
        ]
        bundles = _bundles(pieces)
        if bundles and not self._asked:
            # Workers are forked at the first question and find ready what it is about.
            for number in {number for job in jobs if len(job) for number in (job.a, job.b)}:
                self.collision_models[number].make_ready()
            self._asked = True
        futures = [self.executor.submit(_measure_there, self._stores, bundle) for bundle in bundles]
        parts: list[list[Floats]] = [[] for _ in jobs]
        for bundle, future in zip(bundles, futures, strict=True):
            measured, seconds = result_in_time(future)
            self.seconds += seconds
            for (index, _), own in zip(bundle, measured, strict=True):
                parts[index].append(own)
        return [np.concatenate(part) if part else np.zeros((0, 4)) for part in parts]


@contextmanager
def bench(solids: Sequence[Solid], cores: int, executor: Executor | None = None) -> Iterator[Bench]:
    """A bench on ``cores`` processes of this machine, or on the ``executor`` handed in (left open for its owner)."""
    with temporary_folder() as folder:
        own = None
        if executor is None and cores > 1:
            own = process_pool(cores, folder)
        try:
            yield Bench(solids, folder, executor or own)
        finally:
            _KEPT.keep((), ())
            if own is not None:
                own.shutdown(wait=True, cancel_futures=True)


def _bundles(pieces: list[tuple[int, Job]]) -> list[list[tuple[int, Job]]]:
    """Pieces put together so that one message to a worker carries at least a chunk of queries."""
    bundles: list[list[tuple[int, Job]]] = []
    size = CHUNK
    for piece in pieces:
        if size >= CHUNK:
            bundles.append([])
            size = 0
        bundles[-1].append(piece)
        size += len(piece[1])
    return bundles


def _measure(collision_models: Sequence[CollisionModel], jobs: Sequence[Job]) -> tuple[list[Floats], float]:
    """Distance and direction (N, 4) of each job, and the seconds it took."""
    began = time.perf_counter()
    found = []
    for job in jobs:
        own, a, b = np.zeros((len(job), 4)), collision_models[job.a], collision_models[job.b]
        for row, place in zip(own, about_middles(a, b, job.a_from_b), strict=True):
            near = nearest_about(a, b, place)
            row[0], row[1:] = near.distance, near.point_b - near.point_a
        lengths = np.linalg.norm(own[:, 1:], axis=1, keepdims=True)
        own[:, 1:] = np.where(own[:, :1] > 0, own[:, 1:] / np.maximum(lengths, 1e-300), 0.0)
        found.append(own)
    return found, time.perf_counter() - began


class _Kept(threading.local):
    """What a thread of a worker has made ready; threads share nothing, for a query moves the solids it asks about."""

    stores: tuple[str, ...] = ()
    collision_models: Sequence[CollisionModel] = ()

    def keep(self, stores: tuple[str, ...], collision_models: Sequence[CollisionModel]) -> None:
        """Keep ``collision_models`` of the solids in the files ``stores`` in the place of any others."""
        self.stores, self.collision_models = stores, collision_models

    def read(self, stores: tuple[str, ...]) -> None:
        """Read those of the files that are not read yet; begin anew where others were kept."""
        known = len(self.stores)
        if self.stores != stores[:known]:
            known, self.collision_models = 0, ()
        solids = [solid for store in stores[known:] for solid in pickle.loads(Path(store).read_bytes())]  # noqa: S301 - our own files
        self.keep(stores, [*self.collision_models, *map(CollisionModel, solids)])


_KEPT = _Kept()


def _measure_there(stores: tuple[str, ...], bundle: list[tuple[int, Job]]) -> tuple[list[Floats], float]:
    """On a worker: what a bundle asks; the solids are read the first time they are asked for."""
    if stores != _KEPT.stores:
        _KEPT.read(stores)
    return _measure(_KEPT.collision_models, [job for _, job in bundle])
