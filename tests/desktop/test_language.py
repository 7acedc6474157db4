# SPDX-License-Identifier: MIT
"""Every text of the window comes out of one catalogue that can be translated.

Run as a script it is the window in a language that nobody speaks, whose letters are all of another alphabet:
`python test_language.py BOOK FOLDER`. Whatever is still seen in Latin letters, and was not written by the person at the bench,
cannot be translated.
"""

import ast
import csv
import gettext
import json
import os
import re
import shutil
import string
import subprocess
import sys
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import chain
from pathlib import Path
from typing import Any, get_args

import pytest
from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from PySide6.QtCore import QAbstractItemModel, QLocale, QModelIndex, Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QApplication,
    QComboBox,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QTextBrowser,
    QWidget,
)

import resources
from db import make_demo
from desktop import language

ROOT = Path(__file__).parents[2]
KEYWORDS = {"tr": None, "tr_count": (2, 3)}
# one letter for one letter, so that everything is as wide as it was: English in Cyrillic letters, which is no language
FOREIGN = str.maketrans(
    "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ",
    "абцдефгхийклмнопярстувшжызАБЦДЕФГХИЙКЛМНОПЯРСТУВШЖЫЗ",
)
# what stands between them is no word of a sentence: facts, marks of a text with links, entities, the end of a line
KEPT = re.compile(r"(\{[^{}]*\}|<[^<>]+>|&[a-z]+;)")
# of a chapter of the help: where a link leads, and what a sum is found by
KEPT_OF_HELP = re.compile(r"(\]\([^)]*\)|\*\*Formula:\*\*|\*\*Source:\*\*)")
# what ISO 639-2 leaves for private use
LANGUAGE = "qaa"
# signs of the trade, units, keys and endings of files, which every language writes alike
_ALIKE = """
AFC Alt Backspace CAS CIE Ctrl CSV Del DPG Enter Esc F1 IFRA INCI IUPAC IPM JSON MIT PDF PNG PySide Qt Return SHA Shift Space SVG
Stillroom Tab TEC Up Down Left Right XLSX csv json kg min mol pdf png svg stillroom txt xlsx
"""
SIGNS = frozenset(_ALIKE.split())
WORD = re.compile(r"[A-Za-z]{3,}")
# marks, entities, addresses, and where a file lies
_NO_WORDS = re.compile(r"<[^<>]+>|&[a-z]+;|https?://\S+|(?<!\S)/\S+( backups\S*)?( [\d.]+ step \d+\.stillroom)?")


def messages() -> set[str]:
    """Every text that a translator is given."""
    found = set()
    for _, _, said, _, _ in extract_from_dir(ROOT / "desktop", [("**.py", "python")], keywords=KEYWORDS):
        found.update((said,) if isinstance(said, str) else said)
    return found


def foreign(text: str, kept: re.Pattern[str] = KEPT) -> str:
    return "".join(part if kept.fullmatch(part) else part.translate(FOREIGN) for part in kept.split(text))


class _Foreign(gettext.NullTranslations):
    """Says in foreign letters what a translator was given, and everything else as it is."""

    def __init__(self, known: set[str]) -> None:
        super().__init__()
        self._known = known

    def gettext(self, message: str) -> str:
        return foreign(message) if message in self._known else message

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1 if n == 1 else msgid2)


# what is seen --------------------------------------------------------------------------------------------------------------


def seen(window: QWidget) -> Iterator[tuple[str, str]]:
    """(where, text) of what is shown, told when something is pointed at, or read out."""
    for widget in window.findChildren(QWidget):
        if not widget.isVisible():
            continue
        kind = type(widget).__name__
        for what in (widget.toolTip(), widget.accessibleName(), widget.accessibleDescription(), widget.statusTip()):
            yield f"{kind}, told", what
        if isinstance(widget, QLabel | QAbstractButton):
            yield kind, widget.text()
        elif isinstance(widget, QLineEdit | QPlainTextEdit):
            yield f"{kind}, placeholder", widget.placeholderText()
        elif isinstance(widget, QComboBox):
            yield from ((kind, widget.itemText(at)) for at in range(widget.count()))
        elif isinstance(widget, QTextBrowser):
            yield kind, widget.toPlainText()
        elif isinstance(widget, QAbstractItemView) and widget.model() is not None:
            yield from ((f"{kind} {widget.accessibleName()}", text) for text in cells(widget.model()))


def cells(model: QAbstractItemModel, under: QModelIndex | None = None) -> Iterator[str]:
    """Heads, and what the first rows show, tell and read out, with what is below them in a tree."""
    top = QModelIndex() if under is None else under
    roles = (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole, Qt.ItemDataRole.AccessibleDescriptionRole)
    for row in range(min(model.rowCount(top), 40)):
        column = 0
        while (at := model.index(row, column, top)).isValid():
            if under is None and row == 0:
                yield from (str(model.headerData(column, Qt.Orientation.Horizontal, role) or "") for role in roles)
            yield from (str(at.data(role) or "") for role in roles)
            column += 1
        if model.rowCount(first := model.index(row, 0, top)):
            yield from cells(model, first)


def menus(window: Any) -> Iterator[tuple[str, str]]:
    for menu in window.menuBar().actions():
        yield "menu", menu.text()
        for action in menu.menu().actions() if menu.menu() is not None else ():
            yield f"menu {menu.text()}", action.text()
            yield f"menu {menu.text()}, told", action.toolTip()


def further(app: Any, folder: Path) -> Iterator[tuple[str, Callable[[], object]]]:
    """(name, how to go there) of pages that stand beside the five."""
    from db import DamagedBook
    from desktop import table_files
    from desktop.help_text import CHAPTERS

    window = app.window
    for name, _ in CHAPTERS:
        yield f"help, {name}", lambda name=name: window.show_help(name)
    yield "backups", app.keeping.show
    table = folder / "list.csv"
    table.write_text("substance,CAS,zusatz\nLinalool,78-70-7,\nNeroli oil,,x\n", encoding="utf-8")
    yield "import", lambda: window.show_page("import").start(table, table_files.read(table))
    torn = folder / "torn.stillroom"
    yield "fault", lambda: (window.fault.show_fault(DamagedBook(torn), torn, None), window.show_fault())


def written_by_hand(known: set[str]) -> list[str]:
    """What stands in the demo studio's book because somebody wrote it, and what ships as somebody's words, the longest first.
    What is a text of the program too is none, but for what is named here."""
    import perfumery.values as values
    from desktop.pages.first import CURRENCIES

    own = known | {text for name in vars(values).values() for text in get_args(name) if isinstance(text, str)}
    # typed on the walk; and what the studio's entries are put together with
    found = {"substance", "zusatz", "list.csv", "Neroli oil", "nosuch", "stock take, balance B2, gross read", "ambery, solvent",
             "eau de toilette", *CURRENCIES}  # fmt: skip

    def walk(thing: object) -> None:
        if isinstance(thing, str):
            found.update(part for part in (thing, *thing.splitlines(), *thing.split(";")) if len(part) > 2 and part not in own)
        elif isinstance(thing, Mapping):
            for part in thing.values():
                walk(part)
        elif isinstance(thing, Iterable):
            for part in thing:
                walk(part)

    words = json.loads((ROOT / "resources/words.json").read_text(encoding="utf-8"))
    walk(json.loads((ROOT / "resources/demo.json").read_text(encoding="utf-8")))
    walk([words, *words["groups"], *words["synonyms"]])
    with (ROOT / "resources/materials.csv").open(encoding="utf-8") as file:
        walk([value for row in csv.DictReader(file) for key, value in row.items() if key not in ("kind", "state_25C")])
    return sorted((text.strip() for text in found if text.strip()), key=len, reverse=True)


def untranslated(text: str, own: list[str]) -> list[str]:
    """The Latin words of a text that are neither a sign nor somebody's own."""
    text = _NO_WORDS.sub(" ", text).replace("&", "")
    # a smell word of the studio, and a form of a material
    if text == "solvent" or not WORD.search(text):
        return []
    for one in own:
        if one in text:
            text = re.sub(rf"(?<!\w){re.escape(one)}(?!\w)", " ", text)
    return [word for word in WORD.findall(text) if word not in SIGNS]


def walk_foreign(book: Path, folder: Path) -> dict[str, list[str]]:
    """{place: texts that stayed English} of a walk through the whole window in the language nobody speaks."""
    known, read_text = messages(), resources.read_text

    def read(name: str) -> str:
        folder = f"help/{LANGUAGE}/"
        return foreign(read_text(name.replace(folder, "help/")), KEPT_OF_HELP) if name.startswith(folder) else read_text(name)

    resources.read_text = read
    language.languages = lambda: (LANGUAGE,)
    language._catalogue = lambda: _Foreign(known)
    sys.path.insert(0, str(Path(__file__).parent))
    import test_access as access  # imports the window, whose tables of texts are made now

    qt = QApplication([])
    copy = folder / book.name
    copy.write_bytes(book.read_bytes())
    app = access.opened(qt, folder)
    own = [*written_by_hand(known), str(folder), copy.stem]
    left: dict[str, set[str]] = defaultdict(set)
    told: set[tuple[str, str]] = set()
    for place, go in chain(access.places(app, copy), further(app, folder)):
        try:
            go()
        except Exception as error:  # by a text that something was looked up by
            left[place].add(f"went wrong: {error!r}")
        access.settle()
        for where, text in (*seen(app.window), *(menus(app.window))):
            if (where, text) in told:
                continue
            told.add((where, text))
            if words := untranslated(text, own):
                left[f"{place}: {where}"].add(f"{text[:160]!r}: {' '.join(words[:8])}")
    app.leave()
    assert len(told) > 1000, "nothing was looked at"
    return {place: sorted(texts) for place, texts in left.items()}


def test_nothing_that_is_shown_stays_english(tmp_path: Path) -> None:
    book = tmp_path / "demo.stillroom"
    make_demo(book).close()
    folder = tmp_path / "screen"
    folder.mkdir()
    done = subprocess.run(
        [sys.executable, __file__, str(book), str(folder)], capture_output=True, text=True, check=False,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    left = json.loads(done.stdout)
    assert left == {}


# what a translator is given ------------------------------------------------------------------------------------------------


def _calls() -> Iterator[tuple[str, ast.Call, bool]]:
    """(place, call, whether it is made once, at the start) of every `tr` and `tr_count` of the window."""
    for path in sorted((ROOT / "desktop").rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        inside = {
            id(node) for made in ast.walk(tree) if isinstance(made, ast.FunctionDef | ast.Lambda) for node in ast.walk(made)
        }  # fmt: skip
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in KEYWORDS:
                yield f"{path.relative_to(ROOT)}:{node.lineno}", node, id(node) not in inside


def _texts(call: ast.Call) -> list[ast.expr]:
    return call.args[:1] if isinstance(call.func, ast.Name) and call.func.id == "tr" else call.args[1:3]


def _facts(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}


# Said with its fact left open, to read by what a hand typed.
READ_BY = {"{span} ago"}


def test_every_message_is_a_text_that_a_translator_is_given() -> None:
    known = messages()
    hidden = []
    for place, call, _ in _calls():
        for text in _texts(call):
            if not isinstance(text, ast.Constant) or text.value not in known:
                hidden.append(place)
    assert hidden == []


def test_every_fact_of_a_message_is_given_and_named_for_a_translator() -> None:
    wrong = []
    for place, call, is_table in _calls():
        given = {keyword.arg for keyword in call.keywords}
        texts = [text.value for text in _texts(call) if isinstance(text, ast.Constant)]
        for text in texts:
            names = _facts(text)
            if text != text.strip() or not text:
                wrong.append(f"{place}: begins or ends with a blank, or is none: {text!r}")
            if [name for name in names if not name.isidentifier() or name[-1].isdigit()]:
                wrong.append(f"{place}: a fact that says nothing: {text!r}")
        told = set().union(*map(_facts, texts))
        if len(texts) == 2 and _facts(texts[0]) | {"n"} != _facts(texts[1]) | {"n"}:
            wrong.append(f"{place}: one and many differ in their facts")
        # a table's templates are filled where they are taken from it
        is_template = not given and (is_table or READ_BY & set(texts))
        if not is_template and None not in given and told - {"n"} != given - {"n"}:
            wrong.append(f"{place}: {sorted(map(str, told ^ given))}")
    assert wrong == []


# Shown, and the same in every language: the name of the program, units, a number of the trade, what a picture looks for.
SAME_EVERYWHERE = {"CAS", "g/ml", "cm", "Stillroom", "wet slate"}
_CALLED = """
setText setToolTip setPlaceholderText setAccessibleName setAccessibleDescription setStatusTip setWindowTitle setTitle QLabel label
QPushButton QCheckBox QRadioButton QToolButton QAction Field Fact say addAction addMenu addItem Way tell Unreadable UnreadTable
"""
SHOWING = frozenset(_CALLED.split())
KEYS = re.compile(r"[ (]*((Ctrl|Shift|Alt)\+|Enter|Esc|F\d|[A-Z0-9]\b)*[)]*")


def _literals(shown: ast.expr) -> Iterator[str]:
    """What stands in quotes in what is shown, and was not looked up."""
    if isinstance(shown, ast.Constant):
        yield shown.value if isinstance(shown.value, str) else ""
    elif isinstance(shown, ast.FormattedValue):
        yield from _literals(shown.value)
    elif isinstance(shown, ast.JoinedStr | ast.BoolOp):
        for part in shown.values:
            yield from _literals(part)
    elif isinstance(shown, ast.IfExp | ast.BinOp):
        for part in (shown.body, shown.orelse) if isinstance(shown, ast.IfExp) else (shown.left, shown.right):
            yield from _literals(part)


def _shown(call: ast.Call) -> Iterator[ast.expr]:
    """What a call shows: its first argument, of a column the second, and what is told of it."""
    name = call.func.attr if isinstance(call.func, ast.Attribute) else call.func.id if isinstance(call.func, ast.Name) else ""
    if name in SHOWING:
        yield from call.args[:1]
    elif name == "Column":
        yield from call.args[1:2]
    yield from (keyword.value for keyword in call.keywords if keyword.arg in ("tip", "title", "caption", "placeholder"))


def test_nothing_is_shown_in_english_by_hand() -> None:
    found = []
    for path in sorted((ROOT / "desktop").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            for shown in _shown(node) if isinstance(node, ast.Call) else ():
                for text in _literals(shown):
                    plain = re.sub(r"</?\w[^<>]*>?|&[a-z]+;", "", text)
                    if re.search("[A-Za-z]{2}", plain) and text not in SAME_EVERYWHERE and not KEYS.fullmatch(plain):
                        found.append(f"{path.relative_to(ROOT)}:{node.lineno}: {text!r}")
    assert found == []


# another language ----------------------------------------------------------------------------------------------------------


@pytest.fixture
def translated(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder for translations in place of ours, which are none; what was looked up is forgotten before and after."""
    (tmp_path / "languages").mkdir()
    monkeypatch.setattr(resources, "_HOME", tmp_path)
    language.languages.cache_clear()
    language._catalogue.cache_clear()
    yield tmp_path / "languages"
    QLocale.setDefault(QLocale.c())
    language.languages.cache_clear()
    language._catalogue.cache_clear()


def _write(folder: Path, name: str, said: Mapping[str | tuple[str, str], str | tuple[str, ...]]) -> None:
    """A catalogue as the translator's tool makes it, for the plural forms of a language that is there."""
    made = Catalog(locale=name)
    for text, other in said.items():
        made.add(text, other)
    place = folder / name / "LC_MESSAGES"
    place.mkdir(parents=True)
    with (place / "stillroom.mo").open("wb") as file:
        write_mo(file, made)


def test_a_language_is_found_with_its_plural_forms(translated: Path) -> None:
    _write(translated, "pl", {"{name} is done.": "Gotar {name}.", ("{n} row", "{n} rows"): ("{n} rzo", "{n} rzy", "{n} rzów")})
    QLocale.setDefault(QLocale("pl_PL"))
    assert language.languages()[-1] == "pl"
    assert language.tr("{name} is done.", name="T-1") == "Gotar T-1."
    assert [language.tr_count(n, "{n} row", "{n} rows") for n in (1, 3, 5, 22)] == ["1 rzo", "3 rzy", "5 rzów", "22 rzy"]
    assert language.tr("{name} waits.", name="T-1") == "T-1 waits.", "what is not translated stands as it was written"


def test_of_a_country_before_of_the_language(translated: Path) -> None:
    for name in ("pt", "pt_BR"):
        _write(translated, name, {"Shelf": f"Prat {name}", f"only {name}": "Só"})
    QLocale.setDefault(QLocale("pt_BR"))
    assert language.tr("Shelf") == "Prat pt_BR" and language.tr("only pt") == "Só" == language.tr("only pt_BR")


@pytest.mark.parametrize("name", ["en_GB", "en_US", "C", "de_AT"])
def test_what_nobody_translated_is_english(translated: Path, name: str) -> None:
    _write(translated, "pl", {"Shelf": "Pol"})
    QLocale.setDefault(QLocale(name))
    assert language.tr("Shelf") == "Shelf" and language.tr_count(2, "{n} row", "{n} rows") == "2 rows"
    assert name.startswith("de") or language.languages() == ()


def test_nothing_ships_but_english() -> None:
    assert not (ROOT / "resources/languages").exists()


def test_days_and_the_help_are_read_as_they_are_shown(tmp_path: Path) -> None:
    """In a program of its own, for its tables are made at the start: months by their names, a chapter where one is whole."""
    shutil.copytree(ROOT / "resources/help", tmp_path / "help")
    job = (tmp_path / "help/job.md").read_text(encoding="utf-8")
    (tmp_path / "help/pl").mkdir()
    (tmp_path / "help/pl/job.md").write_text(job.replace("## Weigh", "## Wag"), encoding="utf-8")
    (tmp_path / "help/pl/book.md").write_text("# Knig\n\nMore is missing.\n", encoding="utf-8")
    said = {"Mar": "marz", "May": "ma", "am": "ran", "pm": "wiecz", "The book": "Knig", "now": "teras"}
    _write(tmp_path / "languages", "pl", said)
    script = """
from pathlib import Path
from datetime import date, datetime, timedelta
from PySide6.QtCore import QLocale
import resources
resources._HOME = Path(HOME)
from desktop import figures, help_text
from desktop.models.days import parse_day
for on in (date(2025, 3, 11), date(2025, 5, 1), date(2025, 4, 30)):
    assert parse_day(figures.day(on)) == on, figures.day(on)
assert parse_day('11 Mar 2025') == parse_day('11 marz 2025') == date(2025, 3, 11)
QLocale.setDefault(QLocale('en_US'))
from desktop.models.moments import moment_text, parse_moment
for hour in (0, 2, 12, 23):
    at = datetime(2025, 3, 11, hour, 5).astimezone()
    assert parse_moment(moment_text(at), at + timedelta(days=40)) == at, moment_text(at)
assert parse_moment('teras', at) == at and moment_text(at).endswith(' wiecz')
QLocale.setDefault(QLocale('pl_PL'))
assert 'Wag' in help_text.chapter('job') and 'More is missing' not in help_text.chapter('book')
assert next(one.place for one in help_text.sections() if one.title == 'Wag') == 'weigh'
assert help_text.heading_of('job', 'weigh') == 'wag' and dict(help_text.CHAPTERS)['book'] == 'Knig'
print(figures.day(date(2025, 3, 11)))
""".replace("HOME)", f"{str(tmp_path)!r})")
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=False, cwd=ROOT,
        env={**{name: value for name, value in os.environ.items() if name != "LANGUAGE"}, "LC_ALL": "pl_PL.UTF-8"},
    )  # fmt: skip
    assert (done.stdout.strip(), done.stderr) == ("11 marz 2025", "")


if __name__ == "__main__":
    sys.stdout.write(json.dumps(walk_foreign(Path(sys.argv[1]), Path(sys.argv[2])), ensure_ascii=False))
