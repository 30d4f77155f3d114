"""What a task is: what it is called with, what it gives, and how it is told to end."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from traceback import format_exception
from typing import Any, Protocol, TypeVar

Result = TypeVar("Result")


@dataclass(frozen=True, slots=True)
class StopFile:
    """A file that says, once it is there, why all tasks should end."""

    file: str

    def read(self) -> str:
        """Why to end, empty as long as there is no reason."""
        try:
            return Path(self.file).read_text(encoding="utf-8")
        except FileNotFoundError:
            return ""


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """What a task gave, or the error that it ended with: any other error is one of what should have run it."""

    result: Any = None
    error: Exception | None = None

    def get(self) -> Any:
        """The result. Raises what the task raised."""
        if self.error is not None:
            raise self.error
        return self.result


class StopSign(Protocol):
    """Says, once it is raised, why all tasks should end."""

    def read(self) -> str:
        """Why to end, empty as long as there is no reason."""
        ...


Task = Callable[..., Result]
"""Called with the context, the stop sign and the task's own arguments; a function that can be imported."""


def outcome_of(run: Callable[[], Any]) -> Outcome:
    """What ``run`` gives or raises."""
    try:
        return Outcome(run())
    except Exception as error:
        error.add_note("".join(format_exception(error)))
        return Outcome(error=error)
