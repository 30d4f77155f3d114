"""What holds for every test, and what tests share that draw."""

import os

import pytest


def pytest_configure() -> None:
    """No test recalls what another one found, or reads and writes what belongs to the user."""
    os.environ["SWINGROOM_MEMORY"] = "off"


@pytest.fixture
def opengl() -> None:
    """For tests that draw: where OpenGL does not work they are skipped, or fail where every test must run."""
    from assembly.report.render.pictures import opengl_trouble

    if trouble := opengl_trouble():
        (pytest.fail if os.environ.get("SWINGROOM_EVERY_TEST") else pytest.skip)(trouble)
