"""Sections of the page that are reports as they are: what stands apart from pairs and joints."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from assembly.record import Record
from assembly.report.text.cables_text import swept_cables_blocks
from assembly.report.text.layout import Block
from assembly.report.text.rods_text import swept_turns_blocks
from assembly.report.text.weights_text import weight_blocks
from assembly.report.text.wheels_text import swept_wheels_blocks

HEADINGS = {"wheels": "Wheels", "turns": "Turns of rods", "cables": "Cables", "weights": "Weights"}
"""Of each section by its id, in their order."""


@dataclass(frozen=True, slots=True)
class Section:
    """A section of the page that is one report: its ``id``, its heading, and what it says."""

    id: str
    heading: str
    blocks: tuple[Block, ...]


def page_sections(record: Record) -> Iterator[Section]:
    """What of wheels, rods that are screwed together, cables and weights a machine has."""
    told = (
        ("wheels", swept_wheels_blocks(record)),
        ("turns", swept_turns_blocks(record)),
        ("cables", swept_cables_blocks(record)),
        ("weights", weight_blocks(record.weight)),
    )
    for name, blocks in told:
        section = Section(name, HEADINGS[name], tuple(blocks))
        if section.blocks:
            yield section
