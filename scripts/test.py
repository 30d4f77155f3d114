"""All checks of the repository, on a machine with nothing but Python: lint, format, types and tests.

Further arguments go to pytest: ``python3 scripts/test.py -k rod_end``.
"""

from __future__ import annotations

import subprocess
import sys

import environment

SOURCES = ("assembly", "scripts", "tests")
CHECKS = {
    "ruff check": ("ruff", "check", *SOURCES),
    "ruff format": ("ruff", "format", "--check", *SOURCES),
    "mypy": ("mypy",),
    "pytest": ("pytest", "-n", "auto"),
}


def main(pytest_arguments: list[str]) -> int:
    """Run every check, also after one has failed; 1 where any failed."""
    environment.prepare(".[dev]")
    statuses = {}
    for name, command in CHECKS.items():
        arguments = (*command, *pytest_arguments) if name == "pytest" else command
        print(f"── {' '.join(arguments)}", flush=True)
        python = str(environment.COMMANDS / "python")
        statuses[name] = subprocess.run([python, "-m", *arguments], cwd=environment.ROOT, check=False).returncode
    print("── summary")
    for name, status in statuses.items():
        print(f"{name:12} {f'failed, exit status {status}' if status else 'passed'}")
    return 1 if any(statuses.values()) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
