# SPDX-License-Identifier: MIT
"""The card of a material: what it is, how it smelled, its bottles, where it is used, its physical data."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from html import escape

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QFrame, QHBoxLayout, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

from db import Use
from desktop import figures
from desktop.language import tr
from desktop.led import Led
from desktop.models import properties
from desktop.models.forms import form_text
from desktop.models.holdings import Holding, holdings
from desktop.pages.bench.smelled import Smelled
from desktop.pages.notes import Notes
from desktop.session import Session
from desktop.theme import CAPTION
from perfumery import Material

# So many uses are shown, and so many where more were asked for.
USES_SHOWN, USES_MOST = 8, 100
# A chemical name longer than a narrow card may break after these.
_BREAKS = re.compile(r"([-,\])/=])(?=\S)")
_LONG = re.compile(r"\S{19,}")
# Such names also hold stretches without any mark; SMILES are nothing else.
_STRETCH = re.compile(r"(\w{18})(?=\w)")


def breakable(text: str) -> str:
    """The text with zero-width spaces where a long name may go on in the next line."""
    return _LONG.sub(lambda long: _STRETCH.sub("\\1\u200b", _BREAKS.sub("\\1\u200b", long[0])), text)


def _together(text: str) -> str:
    """A date or a name with its figure, not torn apart at the end of a line."""
    return text.replace(" ", "&nbsp;")


def _paragraphs(texts: list[str]) -> str:
    return "".join(f"<p style='margin:0 0 5px 0'>{text}</p>" for text in texts)


class MaterialCard(QScrollArea):
    """One material. Signals: `picked(key)` to add it to the formula, `edit_wanted(key)`, `retire_wanted(key)`,
    `return_wanted(key)` to bring a retired one back."""

    picked = Signal(int)
    edit_wanted = Signal(int)
    retire_wanted = Signal(int)
    return_wanted = Signal(int)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._led = Led(session)
        self.key: int | None = None
        self._all_uses = False
        self._all_data = False
        self._is_retired = False
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setMinimumHeight(80)
        sheet = QFrame()
        sheet.setProperty("role", "sheet")
        self.name = self._label(tr("Name"))
        self.identity = self._label(tr("What it is"), links=True)
        self.notes = Notes(session, "material")
        self.smelled = Smelled(session)
        self.bottles = self._label(tr("Bottles"))
        self.uses = self._label(tr("Where it is used"), links=True)
        self.data = self._label(tr("Physical data"), links=True)
        self.add_button = self._link_button(tr("Add to formula"), tr("Adds it to the formula (Enter in the list)"))
        self.edit_button = self._link_button(tr("Edit"), tr("Changes this material (Ctrl+Enter)"))
        self.retire_button = self._link_button(tr("Retire"), tr("Takes it off the lists; formulas keep it"))
        self.add_button.clicked.connect(self._on_add_clicked)
        self.edit_button.clicked.connect(self._on_edit_clicked)
        self.retire_button.clicked.connect(self._on_retire_clicked)
        for part in (self.notes, self.smelled):
            part.opened.connect(self._on_part_opened)
        buttons = self._buttons = QHBoxLayout()
        buttons.setSpacing(12)
        for button in (self.add_button, self.edit_button, self.retire_button):
            buttons.addWidget(button)
        buttons.addStretch()
        column = QVBoxLayout(sheet)
        column.setContentsMargins(12, 8, 12, 12)
        column.setSpacing(6)
        column.addWidget(self.name)
        column.addWidget(self.identity)
        column.addLayout(buttons)
        for part in (self.notes, self.smelled, self.bottles, self.uses, self.data):
            column.addWidget(part)
        column.addStretch()
        self.setWidget(sheet)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit_buttons()

    def _fit_buttons(self) -> None:
        """One below the other where large text leaves no room for them side by side."""
        parts = (self.add_button, self.edit_button, self.retire_button)
        needed = sum(button.sizeHint().width() for button in parts) + 36
        fits = needed <= self.viewport().width()
        side, below = QBoxLayout.Direction.LeftToRight, QBoxLayout.Direction.TopToBottom
        self._buttons.setDirection(side if fits else below)
        self._buttons.setSpacing(12 if fits else 2)

    def show_material(self, key: int | None) -> None:
        """Shows a material as it stands in the book, None an empty card."""
        is_other = key != self.key
        if is_other:
            self._all_uses = False
            self.verticalScrollBar().setValue(0)
        material = None if key is None else self._session.book.get(Material, key)
        self.key = None if material is None else material.key
        self.widget().setVisible(material is not None)
        self.notes.show_for(self.key)
        self.smelled.show_for(self.key)
        if self.key is None or material is None:
            # another material's uses may still be read
            self._led.lead(iter(()), lambda: None)
            return
        self._fit_buttons()
        self.name.setText(f"<b>{escape(breakable(material.name))}</b>")
        self.identity.setText(self._identity(material))
        bottles = [self._bottle(held) for held in holdings(self._session.book, material)]
        self.bottles.setText(_paragraphs(bottles))
        self._led.lead(self._reading_uses(self.key), lambda: None)
        if self._led.is_going and is_other:
            self.uses.setText(self._quiet(tr("Where it is used is still being read.")))
        self.data.setText(self._data(material))
        for label in (self.bottles, self.data):
            label.setVisible(bool(label.text()))
        self._is_retired = material.retired_on is not None
        self.add_button.setVisible(not self._is_retired)
        self.retire_button.setText(tr("Bring back") if self._is_retired else tr("Retire"))

    def _label(self, name: str, *, links: bool = False) -> QLabel:
        label = QLabel()
        label.setWordWrap(True)
        label.setTextFormat(Qt.TextFormat.RichText)
        label.setAccessibleDescription(name)  # a name would be read out in the place of the text
        label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        if links:
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextBrowserInteraction)
            label.linkActivated.connect(self._on_link_activated)
        return label

    def _link_button(self, text: str, tip: str) -> QPushButton:
        button = QPushButton(text)
        button.setProperty("role", "link")
        button.setAutoDefault(False)
        button.setToolTip(tip)
        button.setAccessibleDescription(tip)
        return button

    def _identity(self, material: Material) -> str:
        """Botanical or INCI name, CAS number, form; words; other names; retired since when."""
        latin = " · ".join(dict.fromkeys(filter(None, (material.botanical, material.inci, material.cas))))
        form = form_text(material.form)
        if material.is_carrier and material.form != "carrier":
            form = tr("{form}, carrier", form=form)
        if material.bench_name and material.bench_name != material.name:
            form = " · ".join((tr("on the bench: {name}", name=material.bench_name), form))
        lines = [self._quiet(escape(latin)), self._quiet(escape(form))]
        if material.synonyms:
            lines.append(self._quiet(escape(breakable(tr("also {names}", names="; ".join(material.synonyms))))))
        if material.words:
            lines.append(escape(", ".join(material.words)))
        if material.storage:
            lines.append(self._quiet(escape(tr("kept in: {storage}", storage=material.storage))))
        if material.retired_on is not None:
            day = figures.day(material.retired_on, self._session.book.now())
            lines.append(self._quiet(tr("retired {day}", day=day)))
        return "<br>".join(line for line in lines if line)

    def _bottle(self, held: Holding) -> str:
        """'M05-1 7.75 g left · F-4', and below it when it was opened and is due for a re-test, lot, supplier and price."""
        book, now, bottle = self._session.book, self._session.book.now(), held.bottle
        head = f"<b>{escape(bottle.code)}</b>"
        carrier = book.get(Material, bottle.carrier) if bottle.carrier is not None else None
        facts = [figures.stock_text(bottle.strength, carrier.short if carrier else "")]
        if held.left_g is not None:
            facts.append(tr("{mass} left", mass=figures.mass_text(held.left_g, 0.01)))
        facts.append(bottle.place)
        text = f"{head} {escape(' · '.join(filter(None, facts)))}"
        small = []
        if bottle.opened_on is not None:
            small.append(tr("opened {day}", day=_together(figures.day(bottle.opened_on, now))))
        if held.retest_on is not None:
            small.append(self._retest(held))
        if bottle.price_per_g is not None:
            small.append(figures.money(bottle.price_per_g, book.currency))
        lot = tr("lot {lot}", lot=bottle.lot) if bottle.lot else ""
        small += [escape(part) for part in (lot, bottle.supplier, bottle.remark) if part]
        return f"{text}<br>{self._quiet(' · '.join(small))}" if small else text

    def _retest(self, held: Holding) -> str:
        now = self._session.book.now()
        day = _together(figures.day(held.retest_on, now))
        if held.retest_on is None or held.retest_on > now.date():
            return tr("re-test {day}", day=day)
        due = tr("re-test due since {day}", day=day)
        return f"<span style='color:{self._session.theme.token('amber')}'>{due}</span>"

    def _reading_uses(self, material: int) -> Iterator[None]:
        """Reads the newest versions that hold it, in pieces of some ms, and shows them."""
        found: list[Use] = []
        count = 0
        for some, number in self._session.book.uses.finding_material(material, USES_MOST if self._all_uses else USES_SHOWN):
            found += some
            count = number or 0
            yield
        self.uses.setText(self._uses(found, count))

    def _uses(self, shown: Sequence[Use], count: int) -> str:
        """The versions that hold it, newest first, each a link, with its dose in neat parts per thousand."""
        if not count:
            return self._quiet(tr("in no formula yet"))
        links = [
            f"{self._link(f'version:{use.head.key}', use.head.code)}&nbsp;{figures.per_thousand(use.per_thousand)}"
            for use in shown
        ]
        earlier = count - len(shown)
        if earlier and self._all_uses:
            links.append(tr("and {number} earlier: Compare › where used has all of them", number=earlier))
        elif earlier:
            links.append(self._link("uses:all", tr("and {number} earlier", number=earlier)))
        head = self._quiet(tr("in, neat parts per thousand:"))
        return f"{head}<br>{' · '.join(links)}"

    def _data(self, material: Material) -> str:
        """Physical data, folded to one link until asked for; each with its basis and source."""
        data = properties.in_order(material.properties)
        if not data:
            return ""
        word = tr("hide physical data") if self._all_data else tr("physical data ({number})", number=len(data))
        lines = [self._link("data:fold", word)]
        for datum in data if self._all_data else ():
            label = self._quiet(escape(properties.kind_of(datum.kind).label))
            source = self._quiet(escape(breakable(properties.provenance(datum))))
            lines.append(f"{label} {escape(breakable(properties.shown(datum)))}<br>{source}")
        return _paragraphs(lines)

    def _quiet(self, text: str) -> str:
        theme = self._session.theme
        return f"<span style='color:{theme.token('quiet')}; font-size:{theme.px(CAPTION)}px'>{text}</span>" if text else ""

    def _link(self, target: str, text: str) -> str:
        style = f"color:{self._session.theme.token('juniper')}; text-decoration:none"
        return f"<a style='{style}' href='{target}'>{escape(text)}</a>"

    def _on_link_activated(self, link: str) -> None:
        verb, _, rest = link.partition(":")
        if verb == "version":
            self._session.choose_version(int(rest))
        elif verb == "uses":
            self._all_uses = True
        else:
            self._all_data = not self._all_data
        self.show_material(self.key)

    def _on_part_opened(self, part: QWidget) -> None:
        # the editor was hidden a moment ago: its place is known only after the layout ran
        QTimer.singleShot(0, self, lambda: self.ensureWidgetVisible(part))

    def _on_add_clicked(self) -> None:
        if self.key is not None:
            self.picked.emit(self.key)

    def _on_edit_clicked(self) -> None:
        if self.key is not None:
            self.edit_wanted.emit(self.key)

    def _on_retire_clicked(self) -> None:
        if self.key is not None:
            (self.return_wanted if self._is_retired else self.retire_wanted).emit(self.key)
