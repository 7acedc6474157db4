# SPDX-License-Identifier: MIT
"""Markdown as a document in the program's look: headings, tables and links in the theme's fonts and colours."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from PySide6.QtCore import QObject
from PySide6.QtGui import (
    QBrush,
    QTextBlock,
    QTextBlockFormat,
    QTextCharFormat,
    QTextCursor,
    QTextDocument,
    QTextFrameFormat,
    QTextLength,
    QTextTable,
)
from PySide6.QtWidgets import QTextEdit

from desktop.help_text import slug
from desktop.theme import BODY, HEADING, TITLE, Theme

_SIZES = {1: TITLE, 2: HEADING, 3: BODY}
_ABOVE = {1: 0, 2: 24, 3: 20}
# What the columns of a table get of its width, in percent, by how many there are.
_PARTS = {2: (62, 38), 3: (18, 50, 32)}


def dressed(text: str, theme: Theme, parent: QObject) -> QTextDocument:
    """A document of a Markdown text. Links to elsewhere stay text."""
    document = QTextDocument(parent)
    document.setDefaultFont(theme.font())
    document.setDocumentMargin(16)
    features = QTextDocument.MarkdownFeature
    document.setMarkdown(text, features.MarkdownDialectGitHub | features.MarkdownNoHTML)
    for block in _blocks(document):
        _dress_block(block, theme)
    for frame in document.rootFrame().childFrames():
        if isinstance(frame, QTextTable):
            _dress_table(frame, theme)
    return document


def heading_at(document: QTextDocument, section: str) -> int:
    """Where the heading named so in a link begins; 0 where there is none."""
    for block in _blocks(document):
        if block.blockFormat().headingLevel() and slug(block.text()) == section:
            return block.position()
    return 0


def found_places(document: QTextDocument, words: Sequence[str], theme: Theme) -> list[QTextEdit.ExtraSelection]:
    """A mark for every place of every word."""
    marks = []
    for word in words:
        cursor = document.find(word)
        while not cursor.isNull():
            mark = QTextEdit.ExtraSelection()
            # both are properties of a Qt struct, which the stubs do not know
            mark.cursor = cursor  # type: ignore[attr-defined]
            mark.format.setBackground(theme.colour("chosen"))  # type: ignore[attr-defined]
            mark.format.setFontWeight(600)  # type: ignore[attr-defined]
            marks.append(mark)
            cursor = document.find(word, cursor)
    return marks


def _blocks(document: QTextDocument) -> Iterable[QTextBlock]:
    block = document.begin()
    while block.isValid():
        yield block
        block = block.next()


def _dress_block(block: QTextBlock, theme: Theme) -> None:
    cursor = QTextCursor(block)
    level = block.blockFormat().headingLevel()
    shape = QTextBlockFormat()
    if level:
        shape.setTopMargin(theme.px(_ABOVE.get(level, 16)))
        shape.setBottomMargin(theme.px(6))
        cursor.select(QTextCursor.SelectionType.BlockUnderCursor)
        look = QTextCharFormat()
        look.setFont(theme.font(_SIZES.get(level, BODY), bold=True))
        cursor.setCharFormat(look)  # in place of Qt's own, whose size is a step from the body's
        cursor = QTextCursor(block)
    elif cursor.currentTable() is not None:
        return
    else:
        shape.setBottomMargin(theme.px(8))
    shape.setLineHeight(theme.px(3), QTextBlockFormat.LineHeightTypes.LineDistanceHeight.value)
    cursor.mergeBlockFormat(shape)


def _dress_table(table: QTextTable, theme: Theme) -> None:
    shape = table.format()
    shape.setBorder(0)
    shape.setBorderStyle(QTextFrameFormat.BorderStyle.BorderStyle_None)
    shape.setCellSpacing(0)
    shape.setCellPadding(theme.px(4))
    shape.setWidth(QTextLength(QTextLength.Type.PercentageLength, 100))
    shape.setBottomMargin(theme.px(8))
    percent = QTextLength.Type.PercentageLength
    shape.setColumnWidthConstraints([QTextLength(percent, part) for part in _PARTS.get(table.columns(), ())])
    table.setFormat(shape)
    rule = QBrush(theme.colour("hairline"))
    for row in range(table.rows()):
        for column in range(table.columns()):
            cell = table.cellAt(row, column)
            look = cell.format().toTableCellFormat()
            look.setBottomBorder(1)
            look.setBottomBorderStyle(QTextFrameFormat.BorderStyle.BorderStyle_Solid)
            look.setBottomBorderBrush(rule)
            if not row:
                look.setForeground(theme.colour("quiet"))
            cell.setFormat(look)
