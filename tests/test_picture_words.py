"""What a picture says at its top, and that it says it in the page's colours."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from picture_scenes import gap_scene
from records import pair, record
from small_machines import quiet, read, slider
from stop_machines import rack
from tries import first

import assembly.report
from assembly.api.picture_scenes import nearest_scene, stop_scene
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.report.render import palette
from assembly.report.render.drawing import Drawing
from assembly.report.render.pictures import draw
from assembly.report.text.picture_words import stop_answer, swept_answer
from assembly.studies.stops.stop_design import settle_stops
from assembly.studies.sweep.check import check

CSS = (Path(assembly.report.__file__).parent / "page" / "css" / "colours.css").read_text()


@pytest.mark.parametrize(
    ("given", "answer"),
    [
        (pair("arm", "frame", 4.256), ("clear", "4.25 mm apart, 1 mm of clearance required")),
        (pair("arm", "frame", 0.5), ("fails", "0.50 mm apart, 1 mm of clearance required")),
        (pair("arm", "frame", -3.5), ("fails", "3.50 to 3.60 mm deep, 1 mm of clearance required")),
        (pair("arm", "frame", -0.001), ("fails", "touching, 1 mm of clearance required")),
        (
            pair("arm", "frame", 0.0, swallowed=True, verdict="fails"),
            ("fails", "one inside the other, 1 mm of clearance required"),
        ),
    ],
)
def test_a_sheet_opens_with_the_verdict_the_figure_and_what_is_required(given, answer):
    assert swept_answer(given, record(given)) == answer


def test_a_clear_pair_of_a_machine_that_fails_elsewhere_does_not_open_with_clear():
    given = pair("arm", "frame", 4.25)
    verdict, told = swept_answer(given, replace(record(given), verdict="fails"))
    assert verdict == "fails"
    assert told == "elsewhere; this pair clear, 4.25 mm apart, 1 mm of clearance required"


def test_the_sheet_of_a_sweep_has_the_verdict_of_its_pair():
    checked = check(read(slider()), Effort(), quiet)
    worst = checked.found[0].result
    scene = nearest_scene(checked, 0, record(pair("x", "y", 2.0, required_mm=1.5)))()
    assert scene.answer == "2.00 mm apart, 1.5 mm of clearance required"
    assert worst.pair.a in scene.title


@pytest.mark.usefixtures("opengl")
@pytest.mark.parametrize("verdict", first(["fails", "clear", "undecided"], 2))
def test_the_verdict_stands_in_its_colour_at_the_upper_left(verdict, tmp_path):
    from PIL import Image

    draw(replace(gap_scene(), verdict=verdict, answer="20.00 mm apart"), tmp_path / "one.png", (640, 360))
    with Image.open(tmp_path / "one.png") as image:
        corner = np.asarray(image.convert("RGB"))[:40, :160]
    shown = {ink for ink in palette.VERDICTS.values() if (corner == np.array(ink)).all(axis=2).sum() > 200}
    assert shown == {palette.VERDICTS[verdict]}


@pytest.mark.parametrize("name", ["ink", "soft", "rule", "sheet", "bad", "good", "open"])
def test_pictures_have_the_pages_colours(name):
    found = re.search(rf"--{name}: #(\w\w)(\w\w)(\w\w);", CSS)
    assert tuple(int(part, 16) for part in found.groups()) == getattr(palette, name.upper())


def luminance(colour):
    """WCAG 2.2: relative luminance."""
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in (one / 255 for one in colour)]
    return float(np.dot((0.2126, 0.7152, 0.0722), linear))


def test_the_verdicts_word_is_read_on_its_ground():
    assert min(1.05 / (luminance(ink) + 0.05) for ink in palette.VERDICTS.values()) >= 7


@pytest.fixture(scope="module")
def settled():
    return settle_stops(read(rack("step = 6.65")), Effort(decide_only=True, strikes_shown=False), quiet)


def test_a_picture_of_a_stop_says_its_angle_and_its_height_and_no_distance(settled):
    """The height is twice the step of 6.65 mm, as the file asks; it is struck where the design says."""
    (stop,) = settled.record.stops
    scene = stop_scene(settled)()
    assert scene.verdict == "holds"
    assert re.fullmatch(r"acts at \+[\d.]+ mm", scene.labels[0])
    assert float(scene.labels[0].split()[2]) == pytest.approx(stop.acts.setting, abs=0.005)
    assert scene.labels[1] == "13.30 mm high"
    assert scene.answer == f"stop {stop.name} {scene.labels[0]}, 13.30 mm high"


def test_a_stop_that_is_not_proven_is_not_shown_as_one_to_make(settled):
    _, told, labels = stop_answer("spacer", 61.72, replace(settled.record, verdict="undecided"))
    assert labels[1] == "tried 13.30 mm high: do not make it"
    assert "do not make it" in told


@pytest.mark.usefixtures("opengl")
def test_labels_of_a_stop_stand_in_both_views(monkeypatch, tmp_path, settled):
    told = []
    monkeypatch.setattr(Drawing, "callout", lambda _self, words, *_, **__: told.append(words))
    draw(stop_scene(settled)(), tmp_path / "stop.png", (640, 360))
    assert sorted(told) == sorted(stop_scene(settled)().labels)
