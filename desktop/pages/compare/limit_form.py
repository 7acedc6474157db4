# SPDX-License-Identifier: MIT
"""One limit as it is typed: on what, how much of the finished product, for which products, from which source."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget

from desktop import figures, wording
from desktop.language import tr
from desktop.models.days import parse_day
from desktop.models.near_names import called_like, near_names, numbers_of
from desktop.pages.shelf.sheet import Sheet
from desktop.session import Session
from perfumery import Constituent, Limit, Material, Refused, parse_number
from perfumery.cas import tidy
from perfumery.limits import is_borne
from perfumery.text import fold

TOLD = tr(
    "A substance is known by its CAS number, else by its name: it is counted where it is a material, and where a natural holds "
    "it. Write where the figure is from, so that it can be checked again."
)


class LimitForm(Sheet):
    """A new limit, or one that is changed. `kept` is the key of what was put last."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, tr("Keep"), parent)
        self._limit: Limit | None = None
        self._told_unborne: tuple[str, str] | None = None
        self.kept: int | None = None
        self.tell(TOLD)
        self.name, self.name_field = self.line(tr("limit on (a material, or a constituent)"))
        self.cas, self.cas_field = self.line(tr("CAS number"), width=150)
        self.share, self.share_field = self.line(tr("at most, % of the finished product"), width=120)
        self.category, self.category_field = self.line(tr("for which products (empty: every one)"))
        self.budget, self.budget_field = self.line(
            tr("shares a budget called"), tip=tr("Limits of one budget are summed as parts of each: together at most 1")
        )
        self.source, self.source_field = self.line(tr("source"))
        self.dated, self.dated_field = self.line(tr("dated"), width=120)
        self.remark, self.remark_field = self.line(tr("remark"))
        self.name.editingFinished.connect(self._on_name_finished)

    def start(self, limit: Limit | None, category: str = "") -> None:
        """Begins with a limit, or empty for a category."""
        self._limit = limit
        # what was kept once is not asked for again
        self._told_unborne = None if limit is None else (limit.name, limit.cas)
        self.title.setText(tr("A limit") if limit is None else limit.name)
        one = limit or Limit("-", 1.0, category)
        texts = (
            (self.name, "" if limit is None else one.name), (self.cas, one.cas),
            (self.share, "" if limit is None else figures.parts(float(f"{one.share_max * 100:.12g}"))),
            (self.category, one.category), (self.budget, one.budget), (self.source, one.source),
            (self.dated, "" if one.dated_on is None else one.dated_on.isoformat()), (self.remark, one.remark),
        )  # fmt: skip
        for edit, text in texts:
            edit.setText(text)
            edit.setCursorPosition(0)
        for field in (self.name_field, self.cas_field, self.share_field, self.dated_field):
            field.say("")
        self.say("")
        self.name.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def keep(self) -> bool:
        """Puts the limit as one step."""
        share = self.read(self.share_field, lambda text: parse_number(text.removesuffix("%").strip()), needed=True)
        dated = self.read(self.dated_field, parse_day)
        name = " ".join(self.name.text().split())
        cas = tidy(self.cas.text())
        material = self._material(name, cas)
        before = self._limit
        fields = {
            "name": name, "share_max": float(f"{share / 100:.12g}"), "category": " ".join(self.category.text().split()),
            "cas": cas, "material": None if material is None else material.key, "budget": " ".join(self.budget.text().split()),
            "source": self.source.text().strip(), "dated_on": dated, "remark": self.remark.text().strip(),
        }  # fmt: skip
        try:
            limit = Limit(**fields) if before is None else replace(before, **fields)
            if self._asks_whether_meant(limit):
                return False
            put = self._session.put(tr("limit on {name}", name=name), limit)
        except Refused as fault:
            self._say_beside(fault)
            return False
        if put is None:
            return False
        self.kept = put[0].key
        return True

    def _asks_whether_meant(self, limit: Limit) -> bool:
        """Whether Enter is wanted once more, because nothing in the book is what the limit is on: it would count nothing, and
        say so nowhere."""
        book, told = self._session.book, (limit.name, limit.cas)
        if told == self._told_unborne or self._is_borne(limit):
            return False
        self._told_unborne = told
        others = numbers_of(book, limit.name) if limit.cas else []
        near = near_names(book, limit.name)
        if others:
            said = [tr("{name} has the CAS number {others} in this book, and nothing has {cas}.",
                       name=limit.name, others=figures.listed(others), cas=limit.cas)]  # fmt: skip
        elif limit.cas:
            said = [tr("No material or constituent of this book is called {name} or has the CAS number {cas}.",
                       name=limit.name, cas=limit.cas)]  # fmt: skip
        else:
            said = [tr("No material or constituent of this book is called {name}.", name=limit.name)]
        if near and not others:
            said.append(tr("Alike: {names}.", names=figures.listed(near)))
        said.append(tr("Enter once more keeps the limit; until something is called so, it counts nothing."))
        self.name_field.say(" ".join(said), "amber")
        self.name.setFocus(Qt.FocusReason.OtherFocusReason)
        return True

    def _is_borne(self, limit: Limit) -> bool:
        book = self._session.book
        return is_borne(limit, called_like(book, limit.name, limit.cas), book.all(Constituent))

    def _say_beside(self, fault: Refused) -> None:
        """Each reason below the field it is about, the rest over the buttons."""
        beside = {"name-empty": self.name_field, "limit-range": self.share_field, "cas-shape": self.cas_field,
                  "cas-check-digit": self.cas_field, "code-taken": self.name_field}  # fmt: skip
        others = []
        for finding in fault.findings:
            field = beside.get(finding.code)
            if field is None:
                others.append(finding)
            else:
                field.say(wording.sentence(finding))
        self.say(wording.sentences(others) if others else "")

    def _material(self, name: str, cas: str) -> Material | None:
        """The material of the book that is meant, where it is one."""
        for one in called_like(self._session.book, name, cas):
            if cas and one.cas == cas:
                return one
            if not cas and fold(name) in (fold(one.name), fold(one.bench_name)):
                return one
        return None

    def _on_name_finished(self) -> None:
        """The CAS number of a material whose name was typed."""
        if self.cas.text().strip():
            return
        found = self._material(" ".join(self.name.text().split()), "")
        if found is not None and found.cas:
            self.cas.setText(found.cas)
