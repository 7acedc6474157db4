# SPDX-License-Identifier: MIT
"""What a balance says on a cable: one line of text in, the mass and whether it stands still out.

No maker's protocol is in here. A line is read when exactly one figure in it can be the mass; everything that could be meant in
two ways is not read at all, because a figure read wrongly is worse than one typed by hand.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

# SI prefixes; a figure without any unit is in g, as in the field it goes to
GRAMS = {"": Decimal(1), "g": Decimal(1), "mg": Decimal("0.001"), "kg": Decimal(1000)}
LONGEST = 200  # characters: more between two line ends is noise, not a figure

# One decimal mark at most; not glued to a letter, nor a piece of a longer row of digits and marks.
_FIGURE = re.compile(
    r"(?<![\w.])(?<![0-9.,],)(?:[0-9]+(?:[.,][0-9]+)?|(?<![^\s+\-\u2212])[.,][0-9]+)(?![.,]?[0-9])"
)
_WORD = re.compile(r"[\s.,;:]*([^\W\d_]*)(.?)", re.DOTALL)
_SIGN = re.compile(r"([+\-\u2212\u00b1]?)\s*([+\-\u2212\u00b1])\s*$")
_GROUPS = re.compile(r"(?<![0-9.:/\-\u2212])[+\-\u2212]?[0-9]{1,3}[ \u00a0'\u2019]$")
_ESCAPE = re.compile(r"\\(?:x([0-9A-Fa-f]{2})|([rnt\\]))")
_CONTROL = {"r": "\r", "n": "\n", "t": "\t", "\\": "\\"}


@dataclass(frozen=True, slots=True)
class Shown:
    """What one line says: the mass, and whether the line carries the mark of a stable one."""

    mass_g: float
    is_marked: bool = False


def shown_in(line: str, mark: str = "") -> Shown | None:
    """The mass in a line as a balance sends it, None where it holds none that is sure.

    Sign, blanks, decimal point or comma; g, mg and kg, in either case; any other unit refuses the line. Of several figures the
    one with a unit counts; two with a unit, or several without, refuse it too. The mark is looked for as a word of its own:
    'S' is not found in 'SD'.
    """
    if len(line) > LONGEST:
        return None
    span = _mark_span(line, mark)
    figures = [found for found in _FIGURE.finditer(line) if not (span[0] <= found.start() < span[1])]
    named = [(found, unit) for found in figures for unit in [_unit_after(line, found.end(), span)] if unit]
    if len(named) != 1 and (named or len(figures) != 1):
        return None
    found, unit = named[0] if named else (figures[0], "")
    if unit not in GRAMS or _is_grouped(line, found):
        return None
    sign = _sign_before(line[: found.start()])
    if sign is None or (not unit and line[found.end() : found.end() + 1] in {"+", "-", "\u2212"}):
        return None
    mass = sign * Decimal(found.group().replace(",", ".")) * GRAMS[unit]
    return Shown(float(mass), span[1] > span[0])


def sent(typed: str) -> bytes | None:
    r"""What is sent for a text typed with escapes: \r, \n, \t, \\ and \x1b; None where it cannot be sent so."""
    bare = _ESCAPE.sub("", typed)
    if "\\" in bare or not typed.isascii():
        return None
    plain = _ESCAPE.sub(lambda found: chr(int(found[1], 16)) if found[1] else _CONTROL[found[2]], typed)
    return plain.encode("latin-1")


def _mark_span(line: str, mark: str) -> tuple[int, int]:
    """Where the mark stands as a word of its own; (0, 0) where it does not."""
    if not mark.strip():
        return 0, 0
    before, after = _edge(mark[0], "<!"), _edge(mark[-1], "!")
    found = re.search(f"{before}{re.escape(mark)}{after}", line)
    return (0, 0) if found is None else found.span()


def _edge(letter: str, way: str) -> str:
    """What may not stand beside an edge of the mark: more letters beside a letter, more of a figure beside a digit."""
    if letter.isalpha():
        return f"(?{way}[^\\W\\d_])"
    return f"(?{way}[\\d.,])" if letter.isdigit() else ""


def _unit_after(line: str, end: int, span: tuple[int, int]) -> str:
    """The word behind a figure; '' where there is none, or where it is only the mark."""
    word = _WORD.match(line, end)
    assert word is not None  # every part of it may be empty
    unit = word[1].casefold()
    if word[2] in {"%", "\u2030", "\u00b0", "/"}:
        return unit + word[2]
    is_mark = span[0] <= word.start(1) < span[1]
    return "" if is_mark and unit not in GRAMS else unit


def _is_grouped(line: str, found: re.Match[str]) -> bool:
    """Whether digits stand before it that may be its thousands: '1 234.5'."""
    whole = re.match("[0-9]*", found.group())
    return whole is not None and len(whole[0]) == 3 and bool(_GROUPS.search(line[: found.start()]))


def _sign_before(text: str) -> int | None:
    """The sign at the end of what stands before a figure; None for two of them, or for ±."""
    sign = _SIGN.search(text)
    if sign is None:
        return 1
    if sign[1]:
        return None
    return {"+": 1, "-": -1, "\u2212": -1}.get(sign[2])
