"""Notes beside points of a drawing: put where they cover no label."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Annotation, Text
    from matplotlib.transforms import Bbox

REACHES = (14, 34, 64)
"""Points from what is noted to its note, sideways and up or down, the nearest tried first."""
BORDER = 5
"""Pixels that a note's border takes round its words."""


def clear_notes(sheet: Figure) -> None:
    """Move each note of ``sheet`` to where it covers fewest labels and stays within its axes; leave out the covered.

    What has only notes or only labels stays as it is.
    """
    from matplotlib.text import Annotation

    busy: list[tuple[Axes, list[Annotation], list[Text]]] = []
    for axes in sheet.axes:
        notes = [text for text in axes.texts if isinstance(text, Annotation)]
        labels = [text for text in axes.texts if not isinstance(text, Annotation) and text.get_text()]
        if notes and labels:
            busy.append((axes, notes, labels))
    if busy:
        sheet.draw_without_rendering()
    for axes, notes, labels in busy:
        for note in notes:
            _settle(axes, note, labels)


def _settle(axes: Axes, note: Annotation, labels: list[Text]) -> None:
    taken = [label.get_window_extent() for label in labels]
    inside = axes.get_window_extent()
    places = [(reach * across, reach * up) for reach in REACHES for across in (1, -1) for up in (1, -1)]
    places.sort(key=lambda place: _cost(note, place, taken, inside))
    box = _put(note, places[0])
    for label, extent in zip(labels, taken, strict=True):
        if box.overlaps(extent):
            label.set_visible(False)


def _put(note: Annotation, place: tuple[int, int]) -> Bbox:
    """Put a note at ``place``, points from its point; gives the pixels that it then takes."""
    from matplotlib.text import Text

    note.set_position(place)
    note.set_horizontalalignment("left" if place[0] > 0 else "right")
    note.set_verticalalignment("bottom" if place[1] > 0 else "top")
    return Text.get_window_extent(note).padded(BORDER)


def _cost(note: Annotation, place: tuple[int, int], taken: list[Bbox], inside: Bbox) -> int:
    """How many labels are covered; to reach out of the axes is worse than any."""
    box = _put(note, place)
    within = inside.x0 <= box.x0 and box.x1 <= inside.x1 and inside.y0 <= box.y0 and box.y1 <= inside.y1
    return sum(box.overlaps(other) for other in taken) + (0 if within else len(taken) + 1)
