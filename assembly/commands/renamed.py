"""Options that had another name in earlier versions: the old name is refused, and the new one is reported."""

from __future__ import annotations

import click

_RENAMED = {
    "--bracket": "--within",
    "--anew": "--recompute",
    "--shrank": "--allow-loss",
    "--budget": "--time-limit",
    "--write": "--stl",
    "--run": "--film-drive",
    "--cells": "--grid",
    "--turn": "--film-round",
}


def renamed_option(old: str, context: click.Context) -> str | None:
    """The name of now of an option ``old`` of this command; None if the command never had it."""
    now = _RENAMED.get(old)
    has = {name for parameter in context.command.params for name in parameter.opts}
    return now if now in has else None
