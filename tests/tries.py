"""Which tries of a test the suite makes, and which ``.ci/run`` alone: more of the same, that find what is rare."""

import pytest


def first(values, most):
    """``values`` for ``parametrize``; those after the first ``most`` are marked ``long``."""
    every = [value if isinstance(value, tuple) else (value,) for value in values]
    return [pytest.param(*value, marks=[pytest.mark.long] if k >= most else []) for k, value in enumerate(every)]


def chosen(values, own):
    """``values`` for ``parametrize``; those that are not among the suite's ``own`` are marked ``long``."""
    assert set(own) <= set(values)
    return first(sorted(values, key=lambda value: value not in own), len(own))
