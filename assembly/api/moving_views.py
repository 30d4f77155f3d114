"""The machine without any check: a film's places, and a model that moves."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from assembly.errors import Fault, InputError
from assembly.model.fault_list import nearest, shown
from assembly.model.machine import Machine
from assembly.progress import Progress, no_progress
from assembly.record import FilmRecord, ModelRecord
from assembly.report.export.glb import glb_bytes
from assembly.report.render.portrait import Subject
from assembly.report.text.words import setting
from assembly.studies.filming import FilmWish, film
from assembly.studies.motion_tracks import track_drives


@dataclass(frozen=True, slots=True, eq=False)
class FilmShown:
    """The settings of a film or a picture, and what it draws at each."""

    record: FilmRecord
    subject: Subject


@dataclass(frozen=True, slots=True, eq=False)
class ModelMade:
    """A moving model's figures, and its file (binary glTF)."""

    record: ModelRecord
    glb: bytes


def film_shown(
    machine: Machine,
    settings: Mapping[str, float],
    *,
    run: str | None = None,
    ends: bool = False,
    frames: int = 1,
    parts: Iterable[str] = (),
) -> FilmShown:
    """Where all parts stand: at ``settings``, or in about ``frames`` steps through a drive's range or round all ends.

    ``parts`` are to be brought out. Raises InputError for names and settings that do not exist, AssemblyError if the
    machine cannot be put together where it begins.
    """
    faults = [
        Fault(f"there is no part {shown(name)}", hint=nearest(name, machine.parts, "parts"))
        for name in parts
        if name not in machine.parts
    ]
    if faults:
        raise InputError(*faults)
    made = film(machine, FilmWish(settings, run, ends, frames))
    captions = tuple(setting(at, made.record.drives) for at in made.record.settings)
    return FilmShown(made.record, Subject(made.record.name, captions, made.figures, made.places))


def moving_model(
    machine: Machine, settings: Mapping[str, float], *, still: bool = False, progress: Progress = no_progress
) -> ModelMade:
    """The machine at ``settings`` as a file for any viewer of glTF, unless ``still`` with a motion for each drive.

    Raises as ``film_shown``.
    """
    tracked = track_drives(machine, settings, still, progress)
    progress("write", 0, 0)
    return ModelMade(tracked.record, glb_bytes(tracked.model))
