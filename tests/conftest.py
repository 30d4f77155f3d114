"""What holds for every test, and what tests share that draw."""

import gc
import json
import os
from pathlib import Path

import pytest

SLOW = Path(__file__).resolve().parent / "slow_tests.json"
"""The tests that took more than ``SLOW_FROM`` when they were last noted, by file; ``--note-slow`` notes them anew."""
TOGETHER = ("test_architecture.py", "test_page_in_browser.py", "test_project.py")
"""One browser and its page, and the syntax trees of all sources: spread over processes each would make its own."""
SLOW_FROM = 0.2
"""Seconds of processor time of one case of a test."""
_USED = "processor_s"


def pytest_addoption(parser):
    group = parser.getgroup("processor time")
    group.addoption(
        "--longest", type=int, default=0, metavar="N", help="show the N tests that took most processor time"
    )
    group.addoption("--note-slow", action="store_true", help="note in slow_tests.json which of the tests run are slow")


def pytest_configure(config):
    """No test recalls what another one found, or reads and writes what belongs to the user."""
    os.environ["SWINGROOM_MEMORY"] = "off"
    config.pluginmanager.register(_ProcessorTime(), "processor time")


def pytest_collection_modifyitems(items):
    """Mark the tests that were noted as slow, and put those first that share what is dear: one process gets them."""
    items.sort(key=lambda item: item.path.name not in TOGETHER)
    slow = {(file, name) for file, names in json.loads(SLOW.read_text(encoding="utf-8")).items() for name in names}
    for item in items:
        if (item.path.name, test_of(item.nodeid)) in slow:
            item.add_marker(pytest.mark.slow)


def pytest_collection_finish():
    """Thousands of modules and tests stay for good: no collection of garbage need go through them again and again."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


def test_of(nodeid):
    """The test's name, with its class, of one of its cases."""
    return nodeid.partition("::")[2].partition("[")[0]


test_of.__test__ = False


@pytest.fixture
def opengl() -> None:
    """For tests that draw: where OpenGL does not work they are skipped, or fail where every test must run."""
    from assembly.report.render.pictures import opengl_trouble

    if trouble := opengl_trouble():
        (pytest.fail if os.environ.get("SWINGROOM_EVERY_TEST") else pytest.skip)(trouble)


@pytest.fixture
def quick_pages(monkeypatch) -> None:
    """For tests that write pages: with small pictures and coarse grids."""
    from assembly.api import page_content
    from assembly.studies.moving import distance_grid

    small = {"PICTURE_SIZE": (320, 180), "CLOSE_UP_SIZE": (360, 240), "RANGE_CELLS": 6}
    for name, value in small.items():
        monkeypatch.setattr(page_content, name, value)
    monkeypatch.setattr(distance_grid, "MOST_QUERIES", 100)


class _ProcessorTime:
    """Processor time of each case, of processes that it has started and waited for too: others may load the machine."""

    def __init__(self):
        self.before, self.used = 0.0, {}

    @pytest.hookimpl(wrapper=True, tryfirst=True)
    def pytest_runtest_protocol(self):
        self.before = self._now()
        return (yield)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_makereport(self, call):
        report = yield
        if call.when == "teardown":
            report.user_properties.append((_USED, self._now() - self.before))
        return report

    def pytest_runtest_logreport(self, report):
        for name, value in report.user_properties:
            if name == _USED and report.when == "teardown":
                self.used[report.nodeid] = value

    def pytest_terminal_summary(self, terminalreporter, config):
        if count := config.getoption("longest"):
            terminalreporter.section(f"{sum(self.used.values()):.0f} s of processor time in {len(self.used)} tests")
            for nodeid, seconds in sorted(self.used.items(), key=lambda one: -one[1])[:count]:
                terminalreporter.write_line(f"{seconds:7.2f} s  {nodeid}")
        if config.getoption("note_slow"):
            SLOW.write_text(json.dumps(self._noted(), indent=1) + "\n", encoding="utf-8")

    def _noted(self):
        """What was noted of tests that did not run now, and those that ran and were slow."""
        noted = json.loads(SLOW.read_text(encoding="utf-8"))
        slow = {(file, name) for file, names in noted.items() for name in names}
        for nodeid in self.used:
            slow.discard((_file_of(nodeid), test_of(nodeid)))
        slow |= {(_file_of(nodeid), test_of(nodeid)) for nodeid, used in self.used.items() if used > SLOW_FROM}
        return {file: sorted(name for own, name in slow if own == file) for file in sorted({file for file, _ in slow})}

    @staticmethod
    def _now():
        return sum(os.times()[:4])


def _file_of(nodeid):
    return nodeid.partition("::")[0].rpartition("/")[2]
