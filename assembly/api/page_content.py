"""The page of a finished sweep: what else it shows is worked out here, and none of it may cost the page."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from functools import partial
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np

from assembly.api.kept_runs import Since, git_commit
from assembly.api.main_check import SweepResult
from assembly.api.page_tasks import (
    Gaps,
    Made,
    PagePart,
    can_draw_apart,
    made_apart,
    page_part_task,
    worth_apart,
)
from assembly.api.what_helps import help_for_first
from assembly.clearance.narrow_phase.witness import Witnesses
from assembly.errors import TimeLimitError
from assembly.model.machine import Machine
from assembly.progress import Progress, no_progress
from assembly.record import DistanceGrid, HelpRecord, MapRecord, MovingMachine, RangeRecord, write_whole
from assembly.report.page import Page, Picture, page_html, size_of_png
from assembly.report.text.run_files import command_line
from assembly.studies.map_study import MapWish, map_clearance
from assembly.studies.moving.distance_grid import distance_grid
from assembly.studies.moving.moving_study import moving_machine
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


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    """What all parts of a page are made from."""

    swept: SweepResult
    wish: PageWish
    told: Progress


def time_for_page() -> AbstractContextManager[None]:
    """What is done in this block leaves time for the page itself to be written."""
    return time_set_aside(0.2, 3.0)


def write_page(swept: SweepResult, wish: PageWish, change: Since, told: Progress, path: Path) -> None:
    """Make the page of ``swept`` and put it at ``path``, whole or not at all. Raises OutputError.

    Where time is short the map comes last: it takes longest, and what fails is told without it.
    """
    gaps, made = Gaps(), Made()
    checked, asked = swept.checked, _Asked(swept, wish, told)
    if worth_apart(checked.mechanism, checked.pairs.checked, wish.cores):
        apart = _Asked(swept, replace(wish, cores=1), no_progress)
        parts = [one for one in APART if one is not _drawn_parts or can_draw_apart()]
        made = made_apart(apart, parts, wish.cores, told)

    def part(make: PagePart) -> Any:
        value, own = made[make] if make in made else page_part_task(asked, make)
        gaps.join(own)
        return value

    moving, distances = part(_moved)
    with time_for_page():
        helps = part(_helps)
        close_up, pictures = part(_drawn_parts)
        maps = part(_maps)
        usable = part(_usable)
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


def _written(page: Page, gaps: Gaps) -> str:
    """The page as text, without the machine to move where the time is over before that is packed."""
    try:
        with extra_time():
            return page_html(replace(page, gaps=gaps.sentences()))
    except TimeLimitError as error:
        gaps.add(NOT_MOVING, error.told)
    with untimed():
        return page_html(replace(page, moving=None, distances=None, gaps=gaps.sentences()))


def _moved(asked: _Asked, gaps: Gaps) -> tuple[MovingMachine | None, DistanceGrid | None]:
    """The machine to move, and what to tell of it as it moves."""
    moving = _moving(asked.swept, asked.told, gaps)
    with time_for_page():
        return moving, _distances(asked.swept, moving, asked.told, gaps)


def _drawn_parts(asked: _Asked, gaps: Gaps) -> tuple[Picture | None, tuple[Picture, ...]]:
    """The close-up, and the pictures."""
    asked.told("pictures", 0, 0)
    if not asked.wish.pictures:
        return None, ()
    return _close_up(asked.swept, gaps), tuple(_pictures(asked.swept, gaps))


def _maps(asked: _Asked, gaps: Gaps) -> tuple[MapRecord, ...]:
    """The map over the first two drives, with the sweep's bounds; once for each setting of a third one."""
    swept = asked.swept
    machine = swept.checked.mechanism.machine
    cells = MAP_CELLS[min(2, len(machine.drives))]
    with gaps.in_place_of("There is no map"):
        wishes = [MapWish(None, cells, held=held) for held in _held(machine)]
        before = swept.checked.before
        made = (map_clearance(machine, each, asked.told, asked.wish.cores, swept=before).record for each in wishes)
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


def _usable(asked: _Asked, gaps: Gaps) -> RangeRecord | None:
    checked, wish = asked.swept.checked, asked.wish
    if not wish.usable:
        return None
    with gaps.in_place_of("How far the drives could go is not told"):
        machine = checked.mechanism.machine
        cells = RANGE_CELLS if len(machine.drives) > 1 else None
        return find_usable_range(machine, RangeWish(cells), asked.told, wish.cores, swept=checked.before).record
    return None


def _moving(swept: SweepResult, told: Progress, gaps: Gaps) -> MovingMachine | None:
    record, checked = swept.record, swept.checked
    named = [pair.at for pair in record.pairs if pair.at]
    named += [at for joint in record.joints for at in (joint.at_least, joint.at_most)]
    with gaps.in_place_of(NOT_MOVING):
        return moving_machine(checked.mechanism, checked.found, named, told)
    return None


def _distances(swept: SweepResult, moving: MovingMachine | None, told: Progress, gaps: Gaps) -> DistanceGrid | None:
    """Clearances of the first pairs that have another one somewhere else."""
    if moving is None:
        return None
    checked, same = swept.checked, {(pair.a, pair.b) for pair in swept.record.pairs if pair.constant}
    found = [one for one in checked.found if (one.result.pair.a, one.result.pair.b) not in same]
    with gaps.in_place_of("Clearances are told where they are least only"):
        witnesses = Witnesses(checked.mechanism, checked.pairs.solids, checked.swept.collision_models)
        return distance_grid(checked.mechanism, witnesses, found, told)
    return None


def _helps(asked: _Asked, gaps: Gaps) -> HelpRecord | None:
    """What numbers do to the first pairs; nothing of a machine that no file describes, which has none."""
    swept = asked.swept
    if swept.checked.mechanism.machine.reread is None:
        return None
    with gaps.in_place_of("What would help is not told"):
        return help_for_first(swept, HELPED, asked.told)
    return None


def _close_up(swept: SweepResult, gaps: Gaps) -> Picture | None:
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


def _pictures(swept: SweepResult, gaps: Gaps) -> Iterator[Picture]:
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


def _chart(maps: tuple[MapRecord, ...], usable: RangeRecord | None, gaps: Gaps) -> Picture | None:
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


APART: tuple[PagePart, ...] = (_usable, _drawn_parts, _moved, _maps, _helps)
"""What several processes make, the longest first."""
