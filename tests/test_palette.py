import itertools

import pytest

from assembly.geometry.scene import Role
from assembly.report.render.palette import GAP, OVERLAP, PAINTS


def luminance(colour):
    """Relative luminance (WCAG 2.1)."""
    shares = [c / 255 for c in colour]
    linear = [s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


PUBLISHED = {(86, 180, 233), (240, 228, 66), (213, 94, 0)}  # Okabe and Ito: sky blue, yellow, vermilion; from memory


def test_the_strong_colours_are_the_published_ones():
    assert {PAINTS[Role.FIRST].fill, PAINTS[Role.SECOND].fill, OVERLAP.fill} == PUBLISHED


@pytest.mark.parametrize("paint", [PAINTS[Role.FIRST], PAINTS[Role.SECOND], OVERLAP])
def test_edges_and_the_gap_stand_out_from_faces_without_colour(paint):
    assert contrast(paint.fill, paint.line) > 2.5
    assert contrast(paint.fill, GAP) > 4.5


def test_the_three_differ_in_lightness_so_that_grey_prints_can_be_read():
    for one, other in itertools.combinations(PUBLISHED, 2):
        assert contrast(one, other) > 1.5
