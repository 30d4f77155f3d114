"""Numbers of one table of a mechanism file, each with its bounds; what is faulty is noted."""

from __future__ import annotations

from collections.abc import Callable
from math import isnan

from assembly.model.positions import Place
from assembly.model.quantities_read import Given
from assembly.model.reading import Bench


class TableNumbers:
    """Reads numbers of the table at ``place``."""

    def __init__(self, place: Place, bench: Bench) -> None:
        self.place, self.bench, self.log = place, bench, bench.log

    def optional(self, given: Given | None, read: Callable[[Given], float]) -> float | None:
        """What is given, or None."""
        return None if given is None else read(given)

    def amount(self, given: Given, at: Place) -> float:
        """A length in mm that may be 0."""
        return self.bench.figures.amount(given, (*self.place, *at))

    def positive(self, given: Given, at: Place, unit: str, most: float = 1e5) -> float:
        """A number above 0."""
        number = self.bench.figures.number(given, (*self.place, *at))
        if not isnan(number) and not 0 < number <= most:
            self.log.add((*self.place, *at), f"{number:g} {unit} is not above 0 and up to {most:g}", "give one that is")
        return number

    def slack(self, given: Given | None, at: Place, of: str) -> float:
        """Slack that is wanted, mm."""
        number = 0.0 if given is None else self.bench.figures.number(given, (*self.place, *at))
        if number < 0:
            told = f"a slack of {number:g} mm is wanted: {of} would be shorter than its path"
            self.log.add((*self.place, *at), told, "give the mm that are to be left everywhere, 0 or more")
            return 0.0
        return 0.0 if given is None else self.amount(given, at)
