"""Where things of the user are kept, seen from processes with other environments."""

import subprocess
import sys
from pathlib import Path

import pytest

ASKED = """
import os, pwd, sys
from assembly.errors import InputError
if sys.argv[1] == "nobody":
    def no_entry(_):
        raise KeyError
    pwd.getpwuid = no_entry
from assembly.folders import cache_folder, data_folder
try:
    print(data_folder("say where"), cache_folder(), sep="\\n")
except InputError as error:
    print(error, cache_folder(), sep="\\n")
"""
ROOT = Path(__file__).resolve().parent.parent


def folders(user="somebody", **environment):
    run = subprocess.run(
        [sys.executable, "-c", ASKED, user],
        env={"PYTHONPATH": str(ROOT), **environment},
        capture_output=True,
        text=True,
    )
    assert run.returncode == 0, run.stderr
    return run.stdout.splitlines()


@pytest.mark.skipif(sys.platform != "linux", reason="the specification is of the free desktops")
@pytest.mark.parametrize(
    ("environment", "data", "cache"),
    [
        ({}, "/me/.local/share/swingroom", "/me/.cache/swingroom"),
        ({"XDG_DATA_HOME": "/d", "XDG_CACHE_HOME": "/c"}, "/d/swingroom", "/c/swingroom"),
        (
            {"XDG_DATA_HOME": "d", "XDG_CACHE_HOME": "c"},
            "/me/.local/share/swingroom",
            "/me/.cache/swingroom",
        ),
    ],
)
def test_the_folders_follow_the_specification(environment, data, cache):
    """XDG Base Directory Specification 0.8: paths that are not absolute are to be ignored."""
    assert folders(HOME="/me", **environment) == [data, cache]


@pytest.mark.skipif(sys.platform == "win32", reason="there every user has a profile")
def test_a_user_without_a_home_is_told_and_has_no_cache():
    assert folders("nobody") == ["this user has no home folder to keep anything in; say where", "None"]
