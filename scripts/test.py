"""All checks of the repository, on a machine with nothing but Python: lint, format, types and tests.

``--fast`` leaves out the tests that are marked slow; ``--long`` makes nothing but the tries that are left out
otherwise, for ``.ci/run``. Further arguments go to pytest: ``python3 scripts/test.py -k rod_end``.
"""

from __future__ import annotations

import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

import environment

SOURCES = ("assembly", "scripts", "tests")
STATIC = {
    "ruff check": ("ruff", "check", *SOURCES),
    "ruff format": ("ruff", "format", "--check", *SOURCES),
    "mypy": ("mypy",),
}
TESTS = ("pytest", "-n", "auto", "--dist", "worksteal")
"""Each process has tests of its own in the order of the files, so that what a file makes once is seldom made twice."""
WHOLE = ("-m", "not long")
FAST = ("-m", "not slow and not long")
LONG = ("-m", "long")


AROUND = {
    "OPENBLAS_NUM_THREADS": "1",
    "MALLOC_MMAP_THRESHOLD_": "1000000000",
    "MALLOC_TRIM_THRESHOLD_": "4000000000",
}
"""There is a process for each core already, so the small matrices of the tests are not spread over threads as well;
and glibc keeps the memory of large arrays for the next ones, which are asked for all the time."""


def main(arguments: list[str]) -> int:
    """Run every check, also after one has failed; 1 where any failed."""
    environment.prepare(".[dev]")
    chosen = FAST if "--fast" in arguments else LONG if "--long" in arguments else WHOLE
    pytest = (*TESTS, *chosen, *(argument for argument in arguments if argument not in ("--fast", "--long")))
    checks = {} if chosen is LONG else STATIC
    with ThreadPoolExecutor(1) as beside:
        static = {name: beside.submit(_run, command, quiet=True) for name, command in checks.items()}
        print(f"── {' '.join(pytest)}", flush=True)
        tested = _run(pytest, quiet=False)
    done = {name: waiting.result() for name, waiting in static.items()} | {"pytest": tested}
    for name, run in done.items():
        if name in STATIC:
            print(f"── {' '.join(STATIC[name])}\n{run.stdout}", end="", flush=True)
    print("── summary")
    for name, run in done.items():
        print(f"{name:12} {f'failed, exit status {run.returncode}' if run.returncode else 'passed'}")
    return 1 if any(run.returncode for run in done.values()) else 0


def _run(command: tuple[str, ...], *, quiet: bool) -> subprocess.CompletedProcess[str]:
    """Run a module of the environment; ``quiet``: keep what it says, for others speak at the same time.

    Compiled modules are kept, whatever the surroundings say: many tests start an interpreter of their own.
    """
    own = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return subprocess.run(
        [str(environment.COMMANDS / "python"), "-m", *command],
        cwd=environment.ROOT,
        env={**AROUND, **own},
        check=False,
        text=True,
        stdout=subprocess.PIPE if quiet else None,
        stderr=subprocess.STDOUT if quiet else None,
    )


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
