"""The page as one file of HTML, with its program and its style in it.

Whatever comes from the machine's file goes through jinja2's escaping.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterable
from importlib.resources import files
from typing import Any

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from assembly.printable import visible
from assembly.report.page.content import Page, Picture
from assembly.report.page.maps import map_data, worst_pair
from assembly.report.page.numbers import Numbers
from assembly.report.page.packed_solids import solids_data
from assembly.report.page.story import story
from assembly.report.page.view_pairs import distances_data, pairs_data
from assembly.report.render.margin_scale import css_colours
from assembly.report.text.layout import Block, Heading, Line, Table
from assembly.report.text.words import unit_sign

SOURCES, BUILT = "js", "built/page.js"
STYLES = tuple(f"css/{name}.css" for name in ("colours", "sheet", "bench", "map", "tables", "media"))
"""In the order in which a browser reads them: narrow screens and paper, last, go before what holds elsewhere."""


def built_program() -> str:
    """The program as a browser runs it."""
    return asset(BUILT)


def style_sheet() -> str:
    """How the page looks, as one text."""
    return "\n".join((css_colours(), *(asset(name) for name in STYLES)))


def source_digest() -> str:
    """SHA-256 over all sources by name; the built file says which it was made from."""
    digest = hashlib.sha256()
    folder = files(__package__).joinpath(SOURCES)
    for source in sorted(folder.iterdir(), key=lambda one: one.name):
        digest.update(f"{source.name}\n{source.read_text(encoding='utf-8')}\n".encode())
    return digest.hexdigest()


def asset(name: str) -> str:
    """A text file of this package."""
    return files(__package__).joinpath(name).read_text(encoding="utf-8")


TEMPLATE = "page.html.jinja"
UNITS = {"deg": "degrees", "mm": "mm"}


def page_html(page: Page) -> str:
    """The whole page as text."""
    numbers = Numbers()
    data = page_data(page, numbers)
    style, script = style_sheet(), built_program()
    template = _environment().from_string(asset(TEMPLATE))
    return template.render(
        page=page,
        told=story(page),
        drives=data["drives"],
        policy=_policy(style, script),
        style=Markup(style),  # noqa: S704 - a file of this package, no text from outside
        script=Markup(script),  # noqa: S704 - our own bundle
        data=Markup(json_for_html(_shown_within(data))),  # noqa: S704 - every sign that could end the element is escaped
        numbers=numbers.packed(),
    )


def page_data(page: Page, numbers: Numbers) -> dict[str, Any]:
    """What the page's program works on; large arrays go into ``numbers``."""
    drives = [
        {
            "name": name,
            "low": drive.from_,
            "high": drive.to,
            "sign": unit_sign(drive.unit),
            "written": UNITS.get(drive.unit, drive.unit),
        }
        for name, drive in page.record.drives.items()
    ]
    return {
        "drives": drives,
        "pairs": pairs_data(page.record, page.moving.overlaps if page.moving else ()),
        "distances": distances_data(page.record, page.distances, numbers),
        "map": map_data(page.maps, page.usable, page.record.stops, worst_pair(page.record)),
        **(solids_data(page.moving, numbers) if page.moving else {"parts": []}),
    }


def json_for_html(data: Any) -> str:  # any value that JSON can hold
    """JSON that can stand inside an element of HTML: no sign in it ends the element or begins a remark."""
    text = json.dumps(data, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    for sign in "<>&":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def _shown(value: Any) -> Any:  # whatever the template puts out
    """A text with every sign spelled out that would not show itself; what is ours, and all else, as it is."""
    return visible(value, kept="\n") if type(value) is str else value


def _shown_within(data: Any) -> Any:
    if isinstance(data, dict):
        return {_shown(key): _shown_within(value) for key, value in data.items()}
    return [_shown_within(value) for value in data] if isinstance(data, list | tuple) else _shown(data)


def _environment() -> Environment:
    options: dict[str, Any] = {"undefined": StrictUndefined, "trim_blocks": True, "lstrip_blocks": True}
    environment = Environment(autoescape=True, finalize=_shown, **options)
    environment.filters["blocks"] = block_forms
    environment.filters["png"] = _png
    environment.filters["breakable"] = breakable
    return environment


def block_forms(blocks: Iterable[Block]) -> list[tuple[str, Block]]:
    """Each block of a report with the name of its form."""
    forms = {Heading: "heading", Line: "line", Table: "table"}
    return [(forms[type(block)], block) for block in blocks if not (isinstance(block, Line) and not block.text)]


def breakable(text: str) -> Markup:
    """A text, escaped, that may go on in the next line after every underscore."""
    return Markup("_<wbr>").join(visible(text, kept="\n").split("_"))


def _png(picture: Picture) -> str:
    return f"data:image/png;base64,{base64.b64encode(picture.png).decode('ascii')}"


def _policy(style: str, script: str) -> str:
    """What the browser may do: run this script, use this style sheet, show pictures that are in the page; no more."""
    return f"default-src 'none'; img-src data:; style-src {_digest(style)}; script-src {_digest(script)}"


def _digest(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode('utf-8')).digest()).decode('ascii')}'"
