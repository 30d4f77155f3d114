"""What is told on a map's picture: the verdict, the deepest place, and notes that cover no label."""

from dataclasses import replace

import made_records
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from test_map_picture import record

from assembly.report.charts.map_marks import deepest_strike, map_heading, point_told
from assembly.report.charts.notes import clear_notes

STRUCK = made_records.pair(verdict="fails", overlap=made_records.overlap(2.0), at={"tilt": 20.0, "lift": -3.0})
FAILING = replace(made_records.record([STRUCK], "fails"), reason="1 of 1 pairs come nearer than they may")


def test_the_verdict_of_the_sweep_stands_first():
    told = map_heading(record(swept=FAILING))
    assert told.startswith("FAILS: frame strikes wheel at tilt +20°")
    assert "least clearance of" in told.splitlines()[-1] or "least clearance of" in told.splitlines()[-2]


def test_a_slice_has_no_verdict_but_what_was_measured_in_it():
    slice_ = record(swept=FAILING, held={"steer": 5.0})
    assert map_heading(slice_).startswith("Too near in ")
    near = record(gap=lambda *_: 5.0, swept=FAILING, held={"steer": 5.0})
    assert map_heading(near).startswith("Nowhere too near in 96 squares measured; that is no verdict")


def test_where_parts_strike_the_deepest_place_is_marked_and_not_the_first_without_a_gap():
    at, words = deepest_strike(record(swept=FAILING))
    assert at == (20.0, -3.0)
    assert words.startswith("at least 2.00 mm deep\ntilt +20°, lift −3")
    assert deepest_strike(record()) is None


def test_a_note_goes_where_it_covers_no_label():
    sheet = Figure(figsize=(6, 4), dpi=60)
    FigureCanvasAgg(sheet)
    axes = sheet.subplots()
    axes.set(xlim=(0, 10), ylim=(0, 10))
    labels = [axes.text(5.5, 5.6, "3.6 mm"), axes.text(5.2, 4.0, "1.2 mm")]
    point_told(axes, (4.9, 4.9), "0.00 mm\ntilt −20°", "least", above=True)
    (note,) = (text for text in axes.texts if text not in labels)
    sheet.draw_without_rendering()
    beside = [label.get_window_extent() for label in labels]
    assert any(note.get_bbox_patch().get_window_extent().overlaps(box) for box in beside)
    clear_notes(sheet)
    sheet.draw_without_rendering()
    assert not any(note.get_bbox_patch().get_window_extent().overlaps(box) for box in beside)
    assert all(label.get_visible() for label in labels)
