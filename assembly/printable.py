"""Text from outside so that it can be shown: nothing in it moves the cursor, turns the writing round or hides."""

from __future__ import annotations

import json
import re
import unicodedata

FORMULA = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""A cell that begins so is worked out by spreadsheets instead of shown; the wide forms too, as some read them."""

_PARTED_FORMULA = re.compile(rf";(?=[\s\"']*[{re.escape(''.join(FORMULA))}])")
_JOINERS = "\u200c\u200d"
"""They change how their neighbours are written, not where: emoji and several scripts are made with them."""
_SURROGATE = re.compile("[\ud800-\udfff]")
_NOT_ASCII = re.compile(r"[^\x20-\x7e]")


def visible(text: str, kept: str = "") -> str:
    """``text`` with control, bidirectional and other signs that show nothing spelled out, but for those ``kept``.

    Spaces of every width stay. Source of the kinds: the Unicode standard's general categories C, Zl and Zp.
    """
    return _NOT_ASCII.sub(lambda found: found[0] if _shows(found[0]) or found[0] in kept else _spelled(found[0]), text)


def visible_json(text: str) -> str:
    """JSON that holds the same, with such signs as JSON spells them; line ends stay."""

    def spelled(found: re.Match[str]) -> str:
        return found[0] if _shows(found[0]) or found[0] == "\n" else json.dumps(found[0])[1:-1]

    return _NOT_ASCII.sub(spelled, text)


def is_utf8(name: str) -> bool:
    """Whether the bytes of a name were UTF-8; those that were not come as lone surrogates (PEP 383)."""
    return not _SURROGATE.search(name)


def table_cell(text: str) -> str:
    """``text`` for a table that spreadsheets open: visible, and an apostrophe before what would be a formula.

    Also behind a semicolon: where that parts cells, what follows it is one.
    """
    shown = _PARTED_FORMULA.sub(";'", visible(text))
    return f"'{shown}" if text.lstrip().startswith(FORMULA) or text[:1] in {"\t", "\r"} else shown


def _shows(sign: str) -> bool:
    return sign.isprintable() or sign in _JOINERS or unicodedata.category(sign) == "Zs"


def _spelled(sign: str) -> str:
    return sign.encode("unicode_escape").decode("ascii")
