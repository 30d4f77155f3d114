"""Between what is known of a pair and bytes: JSON, which gives every float back to the last bit, packed."""

from __future__ import annotations

import json
import zlib
from dataclasses import fields
from typing import Any

import numpy as np

from assembly.clearance.known import Depth, Known, PairFound
from assembly.clearance.outcome import FirstContact, Overlap, PairResult, Region, Terms, Verdict
from assembly.clearance.pairs import CheckedPair, Trim
from assembly.clearance.witness import Witness
from assembly.geometry.mesh import Mesh

Packed = dict[str, Any]

NOBODY = CheckedPair("", "", 0.0, Trim(""), Trim(""), still=False)
"""Names are not kept: the same result may belong to parts of other names. Who recalls it puts its pair there."""
UNPACKED_APART = frozenset(("pair", "verdict", "terms", "region", "first_contacts", "overlap"))


def packed(known: Known) -> bytes:
    """What is known of a pair as bytes."""
    found = {
        depth.value: {"result": _result(one.result), "witness": _fields(one.witness)}
        for depth, one in known.found.items()
    }
    value = {"bound": known.bound, "at_rest": known.at_rest, "decided": known.decided, "found": found}
    return zlib.compress(json.dumps(value).encode(), 1)


def unpacked(data: bytes) -> Known:
    """What ``packed`` made bytes of. Raises ValueError, LookupError, TypeError or zlib.error on anything else."""
    value = json.loads(zlib.decompress(data))
    found = {
        Depth(depth): PairFound(_result_of(one["result"]), _made(Witness, one["witness"]))
        for depth, one in value["found"].items()
    }
    return Known(value["bound"], value["at_rest"], value["decided"], found)


def _fields(value: Any) -> Packed | None:
    """A flat value by its fields."""
    return None if value is None else {field.name: getattr(value, field.name) for field in fields(value)}


def _made(kind: Any, values: Packed | None) -> Any:
    """The flat value again: what was a tuple is a list in JSON."""
    return None if values is None else kind(**{name: _tuples(value) for name, value in values.items()})


def _tuples(value: Any) -> Any:
    return tuple(_tuples(entry) for entry in value) if isinstance(value, list) else value


def _result(result: PairResult) -> Packed:
    plain = {field.name: getattr(result, field.name) for field in fields(result) if field.name not in UNPACKED_APART}
    return {
        **plain,
        "verdict": result.verdict.value,
        "terms": _fields(result.terms),
        "region": _fields(result.region),
        "first_contacts": [_fields(contact) for contact in result.first_contacts],
        "overlap": None if result.overlap is None else _overlap(result.overlap),
    }


def _result_of(value: Packed) -> PairResult:
    plain = {name: _tuples(entry) for name, entry in value.items() if name not in UNPACKED_APART}
    return PairResult(
        **plain,
        pair=NOBODY,
        verdict=Verdict(value["verdict"]),
        terms=_made(Terms, value["terms"]),
        region=_made(Region, value["region"]),
        first_contacts=tuple(_made(FirstContact, contact) for contact in value["first_contacts"]),
        overlap=None if value["overlap"] is None else _overlap_of(value["overlap"]),
    )


def _overlap(overlap: Overlap) -> Packed:
    solid = overlap.solid
    mesh = {"vertices": solid.vertices.tolist(), "faces": solid.faces.tolist(), "surface_error": solid.surface_error}
    return {**(_fields(overlap) or {}), "solid": mesh}


def _overlap_of(value: Packed) -> Overlap:
    mesh = value["solid"]
    vertices = np.array(mesh["vertices"], dtype=np.float64).reshape(-1, 3)
    faces = np.array(mesh["faces"], dtype=np.int64).reshape(-1, 3)
    plain: Packed = {name: _tuples(entry) for name, entry in value.items() if name != "solid"}
    return Overlap(**plain, solid=Mesh(vertices, faces, mesh["surface_error"]))
