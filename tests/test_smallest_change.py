"""The linear problem of the smallest change, against answers that can be worked out on paper (closed form)."""

from dataclasses import replace

import numpy as np
import pytest

from assembly.clearance.sensitivity.smallest_change import (
    ChangeProblem,
    MarginRow,
    irreducible,
    nearest_change,
    smallest_change,
)
from assembly.model.allowed import Allowed

POST, NOSE = Allowed("post", 30.0, 28.0, 40.0), Allowed("nose", 20.0, 15.0, 25.0)


def row(name, margin, *slopes):
    return MarginRow(("pair", (name,), ""), np.array([30.0, 20.0]), margin, np.array(slopes, dtype=float))


SHORT, LOOSE = row("short", -3.0, 1, -1), row("loose", 5.0, 0, 1)


def problem(*rows, post=POST, nose=NOSE, **more):
    return ChangeProblem((post, nose), rows or (SHORT, LOOSE), 0.0, **more)


def values(found):
    return None if found is None else found.tolist()


def test_one_dimension_is_changed_rather_than_two_and_by_no_more_than_is_needed():
    assert values(smallest_change(problem())) in ([33.0, 20.0], [30.0, 17.0])
    assert values(smallest_change(problem(row("steeper", -3.0, 1, -2)))) == [30.0, 18.5]


def test_each_set_that_is_excluded_stays_at_least_in_part():
    first, second = frozenset({0}), frozenset({1})
    assert values(smallest_change(problem(excluded=[first]))) == [30.0, 17.0]
    assert values(smallest_change(problem(excluded=[second]))) == [33.0, 20.0]
    assert smallest_change(problem(excluded=[first, second])) is None
    assert smallest_change(problem(fixed=frozenset({0, 1}))) is None


def test_two_dimensions_share_what_is_too_much_for_one():
    tight = problem(post=replace(POST, high=32.0), nose=replace(NOSE, low=18.5))
    found = smallest_change(tight)
    assert found[0] - found[1] == pytest.approx(13.0)
    assert (found[0] <= 32.0, found[1] >= 18.5) == (True, True)


def test_weights_count_instead_of_how_many_change():
    """3 of the post at a weight of 5 is 15; the nose's steps of 2 cost 4 for 4 that is more than is needed."""
    stepped = problem(post=replace(POST, weight=5.0), nose=replace(NOSE, step=2.0))
    assert values(smallest_change(stepped)) == [30.0, 16.0]
    dear = problem(post=replace(POST, weight=5.0), nose=replace(NOSE, step=2.0, weight=4.0))
    assert values(smallest_change(dear)) == [31.0, 18.0]  # 2 * 4 + 1 * 5 = 13, against 15 and 16


def test_steps_and_sizes_are_met_exactly():
    assert values(smallest_change(problem(post=replace(POST, step=2.0), fixed=frozenset({1})))) == [34.0, 20.0]
    sizes = replace(NOSE, low=15.5, sizes=(15.5, 18.0, 20.0))
    assert values(smallest_change(problem(nose=sizes, fixed=frozenset({0})))) == [30.0, 15.5]
    assert values(smallest_change(problem(post=replace(POST, high=31.5), nose=sizes))) == [30.0, 15.5]
    assert values(smallest_change(problem(post=replace(POST, high=31.5), nose=replace(sizes, sizes=(18.0, 20.0))))) == [
        31.0,
        18.0,
    ]


def test_where_no_change_will_do_the_nearest_misses_least():
    tight = problem(post=replace(POST, high=31.0), nose=replace(NOSE, low=19.5))
    assert smallest_change(tight) is None
    assert values(nearest_change(tight)) == [31.0, 19.5]  # 1.5 of 3


def test_what_contradicts_is_irreducible():
    """Post at most 31 and nose at least 19.5 leave 1.5 of the 3; the loose rule and other limits are not in it."""
    tight = problem(post=replace(POST, high=31.0), nose=replace(NOSE, low=19.5))
    assert irreducible(tight) == ([SHORT.rule], [(0, 1), (1, -1)])
    assert irreducible(problem()) == ([], [])
    against = row("against", 1.0, -1, 1)  # the one asks for 3 more of post less nose, the other allows 1
    rules, limits = irreducible(problem(SHORT, LOOSE, against))
    assert (set(rules), limits) == ({SHORT.rule, against.rule}, [])


def test_no_step_goes_farther_than_it_may():
    near = {"near": np.array([30.0, 20.0]), "reach": np.array([1.0, 0.5])}
    assert smallest_change(problem(**near)) is None
    assert values(nearest_change(problem(**near))) == [31.0, 19.5]
