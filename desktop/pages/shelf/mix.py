# SPDX-License-Identifier: MIT
"""The sheet on which liquids are brought together: a dilution, an accord, a smelling dilution, a bottle brought to a strength.

What was typed for one thing waits until that thing is taken up again, or is booked.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QStackedWidget, QVBoxLayout, QWidget

from desktop import wording
from desktop.models.mix import Lack
from desktop.pages.shelf.mix_accord import AccordAsk
from desktop.pages.shelf.mix_ask import Ask
from desktop.pages.shelf.mix_body import MixBody
from desktop.pages.shelf.mix_change import ChangeAsk
from desktop.pages.shelf.mix_dilution import DilutionAsk
from desktop.pages.shelf.mix_smelling import SmellingAsk
from desktop.session import Session
from perfumery import Bottle, Refused

# So many unfinished mixtures wait at most.
WAITING = 6


class MixSheet(QWidget):
    """`made(bottle key)` when a mixture stands in the book, `weighing_begun(making key)` when it is weighed line by line instead,
    `left()` when the sheet is put away.

    A bottle that an accord lacks is made in between: then the accord comes back, and `made` is only told of the accord.
    """

    left = Signal()
    made = Signal(int)
    weighing_begun = Signal(int)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._bodies: dict[tuple[Any, ...], MixBody] = {}
        self._back: list[tuple[Any, ...]] = []
        self._stack = QStackedWidget(self)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(self._stack)

    @property
    def body(self) -> MixBody | None:
        """The mixture on the sheet."""
        shown = self._stack.currentWidget()
        return shown if isinstance(shown, MixBody) else None

    # entry points -----------------------------------------------------------------------------------------------------

    def start_dilution(
        self, material: int | None = None, source: int | None = None, strength: float | None = None, carrier: int | None = None
    ) -> bool:
        """A dilution of a material, as far as it is said already. Each start answers whether it could begin; why it could not
        has then been said, and the sheet is as it was."""
        return self._begin_dilution(material, source, strength, carrier) and self._is_first()

    def start_accord(self, version: int | None = None) -> bool:
        """A version made up as an accord; None leaves the choice."""
        return self._begin_accord(version) and self._is_first()

    def start_smelling(self, vial: int, strength: float | None = None, carrier: int | None = None) -> bool:
        """A vial thinned for smelling; strength and carrier of its project where none are said."""
        ask = lambda: SmellingAsk(self._session, vial, strength, carrier)
        return self._begin(("smelling", vial, strength, carrier), ask) and self._is_first()

    def start_top_up(self, bottle: int, settle: bool = False) -> bool:
        """A bottle brought back to the strength on its label; `settle` takes what is missing for carrier that evaporated."""
        ask = lambda: ChangeAsk(self._session, bottle, top_up=True, settle=settle)
        return self._begin(("top-up", bottle, settle), ask) and self._is_first()

    def start_change(self, bottle: int) -> bool:
        """What is mixed brought to another strength."""
        ask = lambda: ChangeAsk(self._session, bottle, top_up=False)
        return self._begin(("change", bottle), ask) and self._is_first()

    def _is_first(self) -> bool:
        """Nothing waits for what was begun anew; always True."""
        self._back.clear()
        return True

    # what waits -------------------------------------------------------------------------------------------------------

    def _begin_dilution(self, material: int | None, source: int | None, strength: float | None, carrier: int | None) -> bool:
        return self._begin(
            ("dilution", material, source, strength, carrier),
            lambda: DilutionAsk(self._session, material, source, strength, carrier),
        )

    def _begin_accord(self, version: int | None) -> bool:
        return self._begin(("accord", version), lambda: AccordAsk(self._session, version))

    def _begin(self, what: tuple[Any, ...], ask: Callable[[], Ask]) -> bool:
        """Takes up what waits under a name, else begins it; whether it could."""
        body = self._bodies.pop(what, None)
        if body is None:
            try:
                asked = ask()
                self._session.turn()
                body = MixBody(self._session, asked)
            except Refused as refused:
                self._session.said.emit(wording.sentences(refused.findings), "refused")
                return False
            body.booked.connect(lambda bottle: self._on_booked(what, bottle))
            body.begun.connect(lambda making: self._on_begun(what, making))
            body.left.connect(self.leave)
            body.asked.connect(lambda lack: self._on_asked(what, lack))
            self._stack.addWidget(body)
        self._bodies[what] = body
        # what was typed into is never put away by another mixture
        idle = [key for key, held in self._bodies.items() if key != what and key not in self._back and not held.is_begun]
        for old in idle[: max(len(self._bodies) - WAITING, 0)]:
            self._forget(old)
        self._stack.setCurrentWidget(body)
        body.start()
        return True

    def leave(self) -> None:
        """Puts the mixture away, back to the one that asked for it where there is one; what was typed waits."""
        if self._back:
            self._return()
        else:
            self.left.emit()

    def _return(self) -> None:
        what = self._back.pop()
        body = self._bodies.get(what)
        if body is None:
            self.left.emit()
            return
        self._stack.setCurrentWidget(body)
        body.start()

    def _forget(self, what: tuple[Any, ...]) -> None:
        body = self._bodies.pop(what)
        self._stack.removeWidget(body)
        body.deleteLater()

    def _on_booked(self, what: tuple[Any, ...], bottle: Bottle) -> None:
        self._forget(what)
        if self._back:
            self._return()
        else:
            assert bottle.key is not None
            self.made.emit(bottle.key)

    def _on_begun(self, what: tuple[Any, ...], making: int) -> None:
        """What asked for it waits on; it is taken up again when its bottle is there."""
        self._forget(what)
        self._back.clear()
        self.weighing_begun.emit(making)

    def _on_asked(self, what: tuple[Any, ...], lack: Lack) -> None:
        """A bottle that is lacking is made first; the accord that asked for it waits."""
        self._back.append(what)
        if lack.accord is not None:
            self._begin_accord(lack.accord)
        else:
            self._begin_dilution(lack.material, None, lack.strength, lack.carrier)
