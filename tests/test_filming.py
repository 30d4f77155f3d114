"""Settings that a picture or a film shows, and where every part stands at each."""

import numpy as np
import pytest
from small_machines import SPINDLE, read, slider, trammel

from assembly.errors import AssemblyError, InputError
from assembly.studies.filming import FilmWish, film


def test_one_setting_is_the_pose_asked_for():
    filmed = film(read(slider()), FilmWish({"push": 3.0}))
    assert filmed.settings.tolist() == [[3.0]]
    sledge = [figure.name for figure in filmed.figures].index("sledge")
    drawn = np.broadcast_to(np.array([0.0, 30, 0]) - filmed.figures[sledge].about, (len(filmed.figures), 1, 3))
    assert filmed.places.points(drawn)[0, sledge, 0] == pytest.approx([0, 27, 0])  # 30 less the setting


def test_what_is_rigid_with_the_ground_is_fixed():
    filmed = film(
        read(
            slider(
                extra="[parts.nut]\nshapes = [{ box = [0, 0, 30], size = [2, 2, 2] }]\n"
                '[joints.bolt]\nwelded = ["base", "nut"]\n'
            )
        ),
        FilmWish(),
    )
    assert {figure.name for figure in filmed.figures if figure.fixed} == {"base", "nut"}


def test_a_run_goes_to_both_ends_and_back_in_even_steps():
    filmed = film(read(slider()), FilmWish(run="push", frames=52))
    values = filmed.settings[:, 0]
    assert (values[0], values.max(), values.min()) == (0.0, 8.0, -5.0)
    assert list(values).index(8.0) < list(values).index(-5.0)
    steps = np.abs(np.diff(np.append(values, 0.0)))
    assert len(values) == 52
    assert steps.max() < 1.2 * 26 / 52  # there and back over 13 mm


def test_a_run_begins_where_it_is_set_and_holds_the_others():
    filmed = film(read(SPINDLE), FilmWish({"spin": 40.0, "lift": 6.0}, run="lift", frames=20))
    assert filmed.settings[0].tolist() == [40.0, 6.0]
    assert set(filmed.settings[:, 0]) == {40.0}
    assert (filmed.settings[:, 1].min(), filmed.settings[:, 1].max()) == (0.0, 12.0)


def test_once_round_the_ends_meets_every_corner_and_moves_one_drive_at_a_time():
    filmed = film(read(SPINDLE), FilmWish(ends=True, frames=60))
    corners = {(spin, lift) for spin in (-100.0, 100.0) for lift in (0.0, 12.0)}
    assert corners <= {tuple(setting) for setting in filmed.settings.tolist()}
    first = filmed.settings.tolist().index([100.0, 12.0])
    around = filmed.settings[first : first + filmed.settings[first:].tolist().index([100.0, 0.0])]
    assert (np.count_nonzero(np.diff(around, axis=0), axis=1) == 1).all()


def test_drives_that_are_set_are_not_moved_round_the_ends():
    filmed = film(read(SPINDLE), FilmWish({"spin": 30.0}, ends=True, frames=10))
    assert set(filmed.settings[:, 0]) == {30.0}
    assert {0.0, 12.0} <= set(filmed.settings[:, 1])


def test_what_cannot_be_put_together_is_left_out_and_told():
    filmed = film(read(trammel(low=-120.0)), FilmWish(run="push", frames=60))
    assert filmed.settings.min() > -100  # the rod is 100 mm long (closed form)
    assert len(filmed.places) == len(filmed.settings)
    (left_out,) = filmed.record.left_out
    assert left_out.first == {"push": -120.0}
    assert left_out.last["push"] == filmed.settings.min()


@pytest.mark.parametrize(
    ("wish", "told"),
    [
        (FilmWish({"psh": 1.0}), "the nearest of the drives is `push`"),
        (FilmWish({"push": 99.0}), "its range in the file is"),
        (FilmWish(run="psh"), "the nearest of the drives is `push`"),
        (FilmWish({"push": 1.0}, ends=True), "0 drives are free.*leave out a --set"),
    ],
)
def test_wishes_that_cannot_be_are_refused(wish, told):
    with pytest.raises(InputError, match=told):
        film(read(slider()), wish)


def test_too_many_ends_are_refused():
    more = "".join(
        f"[parts.p{k}]\nshapes = [{{ box = [{50 * k}, 90, 0], size = [2, 2, 2] }}]\n"
        f'[joints.j{k}]\nslide = ["base", "p{k}"]\n'
        f"at = [0, 90, 0]\nalong = [0, 0, 1]\n[drives.d{k}]\nslides = {{ j{k} = 1 }}\nrange = [0, 1]\n"
        for k in range(4)
    )
    with pytest.raises(InputError, match="5 drives are free, and a film goes round the ends of 1 to 4; hold others"):
        film(read(slider(extra=more)), FilmWish(ends=True))


def test_a_start_that_cannot_be_put_together_is_an_error():
    with pytest.raises(AssemblyError, match="cannot be put together at push -110"):
        film(read(trammel(low=-120.0)), FilmWish({"push": -110.0}, run="push"))
