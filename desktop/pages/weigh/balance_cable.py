# SPDX-License-Identifier: MIT
"""A balance that is read by cable: its port on this computer, and a try that shows what comes in and what is understood."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtGui import QHideEvent, QKeySequence, QShortcut, QWheelEvent
from PySide6.QtWidgets import QComboBox, QGridLayout, QLabel, QLineEdit, QPushButton, QSizePolicy, QWidget

from desktop import figures
from desktop.language import tr
from desktop.models.balances import decimals
from desktop.models.cable import BAUDS, BITS, PARITIES, STOPS, Cable, keep_cable, kept_cable
from desktop.pages.shelf.sheet import Sheet
from desktop.serial_balance import SerialBalance, ports
from desktop.session import Session
from desktop.widgets.field import Field
from perfumery import Balance
from perfumery.balance_line import sent

TOLD = tr("A stable reading fills the figure field, Enter accepts it. Kept on this computer only. No port: figures are typed.")
TIPS = {
    "port": tr("As this computer names it. Opening the list looks for ports"),
    "ask": tr("What it is sent for every reading, as Q\\r\\n; also \\t and \\x1b. Empty: it sends by itself"),
    "mark": tr(
        "What stands in a stable line and in no other. Empty: three equal readings in a row. A balance that sends stable "
        "readings only: its unit, as g"
    ),
}
PARITY_SHOWN = {"none": tr("none"), "even": tr("even"), "odd": tr("odd")}
TRY, STOP = tr("Try it"), tr("Stop trying")
KEY = "F5"
OPENED = tr(
    "The port is open. Nothing has come yet: press the key of the balance that sends, or write what it has to be asked with."
)
CANNOT_BE_SENT = tr("This cannot be sent. Plain letters, and \\r, \\n, \\t, \\\\ or \\x with two digits, as \\x1b.")
NOTHING = tr("nothing. It counts a line with one figure in g, mg or kg.")


class CableSheet(Sheet):
    """The settings of one balance's port; kept with the computer's settings, never in the book."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, tr("Keep"), parent)
        self.balance: Balance | None = None
        self._kept = Cable()
        self.port = _PortBox()
        self.baud, self.bits = _Box(BAUDS), _Box(BITS)
        self.parity, self.stop = _Box(), _Box(STOPS)
        for parity in PARITIES:
            self.parity.addItem(PARITY_SHOWN[parity], parity)
        self.ask, self.mark = QLineEdit(), QLineEdit()
        self.ask.setPlaceholderText(tr("it sends by itself"))
        self.mark.setPlaceholderText(tr("three equal readings in a row"))
        captions = {
            "port": tr("port"), "baud": tr("speed, baud"), "bits": tr("data bits"), "parity": tr("parity"),
            "stop": tr("stop bits"), "ask": tr("asked with"), "mark": tr("mark of a stable line"),
        }  # fmt: skip
        self.fields = {name: Field(text, getattr(self, name), tip=TIPS.get(name, "")) for name, text in captions.items()}
        grid = QGridLayout()
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(8)
        places = {"port": (0, 0, 1, 3), "baud": (0, 3, 1, 1), "bits": (1, 0, 1, 1), "parity": (1, 1, 1, 1), "stop": (1, 2, 1, 1),
                  "ask": (2, 0, 1, 2), "mark": (2, 2, 1, 2)}  # fmt: skip
        for name, place in places.items():
            grid.addWidget(self.fields[name], *place, Qt.AlignmentFlag.AlignTop)
        for at in range(4):
            grid.setColumnStretch(at, 1)
        self.column.addLayout(grid)
        self.attempt = QPushButton(TRY)
        self.attempt.setToolTip(KEY)
        self.attempt.setAutoDefault(False)
        self.attempt.clicked.connect(self._on_attempt_clicked)
        self.buttons.insertWidget(2, self.attempt)
        self.came, self.meant = _told(tr("The last line as it came")), _told(tr("What was understood"))
        self.column.addWidget(self.came)
        self.column.addWidget(self.meant)
        QShortcut(QKeySequence(KEY), self, self._on_attempt_clicked, context=Qt.ShortcutContext.WidgetWithChildrenShortcut)
        self.reader = SerialBalance(self)
        self.reader.opened.connect(lambda: self._tell_heard("", OPENED))
        self.reader.failed.connect(lambda sentence: self._tell_heard("", sentence, "amber"))
        self.reader.heard.connect(self._on_reader_heard)
        for line in (self.ask, self.mark, self.port.lineEdit()):
            line.returnPressed.connect(self.confirm)
            line.textEdited.connect(lambda _: self._on_setting_changed())
        for box in (self.port, self.baud, self.bits, self.parity, self.stop):
            box.activated.connect(lambda _: self._on_setting_changed())

    # showing ----------------------------------------------------------------------------------------------------------

    def start(self, balance: Balance) -> None:
        """Begins with what this computer keeps for a balance."""
        assert balance.key is not None
        self.balance = balance
        self._kept = kept_cable(self._session.settings, self._session.book.uid, balance.key)
        self.title.setText(tr("Read by cable: {name}", name=balance.name))
        self.tell(TOLD)
        self.port.setEditText(self._kept.port)
        for box, value in ((self.baud, self._kept.baud), (self.bits, self._kept.bits), (self.stop, self._kept.stop)):
            box.setCurrentText(str(value))
        self.parity.setCurrentIndex(self.parity.findData(self._kept.parity))
        self.ask.setText(self._kept.ask)
        self.mark.setText(self._kept.mark)
        for field in self.fields.values():
            field.say("")
        self.say("")
        self._stop_trying()

    def take_focus(self) -> None:
        """The cursor to the port."""
        self.port.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.port.lineEdit().selectAll()

    @property
    def is_begun(self) -> bool:
        """Whether something else stands in the fields than what is kept."""
        return self.balance is not None and self._typed() != self._kept

    def _typed(self) -> Cable:
        return Cable(
            self.port.currentText().strip(), int(self.baud.currentText()), int(self.bits.currentText()),
            self.parity.currentData(), int(self.stop.currentText()), self.ask.text(), self.mark.text(),
        )  # fmt: skip

    # what is done -----------------------------------------------------------------------------------------------------

    def keep(self) -> bool:
        """Keeps the port with the settings of this computer."""
        assert self.balance is not None and self.balance.key is not None
        if not self._can_be_sent():
            return False
        cable = self._typed()
        keep_cable(self._session.settings, self._session.book.uid, self.balance.key, cable)
        said = tr("{balance} is not read by cable; figures are typed.", balance=self.balance.name)
        if cable.port:
            said = tr("{balance} is read at {port} on this computer.", balance=self.balance.name, port=cable.port)
        self._session.said.emit(said, "done")
        self._kept = cable
        return True

    def _can_be_sent(self) -> bool:
        if sent(self.ask.text()) is not None:
            return True
        self.fields["ask"].say(CANNOT_BE_SENT)
        self.ask.setFocus()
        return False

    def _on_attempt_clicked(self) -> None:
        if self.reader.cable is not None:
            self._stop_trying()
            return
        if not self._typed().port:
            self.fields["port"].say(tr("A port is missing. Open the list, or write its name."))
            self.port.setFocus()
            return
        if self._can_be_sent():
            self.attempt.setText(STOP)
            self._tell_heard("", tr("Opening the port…"))
            self.reader.start(self._typed())

    def _stop_trying(self) -> None:
        self.reader.stop()
        self.attempt.setText(TRY)
        self._tell_heard("", "")

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        if not event.spontaneous():
            self._stop_trying()

    # what happens -----------------------------------------------------------------------------------------------------

    def _on_setting_changed(self) -> None:
        for name in ("port", "ask"):
            self.fields[name].say("")
        tried = self.reader.cable
        if tried is None or tried == self._typed():
            return
        if replace(tried, mark="", ask="") != replace(self._typed(), mark="", ask="") or sent(self.ask.text()) is None:
            self._stop_trying()
            self._tell_heard("", tr("Changed: {key} tries it again.", key=KEY))
        else:
            self.reader.start(self._typed())

    def _on_reader_heard(self, line: str, found: tuple[float, bool] | None) -> None:
        if found is None:
            self._tell_heard(line, NOTHING, "amber")
            return
        mass, is_stable = found
        step = 0.001 if self.balance is None else self.balance.d_g
        shown = figures.unit(f"{mass:.{max(decimals(step), decimals(mass))}f}".replace("-", figures.MINUS), "g")
        self._tell_heard(line, tr("{mass}, stable", mass=shown) if is_stable else tr("{mass}, not stable yet", mass=shown))

    def _tell_heard(self, line: str, meant: str, role: str = "quiet") -> None:
        self.came.setText(tr("Came: {line}", line=line) if line else "")
        self.came.setVisible(bool(line))
        if self.meant.property("role") != role:
            self.meant.setProperty("role", role)
            self.meant.style().unpolish(self.meant)
            self.meant.style().polish(self.meant)
        self.meant.setText(tr("Understood: {meant}", meant=meant) if line else meant)
        self.meant.setVisible(bool(meant))


class _Box(QComboBox):
    """A choice that the wheel leaves alone, and that gives way in a narrow pane."""

    def __init__(self, choices: Sequence[object] = ()) -> None:
        super().__init__()
        self.addItems([str(choice) for choice in choices])
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(4)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def wheelEvent(self, event: QWheelEvent) -> None:
        event.ignore()


class _PortBox(_Box):
    """Written by hand, or chosen from what is found when the list is opened: only then the library for ports is needed."""

    def __init__(self) -> None:
        super().__init__()
        self.setEditable(True)
        self.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.lineEdit().setPlaceholderText(tr("none"))

    def showPopup(self) -> None:
        written = self.currentText()
        self.clear()
        self.addItems(ports())
        self.setEditText(written)
        super().showPopup()


def _told(name: str) -> QLabel:
    made = QLabel()
    made.setTextFormat(Qt.TextFormat.PlainText)
    made.setWordWrap(True)
    made.setAccessibleDescription(name)  # a name would be read out in the place of the text
    made.setProperty("role", "quiet")
    made.hide()
    return made
