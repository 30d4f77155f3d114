"""The page: one self-contained HTML file with the verdict, the machine under the thumb, the map and every table.

``story`` gathers the words, ``solids``, ``pairs`` and ``maps`` the data of the page's program, ``making`` puts them
into ``page.html.jinja`` with the styles in ``css/``. ``js/`` holds that program, ``built/page.js`` what a browser gets:
the same, with what it uses of three.js, put together by ``scripts/build_page_bundle.py``.
"""

from assembly.report.page.content import Page, Picture, size_of_png
from assembly.report.page.html import page_html

__all__ = ["Page", "Picture", "page_html", "size_of_png"]
