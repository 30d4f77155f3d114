"""The page of a finished sweep: what else it shows is worked out here, and none of it may cost the page."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import product
from pathlib import Path

import numpy as np

from assembly.api.kept_runs import Since, git_commit
from assembly.api.main_check import SweepResult
from assembly.api.what_helps import help_for_first
from assembly.clearance.narrow_phase.witness import Witnesses
from assembly.errors import SwingroomError, TimeLimitError
from assembly.model.machine import Machine
from assembly.progress import Progress
from assembly.record import DistanceGrid, HelpRecord, MapRecord, MovingMachine, RangeRecord, write_whole
from assembly.report.page import Page, Picture, page_html, size_of_png
from assembly.report.text.run_files import command_line
from assembly.studies.map_study import MapWish, map_clearance
from assembly.studies.moving.distance_grid import distance_grid
from assembly.studies.moving.moving_study import moving_machine
from assembly.studies.sweep.check import CheckResult
from assembly.studies.sweep.verdict import of_pairs
from assembly.studies.usable.usable_range import RangeWish, find_usable_range
from assembly.temporary import temporary_folder
from assembly.time_limit import check_time, extra_time, time_set_aside, untimed

MAP_CELLS = {1: 121, 2: 21}
"""Cells along each drive of the page's map, by how many drives it is spread over."""
RANGE_CELLS = 20
SLICES = 5
"""Settings at which a third drive is held, one map for each."""
HELPED = 5
"""Pairs of which it is told what would help: those beside the view."""
PICTURES = 3
"""Of failing pairs; of a machine that does not fail, one."""
PICTURE_SIZE = (1280, 720)
CLOSE_UP_SIZE = (960, 640)
PICTURE_S = 1.5
"""Seconds that must be left for a picture to be begun, and for the page after it."""
NOT_MOVING = "The machine cannot be moved on this page"


@dataclass(frozen=True, slots=True)
class PageWish:
    """What is to stand on a page besides the sweep, what to type to run that again, and the commit it is of."""

    command: str
    cores: int
    commit: str = ""
    pictures: bool = True
    usable: bool = True


def page_wish(file: Path, cores: int, *, pictures: bool = True, usable: bool = True) -> PageWish:
    """The page of ``file``, with what to type to sweep it again and the commit that is checked out round it."""
    return PageWish(command_line("sweep", file), cores, git_commit(file.resolve().parent) or "", pictures, usable)


@dataclass(slots=True)
class _Gaps:
    """What could not be made, by the reason for it; the page is made without it."""

    told: dict[str, list[str]] = field(default_factory=dict)

    def add(self, what: str, why: str) -> None:
        self.told.setdefault(why, []).append(what)

    def sentences(self) -> tuple[str, ...]:
        """One for each reason."""
        return tuple(f"{_listed(list(dict.fromkeys(what)))}: {why}." for why, what in self.told.items())

    @contextmanager
    def in_place_of(self, what: str) -> Iterator[None]:
        try:
            yield
        except TimeLimitError as error:
            self.add(what, error.told)
        except SwingroomError as error:
            self.add(what, "; ".join(fault.message for fault in error.faults))
        except Exception as error:  # what stands beside the sweep's answer must never cost it
            self.add(what, " ".join(str(error).split()) or type(error).__name__)


def _listed(what: Sequence[str]) -> str:
    """Sentences as one, without the capitals of all but the first."""
    return "; ".join((what[0], *(f"{one[0].lower()}{one[1:]}" for one in what[1:])))


def time_for_page() -> AbstractContextManager[None]:
    """What is done in this block leaves time for the page itself to be written."""
    return time_set_aside(0.2, 3.0)


def write_page(swept: SweepResult, wish: PageWish, change: Since, told: Progress, path: Path) -> None:
    """Make the page of ``swept`` and put it at ``path``, whole or not at all. Raises OutputError.

    Where time is short the map comes last: it takes longest, and what fails is told without it.
    """
    gaps = _Gaps()
    moving = _moving(swept, told, gaps)
    with time_for_page():
        distances = _distances(swept, moving, told, gaps)
        helps = _helps(swept, told, gaps)
        told("pictures", 0, 0)
        close_up = _close_up(swept, gaps) if wish.pictures else None
        pictures = tuple(_pictures(swept, gaps)) if wish.pictures else ()
        maps = _maps(swept, wish, told, gaps)
        usable = _usable(swept.checked, wish, told, gaps)
    page = Page(
        record=swept.record,
        moving=moving,
        distances=distances,
        helps=helps,
        command=wish.command,
        maps=maps,
        usable=usable,
        change=change[0],
        no_change=change[1],
        commit=wish.commit,
        close_up=close_up,
        pictures=pictures,
        chart=_chart(maps, usable, gaps) if wish.pictures else None,
    )
    write_whole(path, _written(page, gaps))


def _written(page: Page, gaps: _Gaps) -> str:
    """The page as text, without the machine to move where the time is over before that is packed."""
    try:
        with extra_time():
            return page_html(replace(page, gaps=gaps.sentences()))
    except TimeLimitError as error:
        gaps.add(NOT_MOVING, error.told)
    with untimed():
        return page_html(replace(page, moving=None, distances=None, gaps=gaps.sentences()))


def _maps(swept: SweepResult, wish: PageWish, told: Progress, gaps: _Gaps) -> tuple[MapRecord, ...]:
    """The map over the first two drives, with the sweep's bounds; once for each setting of a third one."""
    machine = swept.checked.mechanism.machine
    cells = MAP_CELLS[min(2, len(machine.drives))]
    with gaps.in_place_of("There is no map"):
        wishes = [MapWish(None, cells, held=held) for held in _held(machine)]
        before = swept.checked.before
        made = (map_clearance(machine, each, told, wish.cores, swept=before).record for each in wishes)
        return tuple(mapped.bounded(of_pairs(swept.record, mapped.names)) for mapped in made)
    return ()


def _held(machine: Machine) -> Iterator[dict[str, float]]:
    """Settings of the third drive, 0 among them where it is in the range; drives beyond are held at 0."""
    third = list(machine.drives.values())[2:3]
    levels = []
    for drive in third:
        values = np.linspace(drive.low, drive.high, SLICES)
        if drive.low <= 0 <= drive.high:
            values[int(np.argmin(np.abs(values)))] = 0.0
        levels.append(values.tolist())
    for settings in product(*levels):
        yield {drive.name: value for drive, value in zip(third, settings, strict=True)}


def _usable(checked: CheckResult, wish: PageWish, told: Progress, gaps: _Gaps) -> RangeRecord | None:
    if not wish.usable:
        return None
    with gaps.in_place_of("How far the drives could go is not told"):
        machine = checked.mechanism.machine
        cells = RANGE_CELLS if len(machine.drives) > 1 else None
        return find_usable_range(machine, RangeWish(cells), told, wish.cores, swept=checked.before).record
    return None


def _moving(swept: SweepResult, told: Progress, gaps: _Gaps) -> MovingMachine | None:
    record, checked = swept.record, swept.checked
    named = [pair.at for pair in record.pairs if pair.at]
    named += [at for joint in record.joints for at in (joint.at_least, joint.at_most)]
    with gaps.in_place_of(NOT_MOVING):
        return moving_machine(checked.mechanism, checked.found, named, told)
    return None


def _distances(swept: SweepResult, moving: MovingMachine | None, told: Progress, gaps: _Gaps) -> DistanceGrid | None:
    """Clearances of the first pairs that have another one somewhere else."""
    if moving is None:
        return None
    checked, same = swept.checked, {(pair.a, pair.b) for pair in swept.record.pairs if pair.constant}
    found = [one for one in checked.found if (one.result.pair.a, one.result.pair.b) not in same]
    with gaps.in_place_of("Clearances are told where they are least only"):
        witnesses = Witnesses(checked.mechanism, checked.pairs.solids, checked.swept.collision_models)
        return distance_grid(checked.mechanism, witnesses, found, told)
    return None


def _helps(swept: SweepResult, told: Progress, gaps: _Gaps) -> HelpRecord | None:
    """What numbers do to the first pairs; nothing of a machine that no file describes, which has none."""
    if swept.checked.mechanism.machine.reread is None:
        return None
    with gaps.in_place_of("What would help is not told"):
        return help_for_first(swept, HELPED, told)
    return None


def _close_up(swept: SweepResult, gaps: _Gaps) -> Picture | None:
    """The first pair by itself, as the page's first picture; what it shows is told there by the pair's own words."""
    from assembly.report.render.pictures import draw_close_up

    made = swept.scene(0)
    if made is None:
        return None
    with gaps.in_place_of("The close-up could not be drawn"):
        check_time(PICTURE_S)
        scene = made()
        return _drawn(partial(draw_close_up, scene, size=CLOSE_UP_SIZE), f"{scene.title}, {scene.pose_text}")
    return None


def _pictures(swept: SweepResult, gaps: _Gaps) -> Iterator[Picture]:
    from assembly.report.render.pictures import draw

    failing = sum(pair.verdict == "fails" for pair in swept.record.pairs)
    for rank in range(min(PICTURES, max(1, failing))):
        made = swept.scene(rank)
        if made is not None:
            with gaps.in_place_of("A picture could not be drawn"):
                check_time(PICTURE_S)
                scene = made()
                picture = _drawn(partial(draw, scene, size=PICTURE_SIZE), f"{scene.title}, {scene.pose_text}")
                if picture is not None:
                    yield picture


def _chart(maps: tuple[MapRecord, ...], usable: RangeRecord | None, gaps: _Gaps) -> Picture | None:
    """The map as a picture, for where it cannot be drawn alive: the usable range, if it was looked for."""
    from assembly.report.charts.map_picture import draw_map
    from assembly.report.charts.range_picture import draw_range

    with gaps.in_place_of("The map could not be drawn"):
        check_time(PICTURE_S)
        if usable is not None:
            return _drawn(lambda path: draw_range(usable, path), "The usable range and what ends it")
        if maps:
            return _drawn(lambda path: draw_map(maps[0], path), "The least clearance over the range")
    return None


def _drawn(draw: Callable[[Path], object], caption: str) -> Picture | None:
    """The picture that ``draw`` puts at a path; None where it says that there is nothing to draw."""
    with temporary_folder() as folder:
        path = folder / "picture.png"
        if draw(path) is False:
            return None
        png = path.read_bytes()
    return Picture(png, caption, *size_of_png(png))
