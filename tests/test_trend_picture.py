"""The trend picture: drawn whole for any run of values, labels apart, the rule always in sight."""

from itertools import pairwise

import numpy as np
import pytest
from PIL import Image
from tries import first

from assembly.errors import OutputError
from assembly.report.charts.trend_picture import (
    APART,
    MOST_LINES,
    TrendLine,
    TrendPanel,
    _labels,
    _span,
    _spread,
    draw_trend,
)
from assembly.report.render.palette import VERMILION


def panel(*lines):
    made = tuple(TrendLine(f"line $ {index}", "now", values) for index, values in enumerate(lines))
    return TrendPanel("Pairs", "mm", "too near", made, "Nothing to show.")


def drawn(tmp_path, runs, *panels):
    path = tmp_path / "trend.png"
    draw_trend("A machine with $dollars", [f"2026-03-{day + 1:02}\n03:10" for day in range(runs)], panels, path)
    assert [one.name for one in tmp_path.iterdir()] == ["trend.png"]
    return np.asarray(Image.open(path).convert("RGB"))


def holds(picture, colour):
    return bool((picture == np.array(colour)).all(axis=2).any())


@pytest.mark.parametrize(
    ("runs", "lines"),
    first(
        [
            pytest.param(1, [(2.0,)], id="one run"),
            pytest.param(2, [(0.0, 0.0)], id="exactly at the rule"),
            pytest.param(3, [(None, None, 4.0), (1.0, None, None)], id="gaps"),
            pytest.param(40, [tuple(float(x) for x in range(40))] * (MOST_LINES + 2), id="more lines than can be told"),
            pytest.param(2, [(-500.0, 1e6)], id="far apart"),
        ],
        3,
    ),
)
def test_any_run_of_values_is_drawn_with_the_rule_in_sight(tmp_path, runs, lines):
    assert holds(drawn(tmp_path, runs, panel(*lines), panel()), VERMILION)


def test_a_panel_without_lines_has_no_rule(tmp_path):
    assert not holds(drawn(tmp_path, 2, panel(), panel()), VERMILION)


def test_a_value_far_off_does_not_flatten_the_worst():
    low, high = _span(panel((100.0, 2.0), (3.0, 3.0)).lines)
    assert low < 0 < 3.0 < high < 20


def test_the_newest_of_every_line_and_every_low_is_inside():
    low, high = _span(panel((-7.0, 2.0), (3.0, 300.0)).lines)
    assert low < -7.0
    assert high > 300.0


@pytest.mark.parametrize("places", [[0.5] * 6, [0.99, 1.0, 0.98], [0.0, 0.01, 0.9], [0.3]])
def test_labels_stand_apart_inside_the_panel_and_in_order(places):
    spread = _spread(places)
    assert all(above - below >= APART - 1e-9 for below, above in pairwise(sorted(spread)))
    assert max(spread) <= 1.0
    assert min(spread) >= 0.0
    assert [spread.index(one) for one in sorted(spread)] == sorted(range(len(places)), key=places.__getitem__)


def test_a_folder_that_is_not_there_is_told(tmp_path):
    with pytest.raises(OutputError, match="cannot write"):
        draw_trend("x", ["now"], [panel((1.0,))], tmp_path / "nowhere" / "trend.png")


def test_the_leader_of_every_label_ends_at_its_lines_newest_value():
    from matplotlib.figure import Figure

    axes = Figure().subplots()
    lines = panel((1.0, 5.0), (2.0, 4.0), (3.0, None)).lines
    _labels(axes, lines, _span(lines))
    assert [text.xy for text in axes.texts] == [(1, 5.0), (1, 4.0), (0, 3.0)]
    assert {text.xycoords for text in axes.texts} == {"data"}
