"""The JSON layout of every record, pinned: what older versions wrote must still be read, and read the same.

``record_layout.txt`` has a line for each key, with what its value is; ``?`` marks a key that older records may lack.
A key may be added there with a ``?``. One that goes, or whose value becomes another, makes histories unreadable.
``older_records`` were written by earlier versions: two by the first that had a history.
"""

import json
from pathlib import Path

import pytest
from pydantic import TypeAdapter

from assembly import record
from assembly.record import json_text, record_of

KINDS = (
    *("Record", "PoseRecord", "InspectRecord", "LoadsRecord", "LoadRangeRecord", "MapRecord", "RangeRecord"),
    *(
        "StopsRecord",
        "Comparison",
        "RunEntry",
        "PairPoint",
        "HelpRecord",
        "VariantsRecord",
        "RodsRecord",
        "WeightsRecord",
        "MeasuresRecord",
        "WheelsRecord",
        "CablesRecord",
        "SpreadRecord",
        "SurveyRecord",
        "ChecksRecord",
    ),
)
LAYOUT = Path(__file__).with_name("record_layout.txt")
OLDER = sorted((Path(__file__).parent / "older_records").glob("*.json"))


def lines(schema, definitions, place, seen):
    """A line for each key below ``place``: its way, and the JSON type of its value; what came before is named."""
    if "$ref" in schema:
        schema = definitions[schema["$ref"].rpartition("/")[2]]
    if "anyOf" in schema:
        value, nothing = schema["anyOf"]
        assert nothing == {"type": "null"}
        yield from lines(value, definitions, f"{place}|null", seen)
    elif "properties" in schema:
        before = seen.setdefault(json.dumps(schema["properties"]), place)
        if before != place:
            yield f"{place} as {before}"
            return
        for key, value in schema["properties"].items():
            later = "" if key in schema.get("required", ()) else "?"
            yield from lines(value, definitions, f"{place}.{key}{later}", seen)
    elif schema.get("type") == "object":
        yield from lines(schema["additionalProperties"], definitions, f"{place}{{}}", seen)
    elif "prefixItems" in schema:
        values = schema["prefixItems"]
        same = all(value == values[0] for value in values)
        for number, value in [(len(values), values[0])] if same else enumerate(values):
            yield from lines(value, definitions, f"{place}[{number}{' times' if same else ''}]", seen)
    elif schema.get("type") == "array":
        yield from lines(schema["items"], definitions, f"{place}[]", seen)
    else:
        words = schema.get("enum") or ([schema["const"]] if "const" in schema else [])
        yield f"{place} {'|'.join(map(str, words)) or schema['type']}"


def layout():
    seen = {}
    for kind in KINDS:
        schema = TypeAdapter(getattr(record, kind)).json_schema()
        yield from lines(schema, schema.get("$defs", {}), kind, seen)


def test_the_layout_of_every_record_is_as_it_was():
    now, pinned = list(layout()), LAYOUT.read_text(encoding="utf-8").splitlines()
    assert [line for line in pinned if line not in now] == [], "what older versions wrote is no more read as it was"
    assert [line for line in now if line not in pinned] == [], "write these lines, each with a `?`, where they belong"
    assert now == pinned


def without_later_keys(value, older):
    """``value`` without the keys that ``older`` lacks, which were added since."""
    if isinstance(value, dict) and isinstance(older, dict):
        return {key: without_later_keys(value[key], one) for key, one in older.items() if key in value}
    if isinstance(value, list) and isinstance(older, list) and len(value) == len(older):
        return [without_later_keys(*both) for both in zip(value, older, strict=True)]
    return value


@pytest.mark.parametrize("path", OLDER, ids=lambda path: path.stem)
def test_a_record_of_an_older_version_is_read_and_comes_out_with_all_that_was_written(path):
    text = path.read_text(encoding="utf-8")
    older = json.loads(text)
    assert without_later_keys(json.loads(json_text(record_of(text, path.name))), older) == older


def test_there_are_older_records():
    assert OLDER
