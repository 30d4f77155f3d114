"""What the keys of a mechanism file are, for editors."""

from __future__ import annotations

import json

from assembly.model.file_schema import file_schema

SCHEMA_FILE = "swingroom.schema.json"
"""The name under which it lies beside a machine."""


def schema_text() -> str:
    """The JSON Schema (draft 2020-12) of a mechanism file, as it is written to files."""
    return json.dumps(file_schema(), indent=1, ensure_ascii=False) + "\n"
