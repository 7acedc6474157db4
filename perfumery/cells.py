# SPDX-License-Identifier: MIT
"""Text in the cells of a table that a spreadsheet may open: none of it is taken there for a formula, and all of it reads back.

A text that begins like a formula gets an apostrophe before it, as a hand would type it; one that begins with such an
apostrophe itself gets another, so that reading takes exactly one away.
"""

from __future__ import annotations

_BEGINS = ("=", "+", "-", "@", "\t", "\r", "\n")


def inert(text: str) -> str:
    """The text as it may stand in a cell."""
    return "'" + text if _is_active(text) else text


def as_typed(cell: str) -> str:
    """The text that `inert` made this of; any other cell as it is."""
    return cell[1:] if cell.startswith("'") and _is_active(cell[1:]) else cell


def _is_active(text: str) -> bool:
    bare = text.lstrip(" ").lstrip("'").lstrip(" ") if text.lstrip(" ").startswith("'") else text.lstrip(" ")
    return bare.startswith(_BEGINS)
