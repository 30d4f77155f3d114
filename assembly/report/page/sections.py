"""Sections of the page that are reports as they are: what stands apart from pairs and joints."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from assembly.record import Record
from assembly.report.text.cables_text import swept_cables_blocks
from assembly.report.text.layout import Block
from assembly.report.text.weights_text import weight_blocks
from assembly.report.text.wheels_text import swept_wheels_blocks


@dataclass(frozen=True, slots=True)
class Section:
    """A section of the page that is one report: its ``id``, its heading, and what it says."""

    id: str
    heading: str
    blocks: tuple[Block, ...]


def page_sections(record: Record) -> Iterator[Section]:
    """What of wheels, cables and weights a machine has."""
    told = (
        ("wheels", swept_wheels_blocks(record)),
        ("cables", swept_cables_blocks(record)),
        ("weights", weight_blocks(record.weight)),
    )
    for name, blocks in told:
        section = Section(name, name.capitalize(), tuple(blocks))
        if section.blocks:
            yield section
