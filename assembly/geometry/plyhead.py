"""What a PLY file promises, checked against what it holds before anything is made of it."""

from __future__ import annotations

import re

from assembly.errors import Fault, InputError

_LONGEST_HEADER = 1 << 16
_LONGEST_NUMBER = 64
_AGAIN = "damaged or made up: export or copy it again"


def require_plain(data: bytes, file: str) -> dict[bytes, int]:
    """How many of each element the header promises. Raises InputError if ``data`` cannot hold as many.

    So does a number in text that is longer than any number: its reader gives all numbers the room of the longest.
    """
    end = re.compile(rb"^end_header[ \t]*\r?\n?", re.MULTILINE).search(data, 0, _LONGEST_HEADER)
    header = data[: end.start() if end else _LONGEST_HEADER]
    promised: dict[bytes, int] = {}
    for line in re.findall(rb"^element\b.*", header, re.MULTILINE):
        words = line.split()
        known = len(words) == 3 and len(words[2]) < 19 and words[2].isdigit()
        if not known or words[1] in promised:
            given = line[:60].decode("utf-8", "replace").strip()
            raise InputError(
                Fault(f"cannot be read as PLY: `{given}` promises no number of things", file=file, hint=_AGAIN)
            )
        promised[words[1]] = int(words[2])
    body = len(data) - len(header)
    for kind, count in promised.items():
        if count > body:
            message = f"the header promises {count} of {kind.decode('utf-8', 'replace')}, and {body} bytes follow"
            raise InputError(Fault(message, file=file, hint=_AGAIN))
    if b"tristrips" in promised:
        raise InputError(Fault("holds strips of triangles", file=file, hint="only facets are read: export triangles"))
    text = re.search(rb"^format\s+ascii\b", header, re.MULTILINE)
    if text and re.compile(rb"\S{%d}" % (_LONGEST_NUMBER + 1)).search(data, len(header)):
        raise InputError(Fault(f"a number has more than {_LONGEST_NUMBER} digits", file=file, hint=_AGAIN))
    return promised
