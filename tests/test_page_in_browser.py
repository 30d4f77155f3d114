"""The page under the thumb: a small machine that strikes, swept for real, opened in a browser."""

from dataclasses import replace

import numpy as np
import pytest
from browsing import SMALLER_THAN_A_FINGER, Tab, browser, outlined_share, swipe
from clocks import Clock
from page_machines import FILE, HOSTILE, corner_page, made_page, moving, places_solved
from records import pair as made_pair
from records import record as made_record
from small_machines import quiet
from test_sweep_text import CALM

from assembly.api.kept_runs import NO_RUN
from assembly.api.page_content import PageWish, write_page
from assembly.geometry.turns import quaternions
from assembly.model.reader import read_machine
from assembly.report.page import page_html
from assembly.report.page.table_rows import margin_told
from assembly.report.text.sweep_text import pair_row
from assembly.studies.look import look
from assembly.studies.moving.pose_table import pose_table
from assembly.time_limit import time_limit

PLACES = """() => swingroom.view.machine.bodies.map(
    (body) => [...body.position.toArray(), ...body.quaternion.toArray()])"""
SETTING = "() => swingroom.state.setting"


@pytest.fixture(scope="module")
def chromium():
    with browser() as opened:
        yield opened


@pytest.fixture(scope="module")
def made(tmp_path_factory, chromium):
    return corner_page(tmp_path_factory.mktemp("page") / "page.html")


@pytest.fixture
def tab(chromium, made):
    with Tab(chromium, made.path) as opened:
        yield opened
        assert opened.complaints == []
        assert opened.fetched == []


def test_it_opens_at_the_worst_pair_where_it_is_struck(tab, made):
    record, page = made.swept.record, tab.page
    worst = record.pairs[0]
    assert page.evaluate(SETTING) == list(worst.at.values())
    np.testing.assert_allclose(page.evaluate(PLACES), places_solved(made.mechanism, list(worst.at.values())), atol=1e-4)
    assert page.locator("#trust .solved").is_visible()
    assert page.locator("#view .gap-label").text_content() == "3.53 mm deep here"
    assert page.evaluate("() => swingroom.view.machine.overlaps[0].faces.visible")


@pytest.mark.parametrize("size", [(390, 844), (1400, 900)], ids=["phone", "desk"])
def test_the_first_screen_answers_what_where_how_much_and_what_now(tab, size):
    """The answer is above the fold; its figure is the depth and the 3 mm together (arithmetic on the record)."""
    page = tab.page
    page.set_viewport_size({"width": size[0], "height": size[1]})
    for needed in (".tag", "h1", ".missing", ".close-up img", "#now li:first-child"):
        box = page.locator(needed).bounding_box()
        assert box["height"] > 0, needed
        assert box["y"] + box["height"] <= size[1], needed
    assert page.locator(".missing").text_content().startswith("6.53 to 6.63 mm of clearance is missing")
    assert "[" not in page.locator("h1").text_content()
    assert page.locator("header dl").count() == 0


def test_figures_are_those_of_the_record(tab, made):
    record = made.swept.record
    rows = tab.page.locator("#pairs-table tbody tr")
    assert rows.count() == len(record.pairs)
    for index, pair in enumerate(record.pairs):
        cells = rows.nth(index).locator("td").all_text_contents()
        told = list(pair_row(pair, record))
        told.insert(4, margin_told(pair))
        assert [" ".join(cell.split()) for cell in cells] == [" ".join(cell.split()) for cell in told]


def test_sliders_move_the_parts_as_the_table_of_poses_says(tab, made):
    page, table = tab.page, pose_table(made.mechanism, quiet)
    for setting in ([17.3, 44.4], [58.9, 3.3], [30.0, 57.5]):
        for drive, value in enumerate(setting):
            page.locator("#drives input").nth(drive).evaluate(
                "(slider, value) => { slider.value = value; slider.dispatchEvent(new Event('input')); }", value
            )
        between, known = table.between(np.array([setting]))
        wanted = np.concatenate([between.centres[0], quaternions(between.rotations)[0]], axis=-1)
        np.testing.assert_allclose(page.evaluate(PLACES), wanted, atol=1e-4)
        assert known.all()
    assert page.locator("#trust .between").is_visible()
    assert page.locator("#drives output").first.text_content() == "+30°"


def test_the_machine_stays_in_sight_beside_the_map_and_covers_nothing_below(tab):
    page = tab.page
    page.set_viewport_size({"width": 1400, "height": 900})
    ends = "id => { const box = document.getElementById(id).getBoundingClientRect(); return [box.top, box.bottom]; }"
    page.evaluate("() => document.getElementById('map').scrollIntoView()")
    assert page.evaluate(ends, "bench")[1] > 0
    for name in ("all-pairs", "all-joints", "left-out"):
        page.evaluate("id => document.getElementById(id).scrollIntoView()", name)
        assert page.evaluate(ends, "bench")[1] <= page.evaluate(ends, name)[0]


def test_on_a_phone_the_figure_of_the_gap_is_not_cut_off(tab):
    page = tab.page
    page.set_viewport_size({"width": 390, "height": 844})
    box = "name => { const box = document.querySelector(name).getBoundingClientRect(); return [box.left, box.right]; }"
    left, right = page.evaluate(box, "#view")
    tab.until(f"() => ({box})('#view .gap-label')", lambda ends: left <= ends[0] and ends[1] <= right)


def test_a_row_and_a_near_pair_lead_to_their_closest_pose(tab, made):
    page, record = tab.page, made.swept.record
    page.locator("#pairs-table tr[data-pair='4'] button").click()
    assert page.evaluate(SETTING) == list(record.pairs[4].at.values())
    assert page.locator("#looked-at").text_content().startswith("swing_arm (knob) – carriage (block)")
    assert page.locator("#view .gap-label").text_content() == "32.12 mm"
    middle = (np.array(record.pairs[4].point_a) + record.pairs[4].point_b) / 2
    tab.until("() => swingroom.view.controls.target.toArray()", lambda place: np.allclose(place, middle, atol=1e-3))
    ends = page.evaluate("() => swingroom.data.pairs[4].points.map((point) => swingroom.view.seen(point))")
    across = np.hypot(*np.subtract(*ends)) * page.evaluate("() => swingroom.view.pixel")
    assert across == pytest.approx(record.pairs[4].least_mm, rel=0.01), "seen square to the gap"
    page.locator(".near [data-pair='0'] button").click()
    assert page.evaluate(SETTING) == list(record.pairs[0].at.values())


def test_a_chosen_row_leads_to_the_view_and_back(tab):
    page = tab.page
    row = page.locator("#pairs-table tr[data-pair='3'] button")
    row.click()
    assert page.locator("#back-to-row").text_content() == "back to the table"
    view = (
        "() => { const box = document.querySelector('#view').getBoundingClientRect(); return [box.top, box.bottom]; }"
    )
    tab.until(view, lambda ends: ends[0] >= -1 and ends[1] <= 901)
    page.locator("#back-to-row").click()
    assert page.evaluate("() => document.activeElement.closest('tr')?.dataset.pair") == "3"
    top = "() => document.activeElement.getBoundingClientRect().top"
    tab.until(top, lambda place: 0 <= place <= 900)


def test_what_would_help_stands_beside_the_pair_that_is_looked_at_and_nowhere_else(tab):
    """A slope is told as one; at 60 degrees the arm's end goes 1 mm towards the finger for 1 mm of arm (own model)."""
    page = tab.page
    shown = page.locator(".near .helps:visible")
    assert shown.count() == 1
    lines = shown.locator("li").all_text_contents()
    assert 1 <= len(lines) <= 5
    assert lines[0] == "1 less of arm_length (now 100) gives +1.00 mm"
    assert "not swept: no advice yet" in shown.locator("p").text_content()
    page.locator(".near > [data-pair='4'] button").click()
    assert page.locator(".near > [data-pair='0'] .helps").is_hidden()
    page.locator(".near > [data-pair='0'] button").click()
    assert page.locator(".near > [data-pair='0'] .helps").is_visible()


def test_a_chosen_joint_is_marked_by_its_two_parts(chromium, tmp_path):
    path = tmp_path / "page.html"
    joint = replace(CALM, name="rod_end", first="arm", second="post", at_least={"push": -5.0}, at_most={"push": 8.0})
    record = made_record(made_pair("arm", "rail", 2.0, point_a=(0, 0, 0), point_b=(2, 0, 0)), joints=(joint,))
    path.write_text(page_html(made_page(record, moving(("arm", "post")))), encoding="utf-8")
    with Tab(chromium, path) as tab:
        row = tab.page.locator("#joints-table tr[data-setting]").first
        row.locator("button").click()
        assert tab.page.evaluate(SETTING) == [8.0]
        marked = tab.page.evaluate("() => [swingroom.view.machine.pair.a, swingroom.view.machine.pair.b]")
        assert marked == ["arm", "post"]
        assert tab.page.locator("#looked-at").text_content() == "joint rod_end, arm – post at push +8 mm"
        assert "chosen" in row.get_attribute("class")
        assert tab.page.locator("#closer").is_hidden()
        tab.page.locator("#to-rest").click()
        assert tab.page.locator("#looked-at-box").is_hidden()
        assert "chosen" not in row.get_attribute("class")
        assert tab.complaints == []


def test_a_figure_is_told_with_the_setting_at_which_it_holds(tab, made):
    """At settings that were checked the clearance is told alive, elsewhere that of the nearest of these."""
    page, machine = tab.page, read_machine(FILE)
    names = "swing_arm (knob) – finger (nose)"
    assert page.locator("#looked-at").text_content() == f"{names} at swing +60°, slide +115 mm: 3.53 mm deep here"
    page.locator("#drives input").first.focus()
    page.keyboard.press("PageDown")
    near = "at the nearest checked setting, swing +56°, slide +115 mm"
    assert page.locator("#looked-at").text_content() == f"{names}: they strike {near}"
    assert page.locator("#view .over").is_hidden()
    for setting, told in (
        ([30.0, 50.0], "at swing +30°, slide +50 mm: {}"),
        ([21.2, 48.0], "{} at the nearest checked"),
    ):
        page.evaluate("setting => swingroom.state.moveTo(setting)", setting)
        seen = look(machine, {"swing": 2 * round(setting[0] / 2), "slide": 50.0}).seen
        there = next(one.entry for one in seen if {one.entry.a, one.entry.b} == {"swing_arm", "finger"})
        assert (
            told.format(f"{np.floor(100 * there.distance_mm) / 100:.2f} mm")
            in page.locator("#looked-at").text_content()
        )


def test_the_whole_machine_comes_into_the_view_and_nothing_pressed_lies_on_it(tab):
    page = tab.page
    corners = """() => swingroom.view.machine.parts.flatMap(({ faces }) => {
        faces.geometry.computeBoundingBox();
        const { min, max } = faces.geometry.boundingBox;
        return [min, max].map((end) => swingroom.view.seen(faces.localToWorld(end.clone()).toArray()));
    })"""
    page.locator("#closer").click()
    size = page.locator("#view canvas").bounding_box()

    def inside(spots):
        return all(0 <= x <= size["width"] and 0 <= y <= size["height"] for x, y in spots)

    tab.until(corners, lambda spots: not inside(spots))
    page.locator("#all-parts").click()
    tab.until(corners, inside)
    assert page.locator("#view button").count() == 0
    page.locator("#closer").click()
    tab.until(corners, lambda spots: not inside(spots))
    away = "() => { const { view } = swingroom; const there = view.controls.target.clone().setX(900);"
    page.evaluate(f"{away} view.fly(there, view.camera.position.clone().sub(view.controls.target), 50, false); }}")
    page.evaluate(
        "() => swingroom.view.fly(swingroom.view.controls.target.clone(), swingroom.view.camera.up, 50, false)"
    )
    page.locator("#drives input").first.focus()
    page.keyboard.press("PageDown")
    tab.until(corners, inside)  # what is looked at had left the view


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_outline_of_the_machine_stands_out_from_what_lies_behind_it(tab, scheme):
    """WCAG 2.2, 1.4.11: what is needed to understand a picture has a contrast of 3 : 1 to what lies beside it."""
    page = tab.page
    page.emulate_media(color_scheme=scheme)
    tab.until("() => swingroom.view.inMotion", lambda moving: moving is False)
    page.wait_for_timeout(300)
    assert outlined_share(page.locator("#view canvas").screenshot()) >= 0.95


def test_the_map_is_read_and_clicked(tab):
    page = tab.page
    cell = page.locator("#map .cells rect").nth(10 * 21 + 5)
    cell.hover()
    told = page.locator("#map .reading").text_content()
    data = page.evaluate("() => ({least: swingroom.data.map.slices[0].least[215]})")
    assert told.startswith(data["least"])
    mark = page.locator("svg.map .worst").bounding_box()
    cross = page.locator("#map .here .dot").bounding_box()  # it opens at the worst pair
    for side in ("x", "y"):
        middle = [box[side] + box["width" if side == "x" else "height"] / 2 for box in (mark, cross)]
        assert middle[0] == pytest.approx(middle[1], abs=1)
    assert "at swing +30°, slide +30.12 mm" in told
    cell.click()
    np.testing.assert_allclose(page.evaluate(SETTING), [30, 30.12], atol=1.5)
    assert page.locator("#looked-at-box").is_hidden()


def test_keys_move_drives_view_and_map(tab):
    page = tab.page
    page.locator("#to-rest").focus()
    page.keyboard.press("Enter")
    assert page.evaluate(SETTING) == [0, 0]
    page.locator("#drives input").first.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("PageUp")
    assert page.evaluate(SETTING)[0] == pytest.approx(60 * 11 / 200)
    page.locator("svg.map").focus()
    page.keyboard.press("ArrowUp")
    assert page.evaluate(SETTING)[1] == pytest.approx(115 / 21)
    before = page.evaluate("() => swingroom.view.camera.position.toArray()")
    page.locator("#view canvas").focus()
    page.keyboard.press("ArrowLeft")
    assert page.evaluate("() => swingroom.view.camera.position.toArray()") != before


def test_everything_that_can_be_pressed_is_reached_by_tab_and_shows_it(tab):
    page = tab.page
    missing = page.evaluate(
        """() => [...document.querySelectorAll("button, input, canvas, svg.map, [tabindex]")]
            .filter((one) => one.getClientRects().length && one.tabIndex < 0).map((one) => one.outerHTML)"""
    )
    assert missing == []
    page.keyboard.press("Tab")
    outline = page.evaluate("() => getComputedStyle(document.activeElement).outlineStyle")
    assert outline == "solid"


def test_parts_are_hidden_made_faint_and_named(tab):
    page = tab.page
    page.locator("#all-parts").click()
    row = page.locator("#parts [data-part='0']")
    row.locator("input[value=hidden]").check()
    assert not page.evaluate("() => swingroom.view.machine.parts[0].faces.visible")
    row.locator("input[value=faint]").check()
    assert page.evaluate("() => swingroom.view.machine.parts[0].faces.material.uniforms.opacity.value") < 0.5
    row.locator("input[value=shown]").check()
    page.locator("[data-sight=top]").click()
    tab.until("() => swingroom.view.inMotion", lambda moving: moving is False)
    page.locator("#view canvas").scroll_into_view_if_needed()
    where = page.evaluate("() => swingroom.view.seen([0, 0, 1000])")
    box = page.locator("#view canvas").bounding_box()
    page.mouse.move(box["x"] + where[0], box["y"] + where[1])
    under = page.locator("#parts legend").all_text_contents()
    tab.until("() => document.querySelector('.name-tag').textContent", lambda name: name.split(" (")[0] in under)


def test_pairs_are_filtered_and_copied(tab):
    page = tab.page
    page.locator("input[type=search]").fill("carriage clear")
    shown = page.locator("#pairs-table tbody tr:visible")
    assert shown.count() == 2
    page.evaluate(
        "() => { navigator.clipboard.writeText = (text) => { window.got = text; return Promise.resolve(); }; }"
    )
    page.locator("button[data-copies='pairs-table']").click()
    lines = page.evaluate("() => window.got").split("\n")
    assert lines[0].split("\t")[:3] == ["verdict", "least mm", "proven mm"]
    assert len(lines) == 3
    assert lines[1].split("\t")[1] == "16.00"


def test_fingers_on_a_phone(chromium, made):
    def moved_to_the_cell(setting):
        return abs(setting[0] - 60 * 1.5 / 21) < 1

    with Tab(chromium, made.path, width=390, height=844, has_touch=True, is_mobile=True) as tab:
        page = tab.page
        assert page.evaluate("() => document.documentElement.scrollWidth") <= 390
        before = page.evaluate("() => swingroom.view.camera.position.toArray()")
        page.locator("#view canvas").scroll_into_view_if_needed()
        box = page.locator("#view canvas").bounding_box()
        hand = tab.context.new_cdp_session(page)
        swipe(hand, box["x"] + box["width"] / 2, box["y"] + box["height"] / 2, 12, 0)
        tab.until("() => swingroom.view.camera.position.toArray()", lambda place: place != before)
        page.wait_for_timeout(400)
        place = page.evaluate("() => swingroom.view.camera.position.toArray()")
        slider = page.locator("#drives input").first
        for over in (page.locator("#view canvas"), slider):
            over.scroll_into_view_if_needed()
            page.wait_for_timeout(200)
            box, start = over.bounding_box(), page.evaluate("() => scrollY")
            swipe(hand, box["x"] + box["width"] / 2, box["y"] + box["height"] / 2, 0, -20)
            tab.until("() => scrollY", lambda now, start=start: now > start + 60)
        tab.until("() => swingroom.view.camera.position.toArray()", lambda now: np.allclose(now, place, atol=1e-3))
        assert page.evaluate(SETTING) == [60, 115]
        small = page.evaluate(SMALLER_THAN_A_FINGER)
        assert small == []
        cell = page.locator("#map .cells rect").nth(30)
        for _ in range(3):
            page.wait_for_timeout(1000)  # on a busy machine the browser may take two touches for one gesture
            cell.tap()
            if tab.comes(SETTING, moved_to_the_cell):
                break
        tab.until(SETTING, moved_to_the_cell)
        bubble = page.locator("#map .at-finger")
        assert bubble.text_content() == page.locator("#map .reading").text_content()
        spot, cell_box = bubble.bounding_box(), cell.bounding_box()
        assert abs(spot["y"] + spot["height"] / 2 - cell_box["y"]) < 120
        small = "() => [...document.querySelectorAll('svg.map text')].map((one) => getComputedStyle(one).fontSize)"
        scale = page.locator("svg.map").bounding_box()["width"] / 520
        assert min(float(size.removesuffix("px")) for size in page.evaluate(small)) * scale >= 12
        assert tab.complaints == []


def test_without_a_program_it_is_a_report_with_pictures(chromium, made):
    with Tab(chromium, made.path, java_script_enabled=False) as tab:
        assert tab.page.locator("figure.still img").count() == 2
        assert tab.page.locator(".close-up img").is_visible()
        for image in tab.page.locator("figure.still img").all():
            assert image.is_visible()
            assert image.bounding_box()["height"] > 100
        assert tab.page.locator("#pairs-table tbody tr").count() == len(made.swept.record.pairs)
        assert not tab.page.locator("button").first.is_visible()
        assert tab.fetched == []


def test_without_webgl_the_pictures_stand_in(chromium, made):
    context = chromium.new_context()
    context.add_init_script("HTMLCanvasElement.prototype.getContext = () => null")
    page = context.new_page()
    page.goto(made.path.as_uri())
    page.wait_for_selector("html.ready")
    assert page.locator("figure.still img").first.is_visible()
    assert page.locator(".no-view-note").is_visible()
    page.locator("#pairs-table tr[data-pair='1'] button").click()
    context.close()


def test_a_page_without_the_machine_works_and_says_why(chromium, made, tmp_path):
    path, clock = tmp_path / "page.html", Clock()
    with time_limit(10.0, clock):
        wish = PageWish("swingroom sweep it", 1, usable=False)
        write_page(made.swept, wish, (None, NO_RUN), clock.at("pictures", 12.0), path)
    with Tab(chromium, path) as tab:
        assert tab.page.locator(".no-view-note").is_visible()
        assert not tab.page.locator("#view").is_visible()
        tab.page.locator("#pairs-table tr[data-pair='1'] button").click()
        assert tab.page.evaluate(SETTING) == list(made.swept.record.pairs[1].at.values())
        assert tab.complaints == []


def test_on_paper_it_has_picture_map_and_tables_but_no_buttons(tab):
    page = tab.page
    page.emulate_media(media="print")
    assert page.locator("#bench .still img").first.is_visible()
    assert page.locator("svg.map").is_visible()
    assert page.locator("#pairs-table").is_visible()
    for away in ("#view", "#drives", ".tools", "#parts"):
        assert not page.locator(away).first.is_visible(), away


@pytest.mark.parametrize(("least", "verdict", "printed"), [(0.5, "fails", 40), (9.0, "clear", 20)])
def test_on_paper_no_row_that_fails_is_left_out_and_none_in_silence(chromium, tmp_path, least, verdict, printed):
    path = tmp_path / "page.html"
    pairs = [made_pair("arm", f"post_{k}", least, verdict=verdict) for k in range(40)]
    path.write_text(page_html(made_page(made_record(*pairs))), encoding="utf-8")
    with Tab(chromium, path) as tab:
        note = tab.page.locator("#all-pairs .on-paper")
        assert not note.is_visible() if note.count() else verdict == "fails"
        tab.page.emulate_media(media="print")
        rows = tab.page.locator("#pairs-table tbody tr").all()
        assert sum(row.is_visible() for row in rows) == printed
        assert note.count() == (printed < len(rows))
        assert all(one.is_visible() for one in note.all())


def test_hostile_names_show_as_text_and_nothing_overflows(chromium, tmp_path):
    """All of them on one page: each is looked at in turn."""
    path, names = tmp_path / "page.html", tuple(HOSTILE.values())
    ends = {"point_a": (0, 0, 0), "point_b": (2, 0, 0)}
    record = made_record(*(made_pair(name, "post", 2.0, shape_a=name, **ends) for name in names))
    path.write_text(page_html(made_page(record, moving((*names, "post")))), encoding="utf-8")
    with Tab(chromium, path, width=390, height=844) as tab:
        for number, name in enumerate(names):
            tab.page.locator(f"#pairs-table tr[data-pair='{number}'] button").click()
            assert name in tab.page.locator("#looked-at").text_content()
            assert tab.page.evaluate("() => document.documentElement.scrollWidth") <= 390
        assert tab.page.locator("#parts legend").all_text_contents() == [*names, "post"]
        assert tab.page.locator("img").count() == 0
        assert tab.page.evaluate("() => document.documentElement.scrollWidth") <= 390
        assert tab.complaints == []
