"""Films as files: frames, times and colours come back out of GIF and MP4 as they went in."""

from io import BytesIO

import numpy as np
import pytest
from clocks import Clock
from picture_scenes import box
from PIL import Image, ImageSequence

from assembly.errors import InputError, PictureError, TimeLimitError
from assembly.geometry.moving_parts import Figure, Places
from assembly.report.render import picture_files, pictures, portrait
from assembly.report.render.picture_files import (
    HUNDREDTHS,
    RATE,
    check_film,
    gif_bytes,
    mp4_bytes,
    mp4_trouble,
    run_film,
    still_picture,
    turn_film,
)
from assembly.report.render.portrait import Look, Subject
from assembly.time_limit import time_limit

SIZE = (64, 48)


def frames(number):
    """A dark square that goes across a white ground."""
    for step in range(number):
        image = Image.new("RGB", SIZE, "white")
        image.paste((0, 90, 180), (4 * step, 16, 4 * step + 16, 32))
        yield image


def gif_frames(data):
    with Image.open(BytesIO(data)) as film:
        return [(frame.convert("RGB"), frame.info["duration"]) for frame in ImageSequence.Iterator(film)], film.info


def test_a_gif_holds_every_frame_for_its_time_and_runs_for_ever():
    found, info = gif_frames(gif_bytes(frames(7), 8))
    assert len(found) == 7
    assert {duration for _, duration in found} == {80}
    assert info["loop"] == 0
    for (one, _), other in zip(found, frames(7), strict=True):
        assert np.abs(np.asarray(one, dtype=int) - np.asarray(other, dtype=int)).max() < 8


def test_white_stays_white_in_a_gif_of_many_colours():
    noise = np.random.default_rng(5).integers(235, 256, (48, 64, 3), dtype=np.uint8)
    noise[:10] = 255
    ((image, _),), _ = gif_frames(gif_bytes([Image.fromarray(noise)], 8))
    assert (np.asarray(image)[:10] == 255).all()


def test_an_mp4_holds_every_frame_at_its_rate():
    av = pytest.importorskip("av")
    with av.open(BytesIO(mp4_bytes(frames(9), 25))) as film:
        stream = film.streams.video[0]
        assert (stream.codec_context.name, stream.codec_context.pix_fmt) == ("h264", "yuv420p")
        assert (stream.width, stream.height, stream.average_rate) == (*SIZE, 25)
        found = [frame.to_ndarray(format="rgb24").astype(int) for frame in film.decode(stream)]
    assert len(found) == 9
    for one, other in zip(found, frames(9), strict=True):
        assert np.abs(one - np.asarray(other, dtype=int)).mean() < 3


def test_sides_of_an_mp4_are_even(monkeypatch):
    assert mp4_trouble((640, 480)) == ("", "")
    with pytest.raises(InputError, match="cannot be 641 × 481 pixels large; both must be even, such as 640 × 480"):
        check_film((641, 481), ".mp4")
    check_film((641, 481), ".gif")
    with pytest.raises(InputError, match="to 2048 × 2048"):
        check_film((2050, 900), ".gif")


def test_without_its_library_an_mp4_is_refused_with_what_helps(monkeypatch):
    monkeypatch.setattr(picture_files, "find_spec", lambda _name: None)
    with pytest.raises(
        InputError, match=r"MP4 needs the library av.*pip install av, or name a file that ends in \.gif"
    ):
        check_film((640, 480), ".mp4")
    check_film((640, 480), ".gif")


@pytest.fixture
def subject():
    figures = (Figure("bar", (("bar", box((60, 20, 20))),), np.zeros(3)),)
    centres = np.array([[[0.0, 0, 0]], [[30, 0, 0]], [[60, 0, 0]]])
    return Subject("Rig", ("a", "b", "c"), figures, Places(centres, np.tile(np.eye(3), (3, 1, 1, 1))))


LOOK = Look(("left",), (640, 360))


def test_a_film_has_a_frame_for_every_place_and_tells_how_far_it_is(subject, opengl):
    told = []
    drawn = run_film(subject, LOOK, ".gif", lambda *state: told.append(state))
    found, _ = gif_frames(drawn)
    assert (len(found), found[0][0].size, found[0][1]) == (3, (640, 360), 10 * HUNDREDTHS)
    assert told == [("draw", 0, 0), *(("draw", done, 3) for done in (1, 2, 3))]


def test_a_turn_has_as_many_frames_as_asked(subject, opengl):
    av = pytest.importorskip("av")
    drawn = turn_film(subject, LOOK, ".mp4", 4, lambda *_: None)
    with av.open(BytesIO(drawn)) as film:
        assert film.streams.video[0].average_rate == RATE
        assert len(list(film.decode(video=0))) == 4


def test_where_opengl_does_not_work_it_is_said(subject, monkeypatch):
    monkeypatch.setattr(pictures, "opengl_trouble", lambda: "no OpenGL here")
    with pytest.raises(PictureError, match=r"no OpenGL here; the numbers do not depend on it"):
        still_picture(subject, LOOK)
    with pytest.raises(PictureError, match=r"no OpenGL here; the numbers do not depend on it"):
        run_film(subject, LOOK, ".gif", lambda *_: None)


def test_where_drawing_fails_it_is_said(subject, monkeypatch):
    monkeypatch.setattr(pictures, "opengl_trouble", lambda: "")
    monkeypatch.setattr(portrait, "rendering", lambda _: 1 / 0)
    with pytest.raises(PictureError, match="drawing failed: ZeroDivisionError"):
        run_film(subject, LOOK, ".gif", lambda *_: None)


def test_a_film_is_ended_by_the_time_limit_between_two_frames():
    """Films of a large machine took 20 s with a limit of 5."""
    clock, drawn = Clock(), []

    def slow():
        for frame in frames(7):
            clock.now += 1.0
            drawn.append(clock.now)
            yield frame

    with time_limit(2.5, clock), pytest.raises(TimeLimitError):
        picture_files._film(slow(), 7, ".gif", lambda *_: None)
    assert drawn == [1, 2, 3]


def test_no_picture_is_begun_with_too_little_time(monkeypatch):
    monkeypatch.setattr(picture_files, "still_sheet", None)
    with time_limit(0.5, Clock()), pytest.raises(TimeLimitError):
        still_picture(None, None)
