"""Clocks that no machine is too slow for: they go on when a stage is reported, or a little at each look."""

from dataclasses import dataclass


@dataclass
class Clock:
    """Seconds as a test sets them; each look takes ``step`` of them."""

    now: float = 0.0
    step: float = 0.0
    looks: int = 0

    def __call__(self):
        self.looks += 1
        self.now += self.step
        return self.now

    def at(self, stage, now):
        """A progress that puts the clock to ``now`` when ``stage`` is reported."""

        def told(reached, _done, _total):
            if reached == stage:
                self.now = max(self.now, now)

        return told
