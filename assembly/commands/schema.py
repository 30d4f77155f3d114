"""``swingroom schema``."""

from __future__ import annotations

import click

from assembly.commands.common import ExitStatus, say


@click.command()
def schema() -> ExitStatus:
    """Print the keys of a mechanism file as a JSON Schema: an editor that knows it completes and checks while you type.

    `swingroom new` puts it beside the machine, and the file's first line names it.
    """
    from assembly.api.file_keys import schema_text

    say(schema_text())
    return ExitStatus.CLEAR
