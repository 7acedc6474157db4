# SPDX-License-Identifier: MIT
"""One row of a formula and the columns it is shown in."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from desktop import figures
from desktop.columns import Column
from desktop.language import tr
from perfumery import Line

PER_THOUSAND = 1000.0
# Before the parts of a held line: beside the figure it is about, in every width of the pane.
HELD = "▪"
ACCORD = tr("accord")
# More decimals than anybody types: parts that were worked out, by rescaling or inside an accord.
TYPED_DECIMALS, WORKED_DECIMALS, WORKED_FIGURES = 6, 2, 3


@dataclass(frozen=True, slots=True)
class LineRow:
    """One row on screen. `place` is the line's place in the version, None for a line inside an accord and for the entry
    row; `path` are the accords it stands in. Figures are those of the version shown, at its amount."""

    line: Line | None
    place: int | None = None
    path: tuple[int, ...] = ()
    occurrence: int = 0
    name: str = ""
    full: str = ""
    cas: str = ""
    carrier: str = ""
    is_open: bool | None = None
    parts: float | None = None
    neat: float | None = None
    share: float | None = None
    grams: float | None = None
    cost: float | None = None
    cost_share: float | None = None
    error: float | None = None
    currency: str = ""
    note: str = ""

    @property
    def is_entry(self) -> bool:
        """Whether this is the empty row at the foot, where a line is typed."""
        return self.line is None

    @property
    def is_held(self) -> bool:
        """Whether this is a line of the version itself that keeps its parts when the rest is rescaled."""
        return self.place is not None and self.line is not None and self.line.held

    @property
    def strength(self) -> str:
        """The strength cell: empty for a neat material, 'accord' for one, 'fills up' where nothing else is to say."""
        if self.line is None:
            return ""
        if self.line.accord is not None:
            return ACCORD
        return figures.stock_text(self.line.strength, self.carrier)


def parts_text(parts: float | None) -> str:
    """Parts as they were typed; worked-out ones, as rescaling leaves them, short. Their tip shows them in full."""
    text = figures.parts(parts)
    if parts is None or figures.decimals_shown(text) <= TYPED_DECIMALS:
        return text
    return figures.parts(round(parts, WORKED_DECIMALS) if abs(parts) >= 1 else float(f"{parts:.{WORKED_FIGURES}g}"))


def error_text(error: float | None) -> str:
    """A relative error in percent with two figures; more than the mass itself is only said to be that."""
    return "" if error is None else figures.short(error * 100, 2) if error < 1 else "> 100"


def _grams_text(row: LineRow) -> str:
    return "" if row.is_entry else figures.mass(row.grams)


def _fold(row: LineRow) -> str:
    return "" if row.is_open is None else "▾" if row.is_open else "▸"


def _scaled(name: str, by: float) -> Callable[[LineRow], float | None]:
    def figure(row: LineRow) -> float | None:
        value = getattr(row, name)
        return None if value is None else value * by

    return figure


def _figure(show: Callable[[float | None], str], name: str) -> Callable[[LineRow], str]:
    return lambda row: "" if row.is_entry else show(getattr(row, name))


def _why_neat(row: LineRow) -> str:
    if row.line is None or row.neat is None or not row.parts:
        return ""
    return tr(
        "{parts} parts × {share} = {neat} neat parts",
        parts=parts_text(row.parts), share=figures.percent_text(row.neat / row.parts), neat=figures.neat(row.neat),
    )  # fmt: skip


def _why_share(row: LineRow) -> str:
    if row.share is None or not row.parts:
        return ""
    parts, total = parts_text(row.parts), figures.short(row.parts / row.share, 6)
    return tr("{parts} ÷ {total} parts = {share}", parts=parts, total=total, share=figures.percent_text(row.share))


def _why_grams(row: LineRow) -> str:
    if not row.share or row.grams is None:
        return ""
    share, amount = figures.percent_text(row.share), figures.unit(figures.short(row.grams / row.share, 4), "g")
    return tr("{share} of {amount} = {mass}", share=share, amount=amount, mass=figures.unit(figures.short(row.grams, 6), "g"))


def _why_error(row: LineRow) -> str:
    if row.error is None or row.grams is None:
        return ""
    error, mass = figures.short(row.error * row.grams, 2), figures.short(row.grams, 4)
    return tr("± {error} of {mass} (k = 2)", error=figures.unit(error, "g"), mass=figures.unit(mass, "g"))


def _why_cost(row: LineRow) -> str:
    if not row.share or row.cost is None:
        return ""
    price, part = figures.money(row.cost / row.share, row.currency), figures.money(row.cost, row.currency, per="")
    return f"{figures.percent_text(row.share)} × {price} = {part}"


def _why_cost_share(row: LineRow) -> str:
    if not row.cost_share or row.cost is None:
        return ""
    part, whole = (figures.money(cost, row.currency, per="") for cost in (row.cost, row.cost / row.cost_share))
    return f"{part} ÷ {whole} = {figures.percent_text(row.cost_share)}"


COLUMNS: tuple[Column[LineRow], ...] = (
    Column("fold", "", _fold, 24, plain=lambda row: "", tip=tr("Accords open and close here (Space)")),
    Column("material", tr("material"), lambda row: "   " * len(row.path) + row.name, 186, plain=lambda row: row.full),
    Column("strength", tr("strength"), lambda row: row.strength, 92, tip=tr("What the line is diluted to, w/w; empty is neat")),
    Column("parts", tr("parts"), _figure(parts_text, "parts"), 70, right=True, plain=lambda row: row.parts),
    Column("neat", tr("neat parts"), _figure(figures.neat, "neat"), 68, right=True, plain=lambda row: row.neat,
           tip=tr("Parts without carriers"), figure=lambda row: row.neat, sum="neat-parts-and-carriers", why=_why_neat),
    Column("share", "%", _figure(figures.percent, "share"), 66, right=True, tip=tr("Of the concentrate"),
           plain=_scaled("share", 100), figure=_scaled("share", 100), sum="share", why=_why_share),
    Column("grams", "g", _grams_text, 58, right=True, plain=_grams_text, figure=lambda row: row.grams,
           tip=tr("For the amount above, each rounded to the balance"), sum="grams-shown", why=_why_grams),
    Column("error", "±", lambda row: error_text(row.error), 56, right=True, unit="%", hidden=True,
           tip=tr("What the balance leaves open of the grams (k = 2)"), plain=_scaled("error", 100), sum="uncertainty-of-a-mass",
           why=_why_error),
    Column("thousand", "‰", lambda row: "" if row.share is None else figures.per_thousand(row.share * PER_THOUSAND), 66,
           right=True, hidden=True, tip=tr("Parts per thousand of the concentrate"),
           plain=_scaled("share", PER_THOUSAND), figure=_scaled("share", PER_THOUSAND), sum="share", why=_why_share),
    Column("cost", tr("cost"), lambda row: "" if row.is_entry else figures.money(row.cost, row.currency, per=""), 84, right=True,
           hidden=True, tip=tr("This line's part in the price of one gram"), plain=lambda row: row.cost, sum="cost",
           why=_why_cost),
    Column("cost_share", tr("of cost"), _figure(figures.percent, "cost_share"), 66, right=True, hidden=True, unit="%",
           tip=tr("This line's share of the known cost"), plain=_scaled("cost_share", 100), figure=_scaled("cost_share", 100),
           sum="share-of-the-cost", why=_why_cost_share),
    Column("carrier", tr("carrier"), lambda row: row.carrier, 100, hidden=True),
    Column("cas", "CAS", lambda row: row.cas, 90, hidden=True, tip=tr("CAS number")),
    Column("remark", tr("remark"), lambda row: row.line.remark if row.line else "", 140, hidden=True),
)  # fmt: skip
