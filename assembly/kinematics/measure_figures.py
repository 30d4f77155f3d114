"""Measures as figures: what a protractor, a rule or a level held against points, lines and planes of parts reads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from assembly.kinematics.bodies import GROUND, Bodies
from assembly.kinematics.cable_figures import PathPoint, cable_figure
from assembly.kinematics.figures import FigureMotion
from assembly.kinematics.frames import Frames, at_postures
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Posture
from assembly.kinematics.taylor import Taylor, absolute, angle, cross_product, inner_product, inverse, size_of
from assembly.model.feature import Feature, FeatureKind
from assembly.model.measure import Measure, MeasureKind

DEGREES = 180.0 / np.pi
HALF_TURN = 180.0
QUARTER = 90.0
PATHS = (MeasureKind.PATH, MeasureKind.STRAIGHT, MeasureKind.BENDS)
"""Those of the paths of cables."""
PATH_GRAIN = 1e-9
"""mm: of the rounding of sums of lengths."""
NO_VALUE = {
    MeasureKind.ANGLE: "one of its lines points along the axis that the angle is about",
    MeasureKind.DISTANCE: "its two lines are parallel",
    **dict.fromkeys(PATHS, "two points of the cable meet, or it doubles back at a guide"),
}
"""Why a measure has no value where it has none."""


@dataclass(frozen=True, slots=True, eq=False)
class MeasureFigure:
    """A measure, and the body that each of its features moves with; the axis, if there is one, comes last.

    ``start``: what it comes to with all drives at 0, for one that counts from there.
    """

    measure: Measure
    of_features: tuple[int, ...]
    start: float = 0.0

    @property
    def name(self) -> str:
        """What the file calls it."""
        return self.measure.name

    @property
    def unit(self) -> str:
        """``deg`` or ``mm``."""
        return self.measure.unit

    @property
    def turning(self) -> bool:
        """Whether whole turns are to be distinguished."""
        return self.measure.is_turn

    @property
    def bodies(self) -> tuple[int, ...]:
        """The bodies that its features move with, each once."""
        return tuple(dict.fromkeys(self.of_features))

    @property
    def ends(self) -> tuple[float, float]:
        """The least and the most that it can be at all."""
        kind, kinds = self.measure.kind, {each.kind for each in self.measure.features}
        if kind is MeasureKind.BENDS:
            return 0.0, np.inf
        if kind in PATHS:
            return self._path_ends
        if kind is MeasureKind.COORDINATE or self.turning:
            return -np.inf, np.inf
        if kind is MeasureKind.DISTANCE:
            return (-np.inf if FeatureKind.PLANE in kinds else 0.0), np.inf
        across = FeatureKind.PLANE in kinds and len(kinds) > 1
        rises = kind is MeasureKind.LEVEL and FeatureKind.PLANE not in kinds
        return (-QUARTER, QUARTER) if across or rises else (0.0, HALF_TURN)

    @property
    def _path_ends(self) -> tuple[float, float]:
        """No path counts less than the hose that it lies in; one of arcs that do not fit may come to less than none."""
        paths = self.measure.paths
        held = all(path.at_least or not path.bend for path in paths)
        if self.measure.kind is not MeasureKind.PATH or not held:
            return -np.inf, np.inf
        least = sum(path.weight * path.at_least for path in paths) + self.measure.more - self.start
        low = least - PATH_GRAIN if all(path.weight >= 0 for path in paths) else -np.inf
        return low, least + PATH_GRAIN if all(path.weight <= 0 for path in paths) else np.inf

    def among(self, bodies: Sequence[int]) -> MeasureFigure:
        """The same over these ``bodies`` only, in this order."""
        return replace(self, of_features=tuple(map(bodies.index, self.of_features)))

    def of(self, frames: Frames) -> Taylor:
        """The measure (N,) in its unit; NaN and unbounded where it has no value."""
        if self.measure.kind is MeasureKind.DISTANCE:
            return self._distance(frames)
        if self.measure.kind is MeasureKind.COORDINATE:
            return self._coordinate(frames)
        if self.measure.paths:
            points = [
                PathPoint(body, np.array(feature.at), self._at(frames, number))
                for number, (body, feature) in enumerate(zip(self.of_features, self.measure.features, strict=True))
            ]
            return cable_figure(self.measure, points).plus(-self.start)
        return self._angle(frames).times(DEGREES)

    def _angle(self, frames: Frames) -> Taylor:
        axis = self.measure.axis
        u = self._along(frames, 0)
        if self.measure.kind is MeasureKind.LEVEL:
            return _between(u, self._along(frames, -1), self._is_plane(0), plane=True)
        v = self._along(frames, 1)
        if axis is None:
            return _between(u, v, self._is_plane(0), plane=self._is_plane(1))
        a = self._along(frames, -1)
        return angle(
            inner_product(a, cross_product(u, v)), inner_product(u, v) - inner_product(a, u) * inner_product(a, v)
        )

    def _is_plane(self, number: int) -> bool:
        return self.measure.features[number].kind is FeatureKind.PLANE

    def _distance(self, frames: Frames) -> Taylor:
        every = self.measure.features
        first, second = sorted(range(2), key=lambda k: list(FeatureKind).index(every[k].kind))
        away = self._at(frames, first) - self._at(frames, second)
        if every[first].kind is FeatureKind.LINE:
            both = cross_product(self._along(frames, first), self._along(frames, second))
            return absolute(inner_product(away, both) * inverse(size_of(both)))
        if every[second].kind is FeatureKind.PLANE:
            return inner_product(away, self._along(frames, second))
        if every[second].kind is FeatureKind.LINE:
            return size_of(cross_product(away, self._along(frames, second)))
        return size_of(away)

    def _coordinate(self, frames: Frames) -> Taylor:
        point = self._at(frames, 0)
        start = self._point(frames, self.measure.axis, -1)
        return inner_product(point - start, self._along(frames, -1))

    def _at(self, frames: Frames, number: int) -> Taylor:
        return self._point(frames, self.measure.features[number], number)

    def _point(self, frames: Frames, feature: Feature | None, number: int) -> Taylor:
        at = feature.at if feature is not None and feature.at is not None else (0.0, 0.0, 0.0)
        return frames.point(self.of_features[number], np.array(at))

    def _along(self, frames: Frames, number: int) -> Taylor:
        feature = self.measure.axis if number == -1 else self.measure.features[number]
        along = feature.along if feature is not None else None
        return frames.direction(self.of_features[number], np.array(along))


def _between(u: Taylor, v: Taylor, of_plane: bool, *, plane: bool) -> Taylor:
    """The angle in rad: of a line against a plane with its sign, else 0 to π between lines or normals."""
    across, ahead = size_of(cross_product(u, v)), inner_product(u, v)
    return angle(ahead, across) if of_plane != plane else angle(across, ahead)


def measure_figure(measure: Measure, bodies: Bodies) -> MeasureFigure:
    """A measure of a machine that is put together."""
    features = (*measure.features, *([measure.axis] if measure.axis else ()))
    return MeasureFigure(measure, tuple(bodies.body_of.get(each.part, GROUND) for each in features))


def measure_motion(measure: Measure, mechanism: Mechanism) -> FigureMotion:
    """The same as a motion that can be searched over the range."""
    figure, centres = measure_figure(measure, mechanism.bodies), mechanism.bodies.centres
    if measure.from_zero:
        start = float(figure.of(at_postures(mechanism.home, centres)).value[0])
        figure = replace(figure, start=start - measure.more)
    return FigureMotion(figure, centres)


def drawn_value(measure: Measure, bodies: Bodies) -> float:
    """What a measure comes to as drawn, which is with all drives at 0 but for lengths that are edited."""
    count = len(bodies.centres)
    drawn = Posture(bodies.centres[None], np.tile(np.eye(3), (1, count, 1, 1)))
    return float(measure_figure(measure, bodies).of(at_postures(drawn, bodies.centres)).value[0])
