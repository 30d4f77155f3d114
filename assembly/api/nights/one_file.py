"""One machine of the night: checked, kept in the history, compared, and its files written; nothing stops the others."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from assembly.api.kept_runs import NO_RUN
from assembly.api.loading import load
from assembly.api.main_check import Effort, SweepResult, sweep
from assembly.api.nights.finding import MechanismFile
from assembly.api.nights.past import Past
from assembly.api.page_content import page_wish, write_page
from assembly.errors import AssemblyError, CutShortError, SwingroomError, TimeLimitError
from assembly.progress import Progress, no_progress
from assembly.record import Comparison, Record, prepare_folder, save, write_whole
from assembly.report.charts.trend_picture import draw_trend
from assembly.report.charts.trends import run_labels, trend_panels
from assembly.report.export.spreadsheet import pairs_table
from assembly.report.render.optional_picture import with_picture
from assembly.report.text.night_text import FROM_BEST, NightChange, NightEntry, NightStanding
from assembly.report.text.run_files import Files
from assembly.report.text.terminal import plain_text
from assembly.time_limit import time_limit

PAGE = "page.html"
RECORD, TABLE, CLOSEST, COMPARISON, TREND = "record.json", "pairs.csv", "closest.png", "comparison.txt", "trend.png"
STANDINGS: dict[type[Exception], NightStanding] = {
    AssemblyError: "fails",
    CutShortError: "undecided",
    TimeLimitError: "undecided",
}


@dataclass(frozen=True, slots=True)
class NightWish:
    """How the night is to be done: a room that shrank by more than ``shrank_mm`` is worse; the trend shows ``runs``."""

    effort: Effort
    pictures: bool
    shrank_mm: float
    runs: int
    anew: bool = False
    """Nothing that earlier runs found is taken as it is."""


@dataclass(slots=True)
class _Faults:
    """What went wrong so far, and how bad that is."""

    told: list[str] = field(default_factory=list)
    standing: NightStanding = "clear"

    def add(self, standing: NightStanding, text: str) -> None:
        self.told.append(" ".join(text.split()))
        self.standing = worst(self.standing, standing)

    @contextmanager
    def caught(self, doing: str) -> Iterator[None]:
        """Whatever goes wrong inside is reported in a line, and the night goes on."""
        try:
            yield
        except SwingroomError as error:
            for fault in error.faults:
                self.add(STANDINGS.get(type(error), "input"), str(fault))
        except Exception as error:  # a defect of this program must not cost the other machines their check
            self.add("undecided", f"{doing} broke off: {': '.join(filter(None, (type(error).__name__, str(error))))}")


def worst(*standings: NightStanding) -> NightStanding:
    """The worst of them."""
    return max(standings, key=FROM_BEST.index)


def check_file(file: MechanismFile, wish: NightWish, past: Past | None, folder: Path, progress: Progress) -> NightEntry:
    """Check ``file`` and leave its results in ``folder``; ``past`` is None if the history cannot be used."""
    faults, start = _Faults(), time.monotonic()
    swept, change, notes = None, None, []
    with faults.caught("the check"), time_limit(wish.effort.budget_s):
        swept = sweep(load(file.path), effort=wish.effort, progress=progress, cached=not wish.anew)
    if swept is not None:
        with faults.caught("keeping the record"):
            prepare_folder(folder)
            save(swept.record, folder / RECORD)
        if past is not None:
            change = _kept(file.path, swept, past, faults)
        notes = [*swept.notes, *_write_views(file.path, swept, change, wish, folder, faults)]
        if past is not None and wish.pictures:
            with faults.caught("the trend"):
                _draw_trend(past.records(file.path, wish.runs), folder)
    record = None if swept is None else swept.record
    standing = worst(faults.standing, record.verdict if record else "clear")
    seconds = time.monotonic() - start
    return NightEntry(str(file.path), standing, record, change, tuple(faults.told), tuple(notes), seconds)


def _kept(path: Path, swept: SweepResult, past: Past, faults: _Faults) -> NightChange | None:
    """Keep the run, then compare it: a damaged older run takes nothing from this one, nor does a full disk."""
    with faults.caught("the history"):
        before = past.last(path)
        with faults.caught("keeping the run"):
            past.keep(path, swept)
        return past.change(before, swept.record)
    return None


def _write_views(
    file: Path, swept: SweepResult, change: NightChange | None, wish: NightWish, folder: Path, faults: _Faults
) -> Iterator[str]:
    """Table and comparison; of a machine that fails or got worse picture and page. Gives what is to be said of them."""
    with faults.caught("the table"):
        write_whole(folder / TABLE, pairs_table(swept.record))
    if change is not None and change.blocks:
        with faults.caught("the comparison"):
            write_whole(folder / COMPARISON, plain_text(change.blocks))
    wanted = swept.record.verdict == "fails" or (change is not None and change.worse)
    if wanted and wish.pictures:
        drawn = with_picture(Files(), swept.scene(), folder / CLOSEST)
        if drawn.picture_note:
            yield f"picture: {drawn.picture_note}"
        with faults.caught("the page"):
            write_page(swept, page_wish(file, wish.effort.cores), _since(change), no_progress, folder / PAGE)


def _since(change: NightChange | None) -> tuple[Comparison | None, str]:
    return (None, NO_RUN) if change is None else (change.found, NO_RUN)


def _draw_trend(records: list[Record], folder: Path) -> None:
    if not records:
        return
    title = f"{records[-1].machine.name}: margins, run by run"
    draw_trend(title, run_labels(records), trend_panels(records), folder / TREND)
