"""``swingroom picture``."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assembly.arguments import NameValue, PixelSize, Positive
from assembly.commands import common
from assembly.errors import Fault, InputError

if TYPE_CHECKING:
    from assembly.progress import Progress
    from assembly.report.render.portrait import Look, Subject

VIEWS = ("corner", "rear-corner", "front", "rear", "left", "right", "top", "below")
STILL_SIZE, FILM_SIZE = (1600, 900), (960, 720)
SECONDS, LONGEST = 4.0, 60.0


@dataclass(frozen=True, slots=True)
class Motion:
    """What moves in the picture, if anything does: the viewer, one drive, or all of them."""

    turn: bool
    run: str | None
    ends: bool
    seconds: float | None

    @property
    def is_film(self) -> bool:
        """Whether anything moves."""
        return self.turn or self.run is not None or self.ends


@click.command()
@common.FILE
@common.TIME
@click.option("--set", "settings", type=NameValue(), multiple=True, help="A drive's setting; others stand at 0.")
@click.option("--view", "views", type=click.Choice(VIEWS), multiple=True, help="From where; several on one sheet.")
@click.option("--part", "parts", multiple=True, metavar="PART", help="Bring out these; the others are drawn faintly.")
@click.option("--size", type=PixelSize(), help="Pixels.  [default: 1600x900; films: 960x720]")
@click.option("--transparent", is_flag=True, help="No white ground (PNG).")
@click.option("--plain", is_flag=True, help="The machine alone, without words and marks.")
@click.option("--film-round", is_flag=True, help="A film: once round the machine as it stands.")
@click.option("--film-drive", metavar="DRIVE", help="A film: this drive through its range, the others as set.")
@click.option("--ends", is_flag=True, help="A film: once round the ends of all drives that are not set.")
@click.option("--seconds", type=Positive(), help="How long the film runs.  [default: 4]")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A .png, for a film a .gif or .mp4.  [default: results/NAME/picture.png or .gif]",
)
def picture(
    file: Path,
    settings: tuple[tuple[str, float], ...],
    views: tuple[str, ...],
    parts: tuple[str, ...],
    size: tuple[int, int] | None,
    transparent: bool,
    plain: bool,
    film_round: bool,
    film_drive: str | None,
    ends: bool,
    seconds: float | None,
    out: Path | None,
) -> common.ExitStatus:
    """Draw FILE at one setting from chosen sides, or a film of it, without checking anything."""
    from assembly.api.loading import load
    from assembly.record import prepare_folder, write_whole
    from assembly.report.render.portrait import Look
    from assembly.report.text.motion_text import film_blocks
    from assembly.report.text.terminal import progress

    motion = Motion(film_round, film_drive, ends, seconds)
    given = common.once_each(settings)
    path = _path(out, file, motion)
    drawn_size = size or (FILM_SIZE if motion.is_film else STILL_SIZE)
    look = Look(tuple(dict.fromkeys(views)) or VIEWS[:1], drawn_size, transparent, plain, frozenset(parts))
    _check(motion, look, path, views)
    machine = load(file)
    from assembly.api.moving_views import film_shown

    with progress(sys.stderr) as told:
        frames = _frames(motion, path) if film_drive is not None or ends else 1
        filmed = film_shown(machine, given, run=film_drive, ends=ends, frames=frames, parts=parts)
        prepare_folder(path.parent)
        write_whole(path, _drawn(filmed.subject, look, motion, path, told))
    common.show(film_blocks(filmed.record))
    common.say(f"picture: {path}\n")
    return common.ExitStatus.FAILS if filmed.record.left_out else common.ExitStatus.CLEAR


def _path(out: Path | None, file: Path, motion: Motion) -> Path:
    from assembly.record import run_name
    from assembly.report.render.picture_files import FILM_RATES, STILL_ENDINGS

    default = Path("results") / run_name(file) / ("picture.gif" if motion.is_film else "picture.png")
    return common.chosen_file(out, default, tuple(FILM_RATES) if motion.is_film else STILL_ENDINGS)


def _check(motion: Motion, look: Look, path: Path, views: tuple[str, ...]) -> None:
    """InputError for wishes that go against each other, or that no file of this ending can hold."""
    from assembly.report.render.picture_files import check_film
    from assembly.report.render.pictures import check_size

    wishes = (("--film-round", motion.turn), ("--film-drive", motion.run), ("--ends", motion.ends))
    films = [name for name, wished in wishes if wished]
    if len(films) > 1:
        raise InputError(Fault(f"{' and '.join(films)} cannot be filmed at once", hint="give one of them"))
    if motion.turn and views:
        raise InputError(Fault("--film-round goes round the machine and takes no --view", hint="leave out --view"))
    if motion.seconds is not None and not motion.is_film:
        raise InputError(Fault("--seconds is for films", hint="add --film-round, --film-drive DRIVE or --ends"))
    if motion.seconds is not None and motion.seconds > LONGEST:
        raise InputError(Fault(f"a film cannot run {motion.seconds:g} s", hint=f"{LONGEST:g} s is the longest"))
    if look.clear and motion.is_film:
        raise InputError(Fault("a film cannot be transparent", hint="leave out --transparent, or draw a picture"))
    if motion.is_film:
        check_film(look.size, path.suffix.lower())
    else:
        check_size(look.size)


def _frames(motion: Motion, path: Path) -> int:
    from assembly.report.render.picture_files import FILM_RATES

    return max(2, round((motion.seconds or SECONDS) * FILM_RATES[path.suffix.lower()]))


def _drawn(subject: Subject, look: Look, motion: Motion, path: Path, progress: Progress) -> bytes:
    from assembly.report.render.picture_files import run_film, still_picture, turn_film

    ending = path.suffix.lower()
    if motion.turn:
        return turn_film(subject, look, ending, _frames(motion, path), progress)
    if motion.is_film:
        return run_film(subject, look, ending, progress)
    return still_picture(subject, look)
