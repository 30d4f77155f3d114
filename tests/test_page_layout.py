"""The page on a phone and on a desk, in a browser: no table beyond the screen, no rule of access broken."""

import pytest
from browsing import Tab, browser, rules_of_access
from page_machines import corner_page, made_page, moving
from records import pair as made_pair
from records import record as made_record
from records import rod as made_rod

from assembly.report.page import page_html


@pytest.fixture(scope="module")
def chromium():
    with browser() as opened:
        yield opened


def test_on_a_phone_a_table_of_many_columns_is_stacked_under_its_names(chromium, tmp_path):
    """Of a stacked table nothing is beyond the screen; names break behind an underscore and nowhere else."""
    path = tmp_path / "page.html"
    pairs = [made_pair("arm", "mudguard_stay_of_the_left_wheel", 2.0, point_a=(0, 0, 0), point_b=(2, 0, 0))]
    record = made_record(*pairs, rods=(made_rod("drag_link", 27.9),))
    path.write_text(page_html(made_page(record, moving(("arm", "mudguard_stay_of_the_left_wheel")))), encoding="utf-8")
    with Tab(chromium, path, width=390, height=844) as tab:
        table = tab.page.locator("table.stacked").first
        cells = table.locator("tbody td")
        assert cells.count() == table.locator("th").count() > 3
        for cell in cells.all():
            box = cell.bounding_box()
            assert box is None or box["x"] + box["width"] <= 390
        assert cells.nth(1).evaluate("cell => getComputedStyle(cell, '::before').content") == '"rod "'
        assert tab.page.locator("#parts legend").nth(1).inner_html() == "_<wbr>".join(pairs[0].b.split("_"))
        tab.page.set_viewport_size({"width": 1400, "height": 900})
        tops = {cell.bounding_box()["y"] for cell in cells.all()}
        assert len(tops) == 1, "on a wide screen it is a table"


@pytest.mark.long
def test_the_rules_of_access_find_nothing_wide_and_narrow_in_light_and_dark(chromium, tmp_path):
    """WCAG, by axe-core: all its rules, those of good practice too."""
    rules, broken, path = rules_of_access(), {}, tmp_path / "page.html"
    corner_page(path)
    with Tab(chromium, path, bypass_csp=True) as tab:
        tab.page.evaluate(f"() => {{ {rules} }}")
        for width in (1400, 390):
            for scheme in ("light", "dark"):
                tab.page.set_viewport_size({"width": width, "height": 844})
                tab.page.emulate_media(color_scheme=scheme)
                found = tab.page.evaluate("() => axe.run()")
                assert len(found["passes"]) > 20, "the rules were not tried"
                broken[width, scheme] = [
                    (one["id"], [node["html"] for node in one["nodes"]]) for one in found["violations"]
                ]
    assert not any(broken.values()), broken
