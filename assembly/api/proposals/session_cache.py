"""What the sweeps of one search found of pairs: most trials touch few pairs, and the others are known from before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from assembly.clearance.proof.cached import CachedPair, ResultCache


class SessionCache:
    """A result cache in memory, in front of the one on disk if there is one."""

    def __init__(self, behind: ResultCache | None) -> None:
        self._behind, self._known = behind, dict[str, CachedPair]()

    def look_up(self, keys: Sequence[str]) -> Mapping[str, CachedPair]:
        """What is known by these keys."""
        rest = [key for key in keys if key not in self._known]
        if self._behind is not None and rest:
            self._known |= self._behind.look_up(rest)
        return {key: self._known[key] for key in keys if key in self._known}

    def keep(self, known: Mapping[str, CachedPair]) -> None:
        """Take note of what is known by these keys."""
        self._known |= known
        if self._behind is not None:
            self._behind.keep(known)
