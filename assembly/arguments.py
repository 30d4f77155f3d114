"""Values of the command line that click does not know by itself."""

from __future__ import annotations

import re
from math import isfinite

import click

_SIZE = re.compile(r"([0-9]{1,15}(?:\.[0-9]{1,15})?) ?([kMG]?B|)", re.IGNORECASE | re.ASCII)
_UNITS = {"": 1, "b": 1, "kb": 1000, "mb": 10**6, "gb": 10**9}
_LARGEST = 10**12
DECIMAL_COMMA = "write a number with a point, such as tilt=12.5"


class Positive(click.ParamType[float]):
    """A finite number above zero."""

    name = "number"
    told = "not a number above 0"

    def accepts(self, number: float) -> bool:
        """Whether the number may be given."""
        return number > 0

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        try:
            number = float(str(value))
        except ValueError:
            number = float("nan")
        if not (isfinite(number) and self.accepts(number)):
            self.fail(f"{value} is {self.told}", param, ctx)
        return number


class NotNegative(Positive):
    """A finite number that is 0 or more."""

    told = "not a number, 0 or more"

    def accepts(self, number: float) -> bool:
        return number >= 0


class AnyNumber(Positive):
    """A finite number."""

    told = "not a number"

    def accepts(self, number: float) -> bool:
        return isfinite(number)


class Bytes(click.ParamType[int]):
    """A size of a file or of memory: a number of bytes, or one of kB, MB or GB."""

    name = "size"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> int:
        if isinstance(value, int):
            return value
        found = _SIZE.fullmatch(str(value).strip())
        size = round(float(found[1]) * _UNITS[found[2].lower()]) if found else 0
        if not 1 <= size <= _LARGEST:
            self.fail(f"{value!r} is no size; write 500MB, 1.5GB or a number of bytes", param, ctx)
        return size


class PixelSize(click.ParamType[tuple[int, int]]):
    """``WIDTHxHEIGHT`` in pixels."""

    name = "widthxheight"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> tuple[int, int]:
        if isinstance(value, tuple):
            return value
        width, _, height = str(value).lower().replace("×", "x").partition("x")
        if not (width.isascii() and width.isdigit() and height.isascii() and height.isdigit()):
            self.fail(f"{value!r} is not WIDTHxHEIGHT in whole pixels, such as 1600x900", param, ctx)
        return int(width[:9]), int(height[:9])


class NameValue(click.ParamType[tuple[str, float]]):
    """``NAME=VALUE`` for one drive."""

    name = "name=value"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> tuple[str, float]:
        if isinstance(value, tuple):
            return value
        name, _, number = str(value).partition("=")
        try:
            return name.strip(), float(number)
        except ValueError:
            self.fail(f"{value!r} is not NAME=VALUE; {DECIMAL_COMMA}", param, ctx)
