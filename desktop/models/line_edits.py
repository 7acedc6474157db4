# SPDX-License-Identifier: MIT
"""What is done to lines as a whole, not typed into one cell: filling up, holding, rescaling, exchanging a stock.

Rescaling and exchanging say first what they would do: the same sum is run for the sentence and for the step.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from desktop import figures
from desktop.language import tr, tr_count
from desktop.models.line_rows import parts_text
from desktop.models.lines import LinesModel
from desktop.session import Session
from perfumery import Bottle, Line, Material, Version, parse_number
from perfumery.compose import resolved
from perfumery.exchanging import Exchanged, exchanged, rescaled
from perfumery.shelf import offered_first

USUAL_TOTAL = 1000.0
FACTOR_FIGURES = 6


@dataclass(frozen=True, slots=True)
class Stock:
    """A strength at which a material stands on the shelf, in which bottles, and whether the line is made with it now."""

    text: str
    codes: tuple[str, ...]
    is_own: bool


class LineEdits:
    """Edits of the model's version, one undo step each. All raise Refused where the result cannot be."""

    def __init__(self, session: Session, model: LinesModel) -> None:
        self._session = session
        self._model = model

    @property
    def _version(self) -> Version:
        assert self._model.version is not None
        return self._model.version

    def _name(self, line: Line) -> str:
        return self._model.names.of_line(line, self._model.shelf)

    # marks on lines ---------------------------------------------------------------------------------------------------

    def toggle_fill_up(self, place: int) -> bool:
        """Makes a line the one that fills up to the wanted total, or an ordinary one with the parts it has now."""
        live = list(resolved(self._version))
        filled = not live[place].fill_up
        name = self._name(live[place])
        lines = [replace(line, fill_up=filled and at == place) for at, line in enumerate(live)]
        what = tr("{name} fills up", name=name) if filled else tr("{name} no longer fills up", name=name)
        return self._model.put_lines(lines, what)

    def are_held(self, places: set[int]) -> bool:
        """Whether all of these lines are held."""
        return bool(places) and all(self._version.lines[place].held for place in places)

    def toggle_held(self, places: set[int]) -> bool:
        """Holds lines, so that they keep their parts when the rest is rescaled; lets them go where all were held."""
        held = not self.are_held(places)
        names = [self._name(self._version.lines[place]) for place in sorted(places)]
        shown = names[0] if len(names) == 1 else tr_count(len(names), "{n} line", "{n} lines")
        lines = [replace(line, held=held) if at in places else line for at, line in enumerate(self._version.lines)]
        return self._model.put_lines(lines, tr("hold {lines}", lines=shown) if held else tr("let {lines} go", lines=shown))

    # rescaling --------------------------------------------------------------------------------------------------------

    def usual_total(self) -> str:
        """The total that is offered: the one that is filled up to, else the usual one."""
        filled = any(line.fill_up for line in self._version.lines)
        return figures.parts(self._version.total if filled else USUAL_TOTAL)

    def tell_rescale(self, text: str) -> str:
        """What bringing the version to this total would do."""
        wanted, total, factor = self._rescaled(text)
        if self._is_there(wanted):
            return tr("The total is {total} already.", total=figures.parts(total))
        held = [line for line in self._version.lines if line.held]
        others = len(self._version.lines) - len(held)
        by, whole = _factor(factor), figures.parts(total)
        if not held:
            return tr_count(
                others, "The line × {factor}, total {total}.", "All {n} lines × {factor}, total {total}.", factor=by, total=whole
            )  # fmt: skip
        return tr_count(
            others,
            "The other line × {factor}, total {total}; {held} held.",
            "The {n} other lines × {factor}, total {total}; {held} held.",
            factor=by, total=whole, held=figures.listed(map(self._name, held), most=3),
        )  # fmt: skip

    def rescale(self, text: str) -> bool:
        """Brings the version to a total around its held lines."""
        wanted, total, _ = self._rescaled(text)
        held = [self._name(line) for line in wanted.lines if line.held]
        what = tr("rescale to {total}", total=figures.parts(total))
        if held:
            what = tr("rescale to {total}, {held} held", total=figures.parts(total), held=figures.listed(held, most=3))
        return self._is_there(wanted) or self._model.put_version(wanted, what)

    def _is_there(self, wanted: Version) -> bool:
        """Whether nothing on screen would change: the wanted total counts only where a line fills up to it."""
        filled = any(line.fill_up for line in wanted.lines)
        return wanted.lines == self._version.lines and (not filled or wanted.total == self._version.total)

    def _rescaled(self, text: str) -> tuple[Version, float, float]:
        total = parse_number(text.casefold().strip().removesuffix("parts").removesuffix(tr("parts").casefold()))
        wanted, factor = rescaled(self._version, total)
        return wanted, total, factor

    # exchanging a stock -----------------------------------------------------------------------------------------------

    def stocks(self, place: int) -> tuple[Stock, ...]:
        """The strengths at which a line's material stands on the shelf, the bottle offered first at the head."""
        line = self._version.lines[place]
        standing = [b for b in self._session.book.all(Bottle, material=line.material) if b.gone_on is None]
        codes: dict[tuple[float, int | None], list[str]] = {}
        for bottle in offered_first(standing):
            codes.setdefault((bottle.strength, bottle.carrier), []).append(bottle.code)
        return tuple(
            Stock(self._text(strength, carrier), tuple(own), (strength, carrier) == (line.strength, line.carrier))
            for (strength, carrier), own in codes.items()
        )

    def tell_exchange(self, place: int, text: str) -> str:
        """What exchanging the stock of a line for one of this strength would do."""
        old = resolved(self._version)[place]
        made = self._exchanged(place, text)
        new = made.version.lines[place]
        name = self._name(old)
        if _is_same(old, new):
            return tr("{name} is {strength} here already.", name=name, strength=self._text(old.strength, old.carrier))
        before, after = self._amount(old.parts, old), self._amount(made.parts, new)
        told = tr("{name} {before} becomes {after}", name=name, before=before, after=after)
        return f"{', '.join([told, *self._balances(made)])}."

    def exchange(self, place: int, text: str) -> bool:
        """Exchanges the stock of a line, the composition kept."""
        made = self._exchanged(place, text)
        old, new = self._version.lines[place], made.version.lines[place]
        before, after = (self._text(line.strength, line.carrier) for line in (old, new))
        what = tr("exchange {name} {before} for {after}, composition kept", name=self._name(old), before=before, after=after)
        return _is_same(old, new) or self._model.put_version(made.version, what)

    def _exchanged(self, place: int, text: str) -> Exchanged:
        strength, carrier = self._model.stock(self._version.lines[place], text)
        materials = dict(self._model.shelf.materials)
        wanted = None if carrier is None else self._session.book.get(Material, carrier)
        if wanted is not None and wanted.key is not None:
            materials[wanted.key] = wanted
        return exchanged(self._version, place, strength, carrier, materials)

    def _balances(self, made: Exchanged) -> list[str]:
        """['ethanol + 18 parts', 'DPG − 18 parts']."""
        told = []
        for key, parts in made.carriers.items():
            name, amount = self._model.names.carrier(key), f"{'+' if parts > 0 else figures.MINUS} {parts_text(abs(parts))}"
            if key in made.added:
                told.append(tr("{carrier} {parts} parts on a line of its own", carrier=name, parts=amount))
            else:
                told.append(tr("{carrier} {parts} parts", carrier=name, parts=amount))
        return told

    def _amount(self, parts: float, line: Line) -> str:
        stock = figures.stock_text(line.strength, self._model.names.carrier(line.carrier))
        return f"{parts_text(parts)} @ {stock}" if stock else tr("{parts} neat", parts=parts_text(parts))

    def _text(self, strength: float, carrier: int | None) -> str:
        return figures.stock_text(strength, self._model.names.carrier(carrier)) or tr("neat")


def _is_same(old: Line, new: Line) -> bool:
    return (old.strength, old.carrier) == (new.strength, new.carrier)


def _factor(factor: float) -> str:
    return figures.parts(float(f"{factor:.{FACTOR_FIGURES}g}"))
