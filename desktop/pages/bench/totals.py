# SPDX-License-Identifier: MIT
"""What stands below a formula: its totals with carriers apart, what was noticed, and what this is not."""

from __future__ import annotations

from html import escape

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from desktop import figures, wording
from desktop.help_text import tips
from desktop.language import tr
from desktop.models.limit_rows import limits_of
from desktop.models.lines import LinesModel
from desktop.session import Session
from perfumery import Finding, limit_findings, limits, price_findings

CAUTION = tr("Not a safety assessment: only the limits that you typed are kept here, and allergens are not checked.")
# The cost says these beside itself.
_SAID_ELSEWHERE = ("no-lines",)


def rounding_text(model: LinesModel) -> str:
    """Why the masses of the lines do not add up to the amount; empty where they do."""
    difference = model.rounded_g[1]
    if abs(difference) < model.d_g / 2:
        return ""
    mass = figures.mass_text(abs(difference), model.d_g)
    if difference > 0:
        return tr("{mass} more than the amount, as each line is rounded to what the balance shows", mass=mass)
    return tr("{mass} less than the amount, as each line is rounded to what the balance shows", mass=mass)


class TotalsFoot(QWidget):
    """Two or three quiet lines; everything else is in the table above."""

    def __init__(self, session: Session, model: LinesModel, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._model = model
        self.totals = QLabel(self)
        self.totals.setTextFormat(Qt.TextFormat.RichText)
        self.totals.setToolTip(tips("neat-parts-and-carriers", "grams-shown"))
        self.notices = QLabel(self)
        self.notices.setTextFormat(Qt.TextFormat.PlainText)
        self.notices.setProperty("role", "amber")
        self.caution = QLabel(CAUTION, self)
        self.caution.setProperty("role", "caption")
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 8, 12, 10)
        column.setSpacing(3)
        for line in (self.totals, self.notices, self.caution):
            line.setWordWrap(True)
            line.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            column.addWidget(line)

    def refresh(self) -> None:
        """Shows the totals of what the model worked out."""
        made = self._model.composition
        self.setVisible(made is not None)
        if made is None:
            return
        self.totals.setText(self._totals_text())
        project = self._session.project
        found = [*made.findings, *price_findings(made, project.price_ceiling if project else None)]
        found += self._limits()
        found += self._newer_accords()
        found += self._rounding()
        said = [wording.sentence(finding) for finding in found if finding.code not in _SAID_ELSEWHERE]
        self.notices.setText("\n".join(said))
        self.notices.setVisible(bool(said))

    def restyle(self) -> None:
        """Writes the totals in the colours of the look now in force."""
        if self._model.composition is not None:
            self.totals.setText(self._totals_text())

    def _totals_text(self) -> str:
        made, shelf = self._model.composition, self._model.shelf
        assert made is not None
        strong, quiet = self._session.theme.token("ink"), self._session.theme.token("quiet")

        def figure(text: str, unit: str) -> str:
            return f'<b style="color:{strong}">{escape(text)}</b>\u00a0{escape(unit)}'

        parts, neat = figures.parts(made.total_parts), figures.parts(round(made.neat_parts, 2))
        pieces = [figure(parts, tr("parts")), figure(neat, tr("neat"))]
        if made.carriers:
            each = ", ".join(f"{shelf.materials[key].carrier_name} {figures.neat(v)}" for key, v in made.carriers.items())
            whole = figures.neat(sum(made.carriers.values()))
            pieces.append(escape(tr("carriers {parts}: {each}", parts=whole, each=each)))
        if made.rows and made.amount_g is not None:
            total, _ = self._model.rounded_g
            text = figure(figures.mass(total, self._model.d_g), "g")
            rounded = rounding_text(self._model)
            pieces.append(f"{text} ({escape(rounded)})" if rounded else text)
        return f'<span style="color:{quiet}">{" · ".join(pieces)}</span>'

    def _limits(self) -> list[Finding]:
        """What is over a limit of the project's product category, or close to it, at the strength it is finished at."""
        project, version = self._session.project, self._model.version
        if project is None or project.strength is None or version is None:
            return []
        book = self._session.book
        given = limits_of(book, project.category)
        if not given:
            return []
        return list(limit_findings(limits(version, self._model.shelf, project.strength, given)))

    def _newer_accords(self) -> list[Finding]:
        """Accords of which a newer version exists."""
        version, uses = self._model.version, self._session.book.uses
        assert version is not None
        held = [line.accord for line in version.lines if line.accord is not None]
        pairs = [(self._model.shelf.accords[key].code, newer.code) for key in held if (newer := uses.newer(key)) is not None]
        return [Finding("accord-newer", {"accord": accord, "newer": newer}) for accord, newer in pairs]

    def _rounding(self) -> list[Finding]:
        """A line that rounds to nothing is said: the balance cannot weigh it at this amount."""
        made = self._model.composition
        assert made is not None
        lost = [
            self._model.names.of_line(row.line, self._model.shelf)
            for row in made.rows
            if row.grams is not None and 0 < row.grams < self._model.d_g / 2
        ]
        return [Finding("grams-lost", {"names": tuple(lost), "d_g": self._model.d_g})] if lost else []
