"""Which tries of a test the suite makes, and which ``.ci/run`` alone: more of the same, that find what is rare."""

import pytest

MADE = type(pytest.param())


def first(values, most):
    """``values`` for ``parametrize``; those after the first ``most`` are marked ``long``."""
    every = [value if isinstance(value, MADE) else pytest.param(*_several(value)) for value in values]
    return [
        value._replace(marks=(*value.marks, pytest.mark.long)) if k >= most else value for k, value in enumerate(every)
    ]


def chosen(values, own):
    """``values`` for ``parametrize``; those that are not among the suite's ``own`` are marked ``long``."""
    assert set(own) <= set(values)
    return first(sorted(values, key=lambda value: value not in own), len(own))


def _several(value):
    return value if isinstance(value, tuple) else (value,)
