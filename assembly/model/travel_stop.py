"""What the builder says of a stop: what it ends, what strikes what, what stands where, and the room it must leave."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

Triple = tuple[float, float, float]


class RangeEnd(StrEnum):
    """Which end of its drive's range a stop takes."""

    LOW = "low"
    HIGH = "high"

    @property
    def sign(self) -> int:
        """-1 for the low end, 1 for the high one."""
        return 1 if self is RangeEnd.HIGH else -1

    @property
    def opposite(self) -> RangeEnd:
        """The other end."""
        return RangeEnd.LOW if self is RangeEnd.HIGH else RangeEnd.HIGH


@dataclass(frozen=True, slots=True)
class Pad:
    """A block with a flat end, hard where it has no ``modulus``."""

    across: float
    """mm: a disc's diameter or a square's side."""
    square: bool = False
    modulus: float | None = None
    """MPa; the maker's number or a test's."""
    bulk: float | None = None
    """MPa."""
    thickness: float | None = None
    """mm of elastic pad at the end; None: all of the height."""


@dataclass(frozen=True, slots=True)
class StopBolt:
    """A bolt or set screw whose end is struck: nominal ``diameter`` and ``pitch`` in mm."""

    diameter: float
    pitch: float


@dataclass(frozen=True, slots=True)
class Margin:
    """What must be left when the stop has taken the blow."""

    joints: float = 2.0
    """Degrees or mm before any joint's limit."""
    clearance: float = 0.0
    """mm between any other parts, where that is more than they must keep anyway."""
    play: float = 0.0
    """Of the drive, in its unit; comes on top."""


@dataclass(frozen=True, slots=True)
class StopLoad:
    """What presses on the stop: a moment (turning drives), a force (sliding ones), or a mass that leans."""

    moment: float | None = None
    """N·m"""
    force: float | None = None
    """N"""
    mass: float | None = None
    """kg"""
    height: float | None = None
    """mm of the mass's centre above the line it leans about; None until it is known, and without a mass."""
    factor: float = 1.0
    """Multiplies the force of what does not come slowly."""
    fall_from: float | None = None
    """Degrees: the lean from which the mass falls onto the stop."""


@dataclass(frozen=True, slots=True)
class TabSize:
    """The plate that a fastener bears in, mm and MPa."""

    thickness: float
    tensile: float
    hole: float
    end: float
    edge: float


@dataclass(frozen=True, slots=True)
class Fasteners:
    """The bolts across the force that hold the stop: all of one size and property class, sharing it evenly."""

    size: str
    grade: str
    bolts: int = 1
    planes: int = 1
    tab: TabSize | None = None


@dataclass(frozen=True, slots=True)
class Touch:
    """The faces that meet: a round one, of ``radius`` mm, on a flat one."""

    radius: float
    length: float | None
    """mm of a cylinder's contact line; None: the round face is a ball."""
    moduli: tuple[float, float]
    """Young's moduli of the round and the flat side in MPa."""
    poissons: tuple[float, float]
    """Poisson's ratios of both."""


@dataclass(frozen=True, slots=True)
class AheadOf:
    """A soft stop acts while the stop it is ``ahead_of`` still has ``by`` mm to go."""

    stop: str
    by: float


@dataclass(frozen=True, slots=True)
class TravelStop:
    """A stop at one end of a drive. Its pad or bolt stands on ``carrier`` at ``at``, along ``along`` (unit), at rest.

    ``striker`` moves against ``struck``; the carrier is one of them. ``height`` mm is how far the end stands out from
    ``at``; None while it is not known. ``step``: heights come in multiples of it, such as the thickness of a spacer.
    """

    name: str
    drive: str
    side: RangeEnd
    striker: str
    struck: str
    carrier: str
    at: Triple
    along: Triple
    form: Pad | StopBolt
    height: float | None = None
    step: float | None = None
    margin: Margin = Margin()
    ahead_of: AheadOf | None = None
    load: StopLoad | None = None
    fasteners: Fasteners | None = None
    touch: Touch | None = None
    twin_of: str = ""
    """The stop whose twin across the machine it is; empty where the file writes it out."""

    @property
    def other(self) -> str:
        """The part that meets the pad or bolt."""
        return self.striker if self.carrier == self.struck else self.struck
