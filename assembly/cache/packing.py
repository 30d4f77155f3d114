"""Between what is known of a pair and bytes: JSON, packed."""

from __future__ import annotations

import json
import zlib
from dataclasses import replace

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Exclusion
from assembly.clearance.proof.cached import CachedPair, PairFound
from assembly.record.jsonform import made_of, plain

NOBODY = CheckedPair("", "", 0.0, Exclusion(""), Exclusion(""), rigidly_coupled=False)
"""Names are not kept: the same result may belong to parts of other names. Who recalls it puts its pair there."""


def packed(known: CachedPair) -> bytes:
    """What is known of a pair as bytes."""
    found = {depth: _nameless(one) for depth, one in known.found.items()}
    return zlib.compress(json.dumps(plain(replace(known, found=found))).encode(), 1)


def unpacked(data: bytes) -> CachedPair:
    """What ``packed`` made bytes of. Raises ValueError or zlib.error on anything else."""
    return made_of(CachedPair, zlib.decompress(data))


def _nameless(found: PairFound) -> PairFound:
    return replace(found, result=replace(found.result, pair=NOBODY))
