"""A tolerance as a mechanism file writes it."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import PlainValidator, TypeAdapter

from assembly.model.schema import Number, NumberList, TwoNumbers

_BOTH: TypeAdapter[float | str] = TypeAdapter(Number)
_LIMITS: TypeAdapter[list[float | str]] = TypeAdapter(TwoNumbers)


def _tolerance(value: Any) -> float | str | list[float | str]:
    return _LIMITS.validate_python(value) if isinstance(value, list) else _BOTH.validate_python(value)


Tolerance = Annotated[float | str | NumberList, PlainValidator(_tolerance, json_schema_input_type=Number | TwoNumbers)]
"""One number for both ways, or by how much a dimension may lie below and above its value, with signs."""
