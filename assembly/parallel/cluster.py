"""Workers of a dask cluster: the only door to ``distributed``.

Whoever can reach a scheduler can run code on all its workers, and these on whoever asks them: for trusted networks
only. Tasks of a worker that is lost are run by others, by the scheduler's own doing. Workers may come and go.
"""

from __future__ import annotations

import asyncio
import logging
import time
import uuid
from collections.abc import Collection, Iterator, Mapping
from concurrent.futures import Future
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import partial
from importlib.metadata import version
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from assembly.errors import Fault, InputError
from assembly.parallel.context import context_bytes, received
from assembly.parallel.tasks import Outcome, Task, outcome_of
from assembly.parallel.workers import Workers, working_elsewhere
from assembly.program import program_facts

CONNECT_S = 10.0
FIRST_WORKER_S = 30.0
"""So long the first worker may take to come: clusters that grow as they are used have none at first."""
LOOK_S = 1.0
"""How often tasks look at the stop sign, and the client at how many workers there are."""
START = "start one with `dask scheduler` and workers with `dask worker tcp://HOST:8786 --nworkers auto --nthreads 1`"


def _dask() -> Any:
    """The library, which has no types."""
    import distributed

    return distributed


def facts() -> dict[str, str]:
    """What must be alike on every worker and here, by name."""
    return program_facts() | {name: version(name) for name in ("dask", "distributed")}


def differing(here: Mapping[str, str], there: Mapping[str, str]) -> str:
    """What is not alike, in words; nothing where all is."""
    other = [name for name in here if here[name] != there.get(name)]
    return ", ".join(f"{name} {there.get(name, 'missing')} instead of {here[name]}" for name in other)


@contextmanager
def on_cluster(address: str) -> Iterator[None]:
    """Let workers of the cluster whose scheduler is at ``address`` do what can be done by several.

    Raises InputError where it cannot be reached, has no workers, or one of them runs another program.
    """
    if find_spec("distributed") is None:
        hint = "install it: pip install 'swingroom[cluster]'"
        raise InputError(Fault("a cluster is reached through dask.distributed, which is not installed", hint=hint))
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    try:
        asyncio.run(_reached(address))
        client = _dask().Client(address, timeout=CONNECT_S, set_as_default=False)
    except (OSError, ValueError, TimeoutError, TypeError) as error:  # TypeError: tls:// without certificates
        raise InputError(Fault(f"no cluster answers at {address}", hint=START)) from error
    with client:
        _check_alike(client, address)
        with working_elsewhere(partial(ClusterWorkers, client)):
            yield


async def _reached(address: str) -> None:
    """Raise OSError, ValueError, TimeoutError or TypeError if none answers: a client that fails to start never ends."""
    await (await _dask().comm.connect(address, timeout=CONNECT_S)).close()


def _check_alike(client: Any, address: str) -> None:
    try:
        client.wait_for_workers(1, timeout=FIRST_WORKER_S)
    except TimeoutError as error:
        raise InputError(Fault(f"the cluster at {address} has no workers", hint=START)) from error
    here = facts()
    for worker, there in sorted(client.run(facts, on_error="return").items()):
        if isinstance(there, BaseException):
            hint = "install the same version of it there: pip install 'swingroom[cluster]'"
            raise InputError(Fault(f"the worker {worker} does not have this program ({there})", hint=hint))
        _refuse(differing(here, there), worker)


def _refuse(other: str, worker: str) -> None:
    """Raise InputError where anything is not alike."""
    if other:
        hint = "install the same on all machines; results must not depend on who computed them"
        raise InputError(Fault(f"the worker {worker} runs another program: {other}", hint=hint))


@dataclass(slots=True, eq=False)
class StopVariable:
    """A variable of the scheduler that says, once it is set, why all tasks should end; looked at now and then."""

    name: str
    looked: float = 0.0
    why: str = ""

    def read(self) -> str:
        """Why to end, empty as long as there is no reason."""
        if not self.why and time.monotonic() - self.looked >= LOOK_S:
            self.looked = time.monotonic()
            self.why = str(_dask().Variable(self.name).get(timeout=LOOK_S))
        return self.why


class ClusterWorkers(Workers):
    """The workers of ``client``: as many tasks are run at once as they have threads."""

    def __init__(self, client: Any, folder: Path) -> None:
        super().__init__(1, folder)
        self._client, self._executor = client, client.get_executor(pure=False)
        self._packed: Any = None
        self._looked = -LOOK_S
        self._variable = _dask().Variable(f"swingroom-{uuid.uuid4().hex}", client)
        self._variable.set("")

    @property
    def count(self) -> int:
        if time.monotonic() - self._looked >= LOOK_S:
            self._looked = time.monotonic()
            self._cores = max(1, sum(self._client.nthreads().values()))
        return self._cores

    def _hand_out(self) -> None:
        self._packed = self._client.scatter(context_bytes(self._context), broadcast=True, hash=False)

    def _submit(self, task: Task[Any], arguments: tuple[Any, ...]) -> Future[Any]:
        if self._packed.status != "finished":
            # All workers that had it are gone.
            self._hand_out()
        stop = StopVariable(self._variable.name)
        own = facts(), task, self._source.key, self._packed, stop, arguments
        submitted: Future[Any] = self._executor.submit(_run_there, *own)
        return submitted

    def _ask_to_end(self, why: str) -> None:
        self._variable.set(why)

    def _give_up(self, late: Collection[Future[Any]]) -> None:
        for future in late:
            future.cancel()

    def close(self) -> None:
        """Let go of all that is on the cluster."""
        with suppress(Exception):
            self._executor.shutdown(wait=False)
            self._packed = None
            self._variable.delete()


def _run_there(
    expected: Mapping[str, str],
    task: Task[Any],
    key: str,
    packed: bytes,
    stop: StopVariable,
    arguments: tuple[Any, ...],
) -> Outcome:
    """On a worker, which may have come after all were compared: one task."""

    def run() -> Any:
        _refuse(differing(expected, facts()), "that came later")
        return task(received(key, packed), stop, *arguments)

    return outcome_of(run)
