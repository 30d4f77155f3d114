"""The page as text: what stands on it is what the record says, and nothing from the machine's file becomes markup."""

import base64
import hashlib
import json
import math
import re
import zlib
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import numpy as np
import pytest
import records
from page_machines import HOSTILE, made_page, moving

from assembly.record import NotCheckedEntry, TravelStopEntry, load_record, save
from assembly.report.page import Picture, page_html, size_of_png
from assembly.report.page.html import (
    asset,
    breakable,
    built_program,
    json_for_html,
    page_data,
    source_digest,
    style_sheet,
)
from assembly.report.page.numbers import Numbers
from assembly.report.page.table_rows import margin_told, pair_table
from assembly.report.render.margin_scale import STEP_COLOURS
from assembly.report.text.headline import headline
from assembly.report.text.sweep_text import pair_row


def test_no_typeface_of_a_brand_is_asked_for():
    """Families that every system has under the same name (CSS Fonts 4, generic families)."""
    asked = re.findall(r"font(?:-family)?:([^;}]*)", style_sheet())
    families = {name.strip() for each in asked for name in each.split(",") if "inherit" not in each}
    plain = {"system-ui", "sans-serif", "monospace", "ui-monospace"}
    assert asked
    assert not [name for name in families if '"' in name or (name.split()[-1] not in plain and not name[:1].isdigit())]


@pytest.mark.parametrize(
    ("at_most", "told"), [(2.0849, "−3.09"), (None, "at most −3.08")], ids=["deepest is proven", "only found"]
)
def test_a_margin_is_rounded_to_the_side_on_which_it_is_true(at_most, told):
    """Closed form: 2.0849 mm deep with 1 mm required leave −3.0849 mm."""
    struck = records.pair("a", "b", least=-2.0849)
    assert margin_told(replace(struck, overlap=replace(struck.overlap, at_most_mm=at_most))) == told


class Reader(HTMLParser):
    """Elements and texts of a page, as a browser without a program reads them."""

    def __init__(self, text):
        super().__init__()
        self.texts, self.tags, self.open = [], [], []
        self.goes_on = False
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        if tag == "wbr":  # a word goes on
            self.goes_on = True
            return
        self.tags.append((tag, dict(attributes)))
        self.open.append(tag)

    def handle_endtag(self, tag):
        while self.open and self.open.pop() != tag:
            pass

    def handle_data(self, data):
        if {"script", "style"} & set(self.open):
            return
        if self.goes_on:
            self.texts[-1] += data
        else:
            self.texts.append(data)
        self.goes_on = False

    @property
    def text(self):
        return " ".join(" ".join(self.texts).split())


def test_every_figure_is_the_terminals():
    record = records.record(
        records.pair("arm", "post", -2.064), records.pair("arm", "rod", 3.2199), records.pair("rod", "post", 4.0)
    )
    told = Reader(page_html(made_page(record))).text
    for pair in record.pairs:
        for cell in pair_row(pair, record):
            assert " ".join(cell.split()) in told
    for block in headline(record):
        for piece in re.split("[:;] ", getattr(block, "text", "")):
            assert " ".join(piece.split()) in told
    assert "2.06 to 2.17 deep" in told


def test_how_true_interpolated_poses_are_is_told_without_cells():
    """0.0121 mm of the grid of two boxes, never rounded down: 0.02 mm."""
    told = Reader(page_html(made_page(records.record(records.pair("arm", "post", 2.0))))).text
    assert "Solved again in between, no point of any part was more than 0.02 mm off" in told
    assert not re.search(r"\bcells?\b", told)


@pytest.mark.parametrize("name", HOSTILE.values(), ids=HOSTILE)
def test_hostile_names_are_text(name):
    pair = records.pair("arm", "post", 2.0, shape_a=name)
    record = records.record(pair)
    record = replace(record, machine=replace(record.machine, name=name, file=f"{name}.toml"))
    html = page_html(made_page(record, moving(names=(name, "post"))))
    read, plain = Reader(html), Reader(page_html(made_page(records.record(records.pair("arm", "post", 2.0)))))
    assert [tag for tag, _ in read.tags] == [tag for tag, _ in plain.tags]
    assert " ".join(name.split()) in read.text
    scripts = re.findall(r"<script[^>]*>(.*?)</script>", html, re.DOTALL)
    data = json.loads(scripts[0])
    assert data["parts"][0]["name"] == name


def test_json_can_stand_in_html():
    text = json_for_html({"a": "</script><!-- &\u2028"})
    assert not set("<>&\u2028") & set(text)
    assert json.loads(text) == {"a": "</script><!-- &\u2028"}
    with pytest.raises(ValueError, match="not JSON compliant"):
        json_for_html(float("nan"))


def test_only_this_program_and_this_style_may_run_and_nothing_is_fetched():
    html = page_html(made_page(records.record(records.pair("a", "b", 2.0))))
    policy = next(a["content"] for tag, a in Reader(html).tags if a.get("http-equiv") == "Content-Security-Policy")
    for text, kind in ((built_program(), "script-src"), (style_sheet(), "style-src")):
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{kind} 'sha256-{digest}'" in policy
        assert text in html
    assert policy.startswith("default-src 'none'")
    links = [value for _, a in Reader(html).tags for key, value in a.items() if key in ("src", "href")]
    assert all(link.startswith("data:") for link in links)


def test_the_program_was_built_from_its_sources():
    assert f"sources {source_digest()}." in built_program()[:200], "run python3 scripts/build_page_bundle.py"
    assert asset("built/three-LICENSE.txt").strip() in built_program()


def test_solids_and_poses_come_back_from_the_numbers():
    page, numbers = made_page(records.record(records.pair("arm", "post", 2.0))), Numbers()
    data = page_data(page, numbers)
    block = zlib.decompress(base64.b64decode(numbers.packed()), -15)
    kinds = {"f32": np.float32, "u16": np.uint16, "u32": np.uint32, "u8": np.uint8}

    def values(place):
        kind, start, count = place
        assert start % 4 == 0
        return np.frombuffer(block, kinds[kind], count, start)

    part, shape = data["parts"][0], page.moving.parts[0].shapes[0][1]
    corners = values(part["vertices"]).reshape(-1, 3) / 65535 * part["size"] + part["low"]
    corners = corners + page.moving.reference_points[page.moving.parts[0].body]
    drawn = corners[values(part["index"]).reshape(-1, 3)]
    wanted = shape.vertices[shape.faces]
    assert drawn.shape == wanted.shape
    assert np.abs(np.sort(drawn.reshape(-1, 3), axis=0) - np.sort(wanted.reshape(-1, 3), axis=0)).max() < 1e-3
    assert len(values(part["lines"])) == 2 * 12
    np.testing.assert_allclose(values(data["grid"]["places"]), page.moving.grid.places.reshape(-1), rtol=1e-6)


def test_stops_comparison_and_pictures_stand_on_it():
    stop = TravelStopEntry("end_stop", "push", "high", None, "frame", "sledge")
    png = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + (640).to_bytes(4, "big") + (360).to_bytes(4, "big")
    picture = Picture(png, "the worst place", *size_of_png(png))
    record = records.record(records.pair("arm", "post", 2.0), stops=(stop,))
    page = replace(made_page(record), pictures=(picture,), gaps=("There is no map: <none>.",))
    read = Reader(page_html(page))
    assert "end_stop push +8 mm not known yet frame sledge" in read.text
    assert "There is no map: <none>." in read.text
    image = next(a for tag, a in read.tags if tag == "img")
    assert (image["alt"], image["width"], image["height"]) == ("the worst place", "640", "360")
    assert base64.b64decode(image["src"].removeprefix("data:image/png;base64,")) == png


def test_pairs_stand_by_their_margin_which_is_never_rounded_up():
    """Arithmetic: required is 1 mm; an overlap counts by the depth that no setting goes beyond."""
    given = [records.pair("arm", name, least) for name, least in (("post", -2.064), ("rod", 3.2199), ("bar", 2.0))]
    table = pair_table(records.record(*given))
    assert [row.pair for row in table.rows] == [0, 2, 1]
    column = table.columns.index("margin mm")
    beyond = given[0].overlap.at_most_mm + 1.0
    assert [row.cells[column] for row in table.rows] == [f"−{math.ceil(100 * beyond) / 100:.2f}", "1.00", "2.21"]


def test_every_table_has_a_label_of_its_own_and_what_was_not_checked_is_folded():
    left = (NotCheckedEntry("arm", "a_long_name", "welded together by joint weld"),)
    html = page_html(made_page(records.record(records.pair("arm", "post", 2.0), not_checked=left)))
    labels = [a.get("aria-label") for tag, a in Reader(html).tags if tag == "table"]
    assert labels
    assert None not in labels
    assert len(set(labels)) == len(labels)
    assert "<summary>1 pair not checked (1 welded together)</summary>" in html
    assert "a_long_name" in Reader(html).text


def test_names_may_break_at_their_underscores_and_stay_text():
    assert breakable("front_left<b>") == "front_<wbr>left&lt;b&gt;"


def test_a_record_that_was_read_back_gives_the_same_page(tmp_path):
    record = records.record(records.pair("arm", "post", 2.0))
    save(record, tmp_path / "record.json")
    assert page_html(made_page(load_record(tmp_path / "record.json"))) == page_html(made_page(record))


def themes():
    """Colours by name in the light and in the dark."""
    light, dark = style_sheet().split("@media (prefers-color-scheme: dark)", 1)

    def read(text):
        return dict(re.findall(r"(--[\w-]+): (#[0-9a-f]{6});", text))

    plain = read(light)
    return {"light": plain, "dark": plain | read(dark.split("\n* {", 1)[0])}


def contrast(one, other):
    """Contrast of two colours (WCAG 2.2, "contrast ratio" and "relative luminance")."""

    def luminance(colour):
        shares = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
        linear = [share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in shares]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    dim, bright = sorted((luminance(one), luminance(other)))
    return (bright + 0.05) / (dim + 0.05)


def test_contrast_is_worked_out_as_published():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_neighbouring_steps_of_the_map_are_told_apart_without_colour_sight(theme):
    """One scale in every light: the more margin the darker, and what fails is hatched and beyond the lightest step."""
    steps = [themes()[theme][f"--step-{step}"] for step in range(7)]
    assert steps == [f"#{bytes(colour).hex()}" for colour in STEP_COLOURS]
    assert all(contrast(one, other) >= 1.25 for one, other in pairwise(steps))
    brightness = [contrast(step, "#000000") for step in steps[1:]]
    assert brightness == sorted(brightness, reverse=True)


TEXTS = ("ink", "soft", "bad", "good", "open", "link")
GROUNDS = ("sheet", "wash", "paper")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_texts_and_controls_can_be_read(theme):
    colours = themes()[theme]
    for ground in GROUNDS:
        for text in TEXTS:
            assert contrast(colours[f"--{text}"], colours[f"--{ground}"]) >= 4.5, (text, ground)
    for tone in ("bad", "good", "open"):
        assert contrast(colours["--on-tone"], colours[f"--{tone}"]) >= 4.5, tone
    for shape in ("field", "usable", "gap"):
        assert contrast(colours[f"--{shape}"], colours["--sheet"]) >= 3, shape
    assert contrast(colours["--gap"], colours["--backdrop"]) >= 4.5
