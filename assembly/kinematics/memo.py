"""What is worked out once, when it is first asked for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, TypeVar

Key = TypeVar("Key")
Value = TypeVar("Value")


class Memo(Generic[Key, Value]):
    """Values of a function of its keys, each worked out once. What is ``known`` changes no figure, only how soon it is.

    It grows with the keys: for those of which a machine has few, such as sets of its groups.
    """

    def __init__(self) -> None:
        self.known: dict[Key, Value] = {}

    def of(self, key: Key, make: Callable[[Key], Value]) -> Value:
        """The value of ``key``: the one known, or what ``make`` gives."""
        if key not in self.known:
            self.known[key] = make(key)
        return self.known[key]
