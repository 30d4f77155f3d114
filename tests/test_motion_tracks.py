"""A track for each drive: from the setting out to both ends and back, through solved poses only."""

import numpy as np
import pytest
from small_machines import SPINDLE, read, slider, trammel

from assembly.errors import InputError
from assembly.kinematics import keyframes
from assembly.studies.motion_tracks import SECONDS, track_drives


def part(tracked, track, name):
    index = [figure.name for figure in tracked.model.figures].index(name)
    return track.places.centres[:, index] - tracked.model.standing.centres[0, index]


def test_a_track_goes_from_the_setting_to_the_high_end_the_low_end_and_back():
    tracked = track_drives(read(slider()), {"push": 2.0}, still=False)
    (track,) = tracked.model.tracks
    moved = 2.0 - part(tracked, track, "sledge")[:, 1]  # along -y (own model)
    assert (moved[0], moved[-1]) == (2.0, 2.0)
    assert (moved.max(), moved.min()) == pytest.approx((8.0, -5.0))
    assert moved.argmax() < moved.argmin()
    assert (np.diff(track.seconds) > 0).all()
    speed = np.abs(np.diff(moved)) / np.diff(track.seconds)
    assert speed == pytest.approx(13.0 / SECONDS)  # the whole range in so many seconds
    (made,) = tracked.record.tracks
    assert (made.drive, made.from_, made.to, made.keys) == ("push", -5.0, 8.0, 13)


def test_every_drive_has_its_track_and_holds_the_others():
    tracked = track_drives(read(SPINDLE), {"lift": 5.0}, still=False)
    spin, lift = tracked.model.tracks
    assert (spin.name, lift.name) == ("spin", "lift")
    assert part(tracked, spin, "wheel") == pytest.approx(0.0, abs=1e-9)
    assert np.ptp(part(tracked, lift, "wheel")[:, 2]) == pytest.approx(12.0)
    assert max(made.error_mm for made in tracked.record.tracks) <= 0.1


def test_a_drive_at_the_end_of_its_range_goes_one_way():
    tracked = track_drives(read(SPINDLE), {}, still=False)
    lift = tracked.model.tracks[1]
    heights = part(tracked, lift, "wheel")[:, 2]
    assert (heights[0], heights.min(), heights.max(), heights[-1]) == pytest.approx((0, 0, 12, 0))
    assert lift.seconds[-1] == pytest.approx(2 * SECONDS)


def test_what_cannot_be_reached_is_in_no_track(monkeypatch):
    monkeypatch.setattr(keyframes, "FINEST", 4)  # quicker, and the end less close
    tracked = track_drives(read(trammel(low=-120.0)), {}, still=False)
    (made,), (left_out,) = tracked.record.tracks, tracked.record.left_out
    assert -100 < made.from_ < -97
    assert (left_out.first, left_out.last) == ({"push": made.from_}, {"push": -120.0})
    assert np.isfinite(tracked.model.tracks[0].places.centres).all()


def test_a_still_model_has_no_tracks():
    tracked = track_drives(read(slider()), {"push": 3.0}, still=True)
    assert (tracked.model.tracks, tracked.record.tracks) == ((), ())
    assert len(tracked.model.standing) == 1


def test_a_setting_that_cannot_be_is_refused():
    with pytest.raises(InputError, match="its range in the file is"):
        track_drives(read(slider()), {"push": 99.0}, still=True)
