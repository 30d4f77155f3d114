"""What holds for every test."""

import os


def pytest_configure() -> None:
    """No test recalls what another one found, or reads and writes what belongs to the user."""
    os.environ["SWINGROOM_MEMORY"] = "off"
