"""Watching: every save is checked, broken files are waited for, and what has changed is reported in a few lines.

The command runs in a process of its own, and the test edits as a builder would: it writes, and reads the screen.
"""

import contextlib
import os
import queue
import signal
import threading
from pathlib import Path

import pytest
from forked_runs import ForkedRun
from mechanism_files import write_box
from small_machines import slider

from assembly.cli import ExitStatus, main

WAIT_S = 60.0
"""For one answer; a slow machine is no failure."""
MESH = slider().replace(
    'shapes = [{ name = "nose", box = [0, 30, 0], size = [20, 20, 20] }]', 'meshes = [{ file = "nose.stl" }]'
)

pytestmark = pytest.mark.skipif(os.name != "posix", reason="Ctrl-C is sent as a POSIX signal")


class Screen:
    """A watch at work on ``file``, and what it has said."""

    def __init__(self, file):
        def watch():
            os.environ["SWINGROOM_MEMORY"] = str(file.parent / "pairs.sqlite3")
            return main(["watch", str(file)])

        self.run = ForkedRun(watch)
        self.lines: queue.Queue[str] = queue.Queue()
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self):
        for line in self.run.stdout:
            self.lines.put(line)

    def until(self, *words):
        """What is said until a line holds all of ``words``, as one text."""
        said = []
        while not said or not all(word in said[-1] for word in words):
            try:
                said.append(self.lines.get(timeout=WAIT_S))
            except queue.Empty:
                pytest.fail(f"never said: {words}; said: {''.join(said)}")
        return "".join(said)

    def end(self):
        """Ctrl-C; the exit status."""
        self.run.send_signal(signal.SIGINT)
        return self.run.wait(WAIT_S)


@pytest.fixture
def watching():
    """Begins a watch; ended after the test whatever happens."""
    with contextlib.ExitStack() as stack:

        def begin(file):
            screen = Screen(file)
            stack.callback(screen.run.stdout.close)
            stack.callback(screen.run.wait)
            stack.callback(screen.run.kill)
            return screen

        yield begin


def saved(path, text):
    """Written as many editors do: beside it, then put in its place."""
    beside = path.with_name(f"{path.name}.new")
    beside.write_text(text, encoding="utf-8")
    beside.replace(path)


def test_each_save_is_told_against_the_start_and_broken_files_are_waited_for(tmp_path, watching):
    """Closed form: the gap at the far end is 10 mm less the range, here 2.00 mm, then 0.50 mm."""
    file = tmp_path / "slide.toml"
    saved(file, slider())
    screen = watching(file)
    start = screen.until("Ctrl-C ends")
    assert "CLEAR" in start
    assert "2.00 mm" in start

    saved(file, slider(high=9.5))
    said = screen.until("computed anew")
    assert "saved: slide.toml" in said
    assert "edited since the start: range of push:" in said
    assert "FAILS" in said
    assert "what would help" in said
    assert "fails:\n  base (block) – sledge (nose): 2.00 mm of clearance, now 0.50 mm of clearance" in said

    saved(file, slider(high=9.5) + "\n[parts.base]\n")
    said = screen.until("Still watching")
    assert "slide.toml:" in said
    assert "Traceback" not in said

    saved(file, slider())
    said = screen.until("computed anew")
    assert "No pair, joint, rod or measure stands otherwise than at the start." in said
    assert "0 pairs computed anew" in said
    assert screen.end() == 0


def test_a_fault_that_is_saved_again_is_told_again(tmp_path, watching):
    file = tmp_path / "slide.toml"
    saved(file, "format = \n")
    screen = watching(file)
    assert "slide.toml:1" in screen.until("Still watching")
    saved(file, "format =\n")
    said = screen.until("Still watching")
    assert "saved: slide.toml" in said
    assert "slide.toml:1" in said


def test_a_mesh_file_that_is_saved_or_missing_counts(tmp_path, watching):
    """Closed form: a nose that is 3 mm longer leaves 0.50 mm of 2.00 mm, for half of it grows towards the block."""
    file, mesh = tmp_path / "slide.toml", tmp_path / "nose.stl"
    saved(file, MESH)
    screen = watching(file)
    assert "there is no mesh file `nose.stl`" in screen.until("Still watching")

    write_box(mesh, (20, 20, 20), (0, 30, 0))
    assert "2.0 mm" in screen.until("Ctrl-C ends")

    write_box(mesh, (20, 23, 20), (0, 30, 0))
    said = screen.until("computed anew")
    assert "saved: nose.stl" in said
    assert "mesh file nose.stl" in " ".join(said.split())
    assert "now 0.50 mm of clearance" in " ".join(said.split())
    assert screen.end() == 1


def test_a_save_that_changes_nothing_is_not_told_twice(tmp_path, watching):
    file = tmp_path / "slide.toml"
    saved(file, slider())
    screen = watching(file)
    screen.until("Ctrl-C ends")
    saved(file, slider())
    screen.until("saved: slide.toml")
    screen.until("all stands as told above")
    saved(file, slider(high=7.0))
    assert "FAILS" not in (said := screen.until("computed anew"))
    assert said.count("computed anew") == 1


def test_a_file_that_was_never_there_is_waited_for(tmp_path, watching):
    file = tmp_path / "slide.toml"
    screen = watching(file)
    assert "there is no such file" in screen.until("Still watching")
    saved(file, slider())
    assert "CLEAR" in screen.until("Ctrl-C ends")
    assert screen.end() == 0
    assert Path(tmp_path / "pairs.sqlite3").exists()


def test_watch_ends_with_a_line_when_the_folder_is_deleted(tmp_path, watching):
    folder = tmp_path / "shop"
    folder.mkdir()
    file = folder / "slider.toml"
    file.write_text(slider(), encoding="utf-8")
    screen = watching(file)
    screen.until("CLEAR")
    file.unlink()
    for left in folder.iterdir():
        left.unlink()
    folder.rmdir()
    assert "nothing is watched any more" in screen.until("the folder of slider.toml is gone")
    assert screen.run.wait(WAIT_S) == ExitStatus.INPUT


def test_watch_goes_on_when_another_folder_takes_the_place_of_the_old_one(tmp_path, watching):
    folder, later = tmp_path / "shop", tmp_path / "later"
    for place, required in ((folder, 1.0), (later, 3.0)):
        place.mkdir()
        (place / "slider.toml").write_text(slider(required=required), encoding="utf-8")
    screen = watching(folder / "slider.toml")
    screen.until("CLEAR")
    folder.rename(tmp_path / "before")
    screen.until("there is no such file")
    later.rename(folder)
    screen.until("saved", "slider.toml")
    screen.until("FAILS")
    assert screen.end() == ExitStatus.FAILS


def test_sigterm_ends_a_watch_in_one_line(tmp_path, watching):
    file = tmp_path / "slider.toml"
    file.write_text(slider(), encoding="utf-8")
    screen = watching(file)
    screen.until("CLEAR")
    screen.run.send_signal(signal.SIGTERM)
    screen.until("ended by SIGTERM; no file is half written")
    assert screen.run.wait(WAIT_S) == 128 + signal.SIGTERM
