# SPDX-License-Identifier: MIT
"""A stock as it is typed: 'neat' and 'in' are read as they are shown in the language of the window, and in English always."""

from __future__ import annotations

import re

from desktop.language import tr
from perfumery.entry import parse_dilution

# the word or sign between the strength and its carrier, as `figures.stock_text` writes it; where none stands there, the English
_BETWEEN = tr("{strength} in {carrier}").partition("{strength}")[2].partition("{carrier}")[0].strip() or "in"
# only where they are no part of a name: 'in' behind a figure, 'neat' before the parts or at the end
_IN = re.compile(rf"(?<=[\d%])\s+{re.escape(_BETWEEN)}(?=\s)", re.IGNORECASE)
_NEAT = re.compile(rf"(?<!\S){re.escape(tr('neat'))}(?=(?:\s+[\d.,]+)?\s*$)", re.IGNORECASE)


def as_read(text: str) -> str:
    """A typed line or strength with the words that are read: '10 % in DPG', 'amb neat 20'."""
    return _IN.sub(" in", _NEAT.sub("neat", text))


def read_stock(text: str) -> tuple[float | None, str]:
    """A strength cell as `parse_dilution` reads it: (strength or None, the carrier's name or ''). Raises Refused."""
    return parse_dilution(as_read(text))
