# SPDX-License-Identifier: MIT
"""The answer to whether a version can be made again today, on paper and as text."""

from __future__ import annotations

from desktop.columns import as_text
from desktop.language import tr
from desktop.models.again import COLUMNS, AgainRow
from desktop.paper import Document, head_part, notes_part, plain_table

CAUTION = tr("Of the book as it stood on that day. Not a safety assessment.")
_WIDTHS = {"name": "16%", "stock": "11%", "then": "17%", "today": "14%", "weigh": "8%", "left": "8%"}


def document_of(title: str, headline: str, rows: list[AgainRow], notes: list[tuple[str, str]]) -> Document:
    """The headline, every line, and what else was said."""
    heads = [(column.head, _WIDTHS.get(column.key, ""), "right" if column.right else "") for column in COLUMNS]
    told = [[column.text(row) for column in COLUMNS] for row in rows]
    parts = (head_part(title, headline), plain_table(heads, told), notes_part([*notes, (tr("cautions"), CAUTION)]))
    return Document(title, title, parts)


def text_of(title: str, headline: str, rows: list[AgainRow], notes: list[tuple[str, str]]) -> str:
    """The same as text, the lines as a table."""
    return "\n".join([title, headline, "", as_text(COLUMNS, rows), *(text for _, text in notes if text)]) + "\n"
