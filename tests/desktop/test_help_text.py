# SPDX-License-Identifier: MIT
"""What the help says: nothing of the program is missing in it, every sum has its source, and what is written once is equal."""

import re
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules

import pytest
from PySide6.QtCore import QObject
from PySide6.QtGui import QAction, QKeySequence, QShortcut, QTextTable
from PySide6.QtWidgets import QApplication

import desktop.models
import resources
from desktop import help_text
from desktop.actions import COMMANDS, RULE
from desktop.columns import Column
from desktop.help_text import CHAPTERS, chapter, sections, slug, sums
from desktop.page_commands import ELSEWHERE, PAGE_COMMANDS, command_rows
from desktop.settings import KEPT, Settings, kept
from desktop.theme import Theme
from desktop.widgets.markdown import dressed
from perfumery.values import HABITS

ROOT = Path(__file__).parent.parent.parent
PORTABLE = QKeySequence.SequenceFormat.PortableText
# The words of this command are those of what it would do now.
TURNS = {"Close strip", "Hang strip up again"}
_QUOTED = re.compile(r'"([^"]+)"')
LINK = re.compile(r"\[[^\]]+\]\(([^)]+)\)")


def keys_of(of: QAction | QShortcut) -> list[str]:
    return [key.toString(PORTABLE) for key in (of.shortcuts() if isinstance(of, QAction) else of.keys())]


@pytest.fixture
def theme(qapp: QApplication) -> Theme:
    return Theme(qapp, "light")


# sums --------------------------------------------------------------------------------------------------------------------


def test_readme_has_the_same_sums() -> None:
    assert help_text.sum_table() in (ROOT / "README.md").read_text(encoding="utf-8")


def test_every_sum_is_whole() -> None:
    assert len(sums()) == resources.read_text("help/sums.md").count("### ")
    for one in sums().values():
        assert one.about and one.formula and one.source and "|" not in one.formula + one.source
        assert not one.about.startswith("**") and "\n" not in one.about


@pytest.mark.parametrize("words", ["common practice, no source", "our own rule", "from memory"])
def test_what_has_no_source_says_so(words: str) -> None:
    assert any(words in one.source for one in sums().values())


def test_every_sum_a_module_names_stands_in_the_help() -> None:
    found = set()
    for path in sorted((ROOT / "desktop").rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        found |= set(re.findall(r'\bsum="([^"]+)"', text))
        found |= {name for call in re.findall(r"\btips\(([^)*]*)\)", text) for name in _QUOTED.findall(call)}
    for info in iter_modules(desktop.models.__path__):
        module = import_module(f"desktop.models.{info.name}")
        for columns in vars(module).values():
            if isinstance(columns, tuple):
                found |= {column.sum for column in columns if isinstance(column, Column) and column.sum}
        found |= {name for _, name in getattr(module, "_TOTAL_SUMS", ())}
        found |= {name for name in (getattr(module, "CURVE_SUM", ""),) if name}
    assert len(found) > 15
    assert found - sums().keys() == set()


# commands, keys, settings ------------------------------------------------------------------------------------------------


def test_every_command_and_key_of_the_window_is_named() -> None:
    text = chapter("keys")
    for command in COMMANDS:
        if command.text != RULE:
            assert f"| {command.text} | {' or '.join(command.keys)} |" in text


def test_what_the_pages_can_do_is_named(hand, tmp_path: Path) -> None:
    assert hand.app.new_demo(tmp_path / "D.stillroom")
    window = hand.app.window
    known = {menu: set(own) for menu, own in PAGE_COMMANDS}
    elsewhere = {(text, keys) for _, own in ELSEWHERE for text, keys in own}
    named = {key for _, _, keys in command_rows() for key in re.split(r" or |, ", keys)}
    found: dict[str, set[tuple[str, str]]] = {}
    shown: list[QObject] = []
    for name in ("bench", "shelf", "weigh", "smell", "compare"):
        page = window.show_page(name)
        for view in getattr(page, "VIEWS", ()):
            page.view(view)
        if name == "shelf":
            page.enter_delivery()
        if name == "weigh":
            page.show_balances()
        for menu, own in page.menus():
            shown += own
            found.setdefault(menu, set()).update((a.text().replace("&", ""), " or ".join(keys_of(a))) for a in own)
        for made in (*page.findChildren(QAction), *page.findChildren(QShortcut)):
            assert set(keys_of(made)) <= named, (made, keys_of(made))
            if isinstance(made, QAction) and made.text() and made.shortcuts() and made not in shown:
                texts = [text for text, keys in elsewhere if set(keys_of(made)) <= set(keys.split(" or "))]
                assert any(text.startswith(made.text()) for text in texts), made.text()
    assert found.keys() == known.keys()
    differ = {(menu, text) for menu in known for text, _ in found[menu] ^ known[menu]} - {("Strips", text) for text in TURNS}
    assert differ == set()


def test_every_setting_says_what_it_does(tmp_path: Path) -> None:
    text = chapter("settings")
    assert all(f"| {one.name} | {one.does} | {one.where} |" in text for one in KEPT)
    assert [one.key for one in KEPT if kept(f"{one.key}x") is not one] == []
    settings = Settings(tmp_path / "s.ini")
    for ask in (settings.text, lambda key: settings.number(key, 1), lambda key: settings.keep(key, 1)):
        with pytest.raises(ValueError, match="must stand in KEPT"):
            ask("nobody/told")


def test_every_habit_says_what_it_does() -> None:
    text = chapter("settings")
    for name in HABITS:
        assert name in text or name.removeprefix("re-test months ") in text


# text --------------------------------------------------------------------------------------------------------------------


def test_every_link_leads_somewhere() -> None:
    headings = {(one.chapter, slug(one.title)) for one in sections()}
    links = [link for name, _ in CHAPTERS for link in LINK.findall(chapter(name))]
    assert links
    for link in links:
        name, _, section = link.partition("#")
        assert name.endswith(".md") and name.removesuffix(".md") in dict(CHAPTERS)
        assert not section or (name.removesuffix(".md"), section) in headings


def test_headings_of_a_chapter_differ() -> None:
    for name, _ in CHAPTERS:
        named = [slug(one.title) for one in sections() if one.chapter == name]
        assert sorted(named) == sorted(set(named))


@pytest.mark.parametrize("name", dict(CHAPTERS))
def test_markdown_is_shown_as_text(name: str, theme) -> None:
    document = dressed(chapter(name), theme, theme)
    shown = document.toPlainText()
    assert not re.search(r"\*\*|^#|\]\(|\|--", shown, re.MULTILINE)
    tables = chapter(name).count("|---|---|")
    assert sum(isinstance(frame, QTextTable) for frame in document.rootFrame().childFrames()) == tables
