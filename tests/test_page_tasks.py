"""The parts of a page made by several processes: the same page, whatever becomes of them."""

import os
import sys

import pytest
from small_machines import quiet, read, slider

from assembly.api import page_content, page_tasks
from assembly.api.kept_runs import NO_RUN
from assembly.api.main_check import sweep
from assembly.api.page_content import PageWish, write_page
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof import task_groups
from assembly.parallel.workers import START
from assembly.time_limit import time_limit

pytestmark = pytest.mark.skipif(START != "fork", reason="only where processes are forked")


@pytest.fixture(scope="module")
def swept():
    return sweep(read(slider()), effort=Effort())


@pytest.fixture
def page(swept, quick_pages, monkeypatch, tmp_path):
    """Writes the page by so many processes, and gives its text and how many stages were made by others."""
    monkeypatch.setattr(task_groups, "WORTH_WORKERS", -1.0)
    apart = page_tasks.made_apart
    others = []
    monkeypatch.setattr(page_content, "made_apart", lambda *asked: others.append(apart(*asked)) or others[-1])

    def written(cores):
        others.clear()
        wish = PageWish("swingroom sweep slider.toml", cores, pictures=False)
        write_page(swept, wish, (None, NO_RUN), quiet, tmp_path / "page.html")
        return (tmp_path / "page.html").read_text(encoding="utf-8"), sum(map(len, others))

    return written


def test_a_page_is_the_same_made_by_one_process_and_by_two(page):
    alone, together = page(1), page(2)
    assert alone[1] == 0
    assert together[1] >= 4
    assert together[0] == alone[0]


def test_what_cannot_be_made_by_another_process_is_said_all_the_same(page, monkeypatch):
    def broken(*_, **__):
        raise RuntimeError("no <ink>")

    monkeypatch.setattr(page_content, "map_clearance", broken)
    text, _ = page(2)
    assert "There is no map: no &lt;ink&gt;." in text
    assert text == page(1)[0]


def test_a_process_that_dies_costs_time_only(page, monkeypatch):
    whole, own, mapped = page(1)[0], os.getpid(), page_content.map_clearance

    def dies(*asked, **more):
        return mapped(*asked, **more) if os.getpid() == own else os._exit(1)

    monkeypatch.setattr(page_content, "map_clearance", dies)
    assert page(2) == (whole, 0)


def test_against_a_time_limit_one_process_makes_a_page_and_what_holds_a_window_is_not_forked(swept, monkeypatch):
    monkeypatch.setattr(task_groups, "WORTH_WORKERS", -1.0)
    mechanism, pairs = swept.checked.mechanism, swept.checked.pairs.checked
    assert page_tasks.worth_apart(mechanism, pairs, 2)
    assert not page_tasks.worth_apart(mechanism, pairs, 1)
    with time_limit(100.0):
        assert not page_tasks.worth_apart(mechanism, pairs, 2)
    monkeypatch.setitem(sys.modules, page_tasks.DRAWS, object())
    assert not page_tasks.can_draw_apart()
