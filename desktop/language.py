# SPDX-License-Identifier: MIT
"""Every text that is shown, in the language of the system where somebody has translated it: none ships but English.

The English text itself is what a translation is found by, as in any program that uses GNU gettext: `resources/languages/LANGUAGE/
LC_MESSAGES/stillroom.mo`, and `resources/help/LANGUAGE/` for the chapters of the help. What the person at the bench wrote, the
trade's names of materials and what stands in files is never translated. The language is that of the start: it does not
change while the program runs, so a table of texts may be made once.
"""

from __future__ import annotations

import gettext
import io
from functools import cache

from PySide6.QtCore import QLocale

import resources


def tr(text: str, /, **facts: object) -> str:
    """A text with its named facts: `tr("{name} is on the shelf.", name=name)`.

    One whole sentence each, so that another language may put the facts in its own order.
    """
    said = _catalogue().gettext(text)
    return said.format(**facts) if facts else said


def tr_count(number: int, one: str, many: str, /, **facts: object) -> str:
    """A text that depends on a number, told in it as `{n}`: `tr_count(rows, "{n} row", "{n} rows")`."""
    return _catalogue().ngettext(one, many, number).format(n=number, **facts)


@cache
def languages() -> tuple[str, ...]:
    """What the person at the bench reads, dearest first, up to English, which stands in the code: ('pt_BR', 'pt')."""
    wanted = [name.replace("-", "_") for name in QLocale().uiLanguages()]
    english = next((at for at, name in enumerate(wanted) if name.partition("_")[0] in ("en", "C")), len(wanted))
    return tuple(wanted[:english])


@cache
def _catalogue() -> gettext.NullTranslations:
    """What is not said in the dearest language is said in the next. gettext's own search takes 'pt' for 'pt_Latn_BR' and so
    before 'pt_BR'."""
    found = gettext.NullTranslations()
    for name in reversed(languages()):
        try:
            made = io.BytesIO(resources.read_bytes(f"languages/{name}/LC_MESSAGES/stillroom.mo"))
        except FileNotFoundError:
            continue
        said = gettext.GNUTranslations(made)
        said.add_fallback(found)
        found = said
    return found
