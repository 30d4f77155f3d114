"""Text for pictures: the font that comes with Pillow, and words cut to what it can write and to the room there is."""

from __future__ import annotations

import unicodedata
from functools import lru_cache

from PIL import ImageFont

from assembly.printable import visible

_LONGEST = 1000
"""Characters looked at; no line of a picture has room for more."""
_PLAIN = {
    "ß": "ss", "ø": "o", "Ø": "O", "æ": "ae", "Æ": "AE", "œ": "oe", "ł": "l", "Ł": "L", "đ": "d", "ð": "d", "þ": "th",
    "×": "x", "·": ".", "–": "-", "—": "-", "−": "-", "‘": "'", "’": "'", "“": '"', "”": '"', "µ": "u", "μ": "u",
    "≤": "<=", "≥": ">=", "→": "->", "⌀": "diameter ",
}  # fmt: skip
_MISSING = "\uffff"
"""No character at all: drawn as the box that stands for every glyph the font lacks."""


@lru_cache(maxsize=32)
def font(size: int) -> ImageFont.FreeTypeFont:
    """Pillow's own scalable font, ``size`` pixels high; OSError where Pillow was built without FreeType."""
    found = ImageFont.load_default(max(size, 1))
    if not isinstance(found, ImageFont.FreeTypeFont):
        raise OSError("Pillow was built without FreeType and has no scalable font")
    return found


def drawable(text: str) -> str:
    """``text`` in one line of characters that the font has: accents dropped, the rest put as a question mark."""
    words = visible(" ".join(text[:_LONGEST].split()))
    letters = "".join(_letters(character) for character in unicodedata.normalize("NFC", words))
    while "??" in letters:
        letters = letters.replace("??", "?")
    return " ".join(letters.split())


def shortened(text: str, size: int, width: float) -> str:
    """``text`` as drawn at ``size``, its middle left out where it is longer than ``width`` pixels.

    Both ends stay, because names of parts differ most there ("..._left").
    """
    whole = drawable(text)
    face = font(size)
    if face.getlength(whole) <= width:
        return whole
    low, high = 0, len(whole)
    while low < high:
        kept = (low + high + 1) // 2
        low, high = (kept, high) if face.getlength(_both_ends(whole, kept)) <= width else (low, kept - 1)
    return _both_ends(whole, low)


def _both_ends(text: str, kept: int) -> str:
    head = (kept + 1) // 2
    tail = kept - head
    return f"{text[:head].rstrip()}…{text[len(text) - tail :].lstrip() if tail else ''}"


@lru_cache(maxsize=4096)
def _letters(character: str) -> str:
    """One character as the font can write it."""
    kind = unicodedata.category(character)
    if kind in {"Cf", "Mn", "Me"}:
        return ""
    if _has_glyph(character):
        return character
    if character in _PLAIN:
        return _PLAIN[character]
    parts = "".join(part for part in unicodedata.normalize("NFKD", character) if _has_glyph(part))
    return parts or "?"


@lru_cache(maxsize=4096)
def _has_glyph(character: str) -> bool:
    if not character.isprintable():
        return False
    face = font(20)
    return character == " " or bytes(face.getmask(character)) != bytes(face.getmask(_MISSING))
