"""``swingroom nightly`` for a timer, on a machine with nothing but Python: makes its own environment first.

    python3 scripts/nightly.py DIR... [--out DIR] [--history FILE] [--junit FILE]

Takes what ``swingroom nightly`` takes and ends with its exit status: 0 all proven clear, 3 something undecided,
1 something fails, 2 something is wrong with a file or a place; the worst counts, 2 being the worst.
"""

from __future__ import annotations

import os
import subprocess
import sys

import environment


def main(arguments: list[str]) -> int:
    """Run the nightly in the environment of this repository."""
    environment.prepare(".")
    command = [str(environment.COMMANDS / "swingroom"), "nightly", *arguments]
    if os.name == "posix":
        # In place of this process, so that whoever ends the one that the timer started ends the nightly.
        os.execv(command[0], command)  # noqa: S606 - our own command, no shell
    return subprocess.run(command, check=False).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
