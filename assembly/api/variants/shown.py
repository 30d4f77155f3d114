"""Variants side by side as a result of the library: as its record, as rows, and as a table in a notebook."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

from assembly.record import VariantsRecord, json_text
from assembly.report.export.variants_sheet import variant_rows
from assembly.report.text.variants_text import best_told, variant_cells, variant_columns


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class VariantsResult:
    """What a run of variants found.

    Attributes
    ----------
    record : VariantsRecord
        All rows in mm and degrees: what ``variants.json`` holds.
    notes : tuple of str
        What is to be said of the result cache and of kept rows, a sentence each; mostly nothing.

    """

    record: VariantsRecord
    notes: tuple[str, ...] = ()

    def to_dicts(self) -> list[dict[str, object]]:
        """A row for each variant, by the names of the columns of ``variants.csv``; what is not known is None."""
        return variant_rows(self.record)

    def to_json(self) -> str:
        """The record as JSON text."""
        return json_text(self.record)

    def __repr__(self) -> str:
        rows = ("  " + ", ".join(filter(None, variant_cells(one, self.record))) for one in self.record.entries)
        return "\n".join([best_told(self.record), *rows])

    def _repr_html_(self) -> str:
        head = "".join(f"<th>{escape(name)}</th>" for name in variant_columns(self.record))
        cells = (variant_cells(one, self.record) for one in self.record.entries)
        rows = "".join(f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in cells)
        title = f"<p><b>{escape(best_told(self.record))}</b></p>"
        return f"{title}<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
