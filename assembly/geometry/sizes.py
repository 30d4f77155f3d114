"""Whether one shape's size or place says that its unit was meant otherwise: STL, OBJ and PLY do not state one."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np

from assembly.geometry.mesh import Floats, Mesh

_WILD = 200.0
"""Times smaller or larger than the rest that no one means without saying so."""
_MACHINE_SMALLEST, _MACHINE_LARGEST = 1 / 1000, 20.0
"""Sizes, in spans of the machine's points, beyond which the same holds."""
_MACHINE_USUAL = (1 / 50, 3.0)
"""Sizes that fit the machine's points so well that the odd one out is among the rest."""
_UNITS = {1000.0: "metres", 25.4: "inches", 10.0: "centimetres"}
_NEAR = 0.05
_FAR_MM = 10_000.0
_FAR_SPANS = 20.0


@dataclass(frozen=True, slots=True)
class SizeFinding:
    """A doubt about one shape. ``fault`` where no result may be called clear before the builder has answered it."""

    name: str
    message: str
    fault: bool


def size_findings(
    named: Mapping[str, Mesh], points: Floats | None = None, stated: Collection[str] = ()
) -> list[SizeFinding]:
    """Doubts about the size and place of each of the ``named`` shapes against the others and the machine's ``points``.

    ``points`` (n, 3) mm are the hardpoints. Shapes in ``stated`` have a unit or scale that the builder
    wrote down, or dimensions: for them a wild size is a note, and a size off by just a unit is not said.
    """
    boxes = {name: mesh.bounds for name, mesh in named.items() if len(mesh.faces)}
    spans = {name: float(np.linalg.norm(box[1] - box[0])) for name, box in boxes.items()}
    machine = None if points is None or len(points) < 2 else np.array([points.min(axis=0), points.max(axis=0)])
    findings, alone = [], len(boxes) < 2
    others = np.zeros((1, 4))
    if not alone:
        middles = np.array([box.mean(axis=0) for box in boxes.values()])
        others = _medians_without(np.column_stack([list(spans.values()), middles]))
    for (name, box), (typical, *middle) in zip(boxes.items(), others.tolist(), strict=False):
        if size := _size_doubt(name, spans[name], typical, _span(machine), name in stated):
            findings.append(size)
        home = machine
        if home is None and not alone:
            home = np.array(middle) * np.ones((2, 1))
        if home is not None and (place := _place_doubt(name, box, home, _span(machine) or typical)):
            findings.append(place)
    return findings


def _medians_without(values: Floats) -> Floats:
    """Of each row (n, c), n > 1, the medians (c,) of all other rows."""
    order = np.argsort(values, axis=0, kind="stable")
    ordered, rank = np.take_along_axis(values, order, axis=0), np.argsort(order, axis=0)
    middle = (len(values) - 2) // 2, (len(values) - 1) // 2
    low, high = (np.take_along_axis(ordered, place + (place >= rank), axis=0) for place in middle)
    return np.asarray((low + high) / 2)


def _span(box: Floats | None) -> float:
    return 0.0 if box is None else float(np.linalg.norm(box[1] - box[0]))


def _size_doubt(name: str, span: float, typical: float, machine: float, stated: bool) -> SizeFinding | None:
    """What is doubtful about a size of ``span`` mm where the others are ``typical`` and the points span ``machine``."""
    fits = machine > 0 and _MACHINE_USUAL[0] <= span / machine <= _MACHINE_USUAL[1]
    wild = typical > 0 and not fits and not 1 / _WILD < span / typical < _WILD
    if wild:
        return SizeFinding(name, _size_message(span, typical, "the rest"), fault=not stated)
    if machine > 0 and not _MACHINE_SMALLEST < span / machine < _MACHINE_LARGEST:
        return SizeFinding(name, _size_message(span, machine, "the span of the points"), fault=not stated)
    off = max(span / typical, typical / span) if typical > 0 and span > 0 else 1.0
    if not stated and any(abs(off / factor - 1) <= _NEAR for factor in _UNITS):
        return SizeFinding(name, _size_message(span, typical, "the rest"), fault=False)
    return None


def _size_message(span: float, against: float, what: str) -> str:
    times = max(span / against, against / max(span, 1e-300))
    factor = min(_UNITS, key=lambda known: abs(np.log(times / known)))
    if span < against:
        question = f"is the file in {_UNITS[factor]}?"
    else:
        question = f"was a unit or scale {factor:g} times too large used?"
    way = "smaller" if span < against else "larger"
    return (
        f"is {times:.4g} times {way} than {what} ({span:.3g} mm across against {against:.3g} mm): {question} "
        "State `unit` or `scale` to say what is meant"
    )


def _place_doubt(name: str, box: Floats, home: Floats, size: float) -> SizeFinding | None:
    """Whether ``box`` lies far from the box ``home``, both (2, 3) mm, of a machine that is ``size`` mm across."""
    away = float(np.linalg.norm(np.maximum(0.0, np.maximum(home[0] - box[1], box[0] - home[1]))))
    if away <= _FAR_MM and (size <= 0 or away <= _FAR_SPANS * size):
        return None
    message = f"lies {away:.4g} mm away from the rest of the machine: is it drawn in the machine's coordinates?"
    return SizeFinding(name, message, fault=False)
