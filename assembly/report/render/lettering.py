"""Text for pictures: the font that comes with Pillow, and words cut to what it can write and to the room there is."""

from __future__ import annotations

import unicodedata
from functools import lru_cache

from PIL import ImageDraw, ImageFont

from assembly.printable import visible
from assembly.report.render.palette import Colour

_LONGEST = 1000
"""Characters looked at; no line of a picture has room for more."""
_PLAIN = {
    "ß": "ss", "ø": "o", "Ø": "O", "æ": "ae", "Æ": "AE", "œ": "oe", "ł": "l", "Ł": "L", "đ": "d", "ð": "d", "þ": "th",
    "×": "x", "·": ".", "–": "-", "—": "-", "‘": "'", "’": "'", "“": '"', "”": '"', "µ": "u", "μ": "u",
    "≤": "<=", "≥": ">=", "→": "->", "⌀": "diameter ",
}  # fmt: skip
_MINUS = "−"
"""Drawn as the bar of a plus, which is as wide: a hyphen is too short to be seen before a number."""
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


def text_width(text: str, size: int) -> float:
    """How many pixels wide ``draw_text`` draws a text."""
    return font(size).getlength(text.replace(_MINUS, "+"))


def draw_text(
    pen: ImageDraw.ImageDraw, spot: tuple[float, float], text: str, size: int, ink: Colour, seam: int, ground: Colour
) -> None:
    """Write ``text`` with ``spot`` at its upper left and ``seam`` pixels of ``ground`` round it."""
    face = font(size)
    plus, (left, top) = face.getmask2("+")
    first, high, last, low = plus.getbbox()
    middle, half = top + (high + low - 1) / 2, max(round(size / 12) - 1, 0) / 2
    x, y = spot
    for index, words in enumerate(text.split(_MINUS)):
        if index:
            bar = (x + left + first, y + middle - half, x + left + last - 1, y + middle + half)
            pen.rectangle((bar[0] - seam, bar[1] - seam, bar[2] + seam, bar[3] + seam), ground)
            pen.rectangle(bar, ink)
            x += face.getlength("+")
        pen.text((x, y), words, ink, face, stroke_width=seam, stroke_fill=ground)
        x += face.getlength(words)


def shortened(text: str, size: int, width: float) -> str:
    """``text`` as drawn at ``size``, its middle left out where it is longer than ``width`` pixels.

    Both ends stay, because names of parts differ most there ("..._left").
    """
    whole = drawable(text)
    if text_width(whole, size) <= width:
        return whole
    low, high = 0, len(whole)
    while low < high:
        kept = (low + high + 1) // 2
        low, high = (kept, high) if text_width(_both_ends(whole, kept), size) <= width else (low, kept - 1)
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
    if character == _MINUS or _has_glyph(character):
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
