"""Numbers and names as pydantic checks them, and the faults that are raised meanwhile."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from pydantic import PlainValidator
from pydantic_core import PydanticCustomError

from assembly.model.fault_list import given, shown


def fault(message: str | Callable[[], str], hint: str | Callable[[], str] = "") -> PydanticCustomError:
    """A fault of our own; words that cost time are only asked for where they are told."""
    return PydanticCustomError("fault", "{message}", {"message": message, "hint": hint})


def misplaced(value: object, wanted: str, hint: str = "") -> PydanticCustomError:
    """The fault of a ``value`` of the wrong kind."""
    return fault(lambda: f"{given(value)} stands where {wanted} is needed", hint)


def finite_or_arithmetic(value: Any) -> float | str:
    """A finite number, or arithmetic as it is written."""
    if isinstance(value, str):
        return value
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise misplaced(value, "a number", "write a number or arithmetic in quotes")
    try:
        read = float(value)
    except OverflowError:
        read = math.inf
    if not math.isfinite(read):
        raise fault(f"{shown(value)} is not a finite number", "write an ordinary number")
    return read


def plain_name(value: Any) -> str:
    """A text."""
    if not isinstance(value, str):
        raise misplaced(value, "a name", "write the name in quotes")
    return value


def number_or(word: str, hint: str) -> PlainValidator:
    """Checks what may be a number, arithmetic, or a ``word`` of the table's own; anything else gets the ``hint``."""

    def check(value: Any) -> float | str:
        if isinstance(value, bool) or not isinstance(value, (str, int, float)):
            raise misplaced(value, word, hint)
        return finite_or_arithmetic(value)

    return PlainValidator(check, json_schema_input_type=float | str)
