# SPDX-License-Identifier: MIT
"""Balances, what they were found to tell apart, their checks, and what a formula needs on each; no widget in it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import ROUND_CEILING, Decimal

from PySide6.QtCore import QObject

from db import Book
from desktop import figures
from desktop.columns import Column
from desktop.language import tr, tr_count
from desktop.models.table import TableModel
from perfumery import Balance, BenchCheck, Version, compose, parse_number, weighing
from perfumery.weighing import LEAST_READINGS, least_weight, repeatability, smallest_amount

TOLERANCES = {f"{figures.parts(share)}\u2009%": share / 100 for share in (0.1, 1, 2, 5)}
READINGS = 10
MG = 1000
# A reading so far off the middle of the others, as a share of it, is taken for a slip of the hand.
SLIP = 0.01


# figures ----------------------------------------------------------------------------------------------------------------


def grams_or_mg(text: str) -> float:
    """'0.0008', '0,0008 g' or '0.8 mg' in g. Raises Refused like parse_number."""
    bare = text.strip().casefold()
    if bare.endswith("mg"):
        return float(f"{parse_number(bare.removesuffix('mg')) / MG:.12g}")
    return parse_number(bare.removesuffix("g"))


def decimals(value: float) -> int:
    """Decimals of a figure as it was typed."""
    return max(0, -int(Decimal(f"{value:.12g}").normalize().as_tuple().exponent))


def two_digits(value: float) -> float:
    """A spread to two significant figures: more of it ten readings cannot tell."""
    return float(f"{value:.2g}")


def small_text(value: float) -> str:
    """A spread with the digits it has, at least two, at most three: 0.80, 0.0016, 12.5."""
    if not value:
        return "0"
    shown = Decimal(f"{value:.3g}").normalize()
    digits = max(2, len(shown.as_tuple().digits))
    places = max(0, digits - 1 - shown.adjusted())
    return figures.fixed(float(shown), places)


def spread_text(s_g: float) -> str:
    """A repeatability as balances state it: '0.80 mg'."""
    return figures.unit(small_text(s_g * MG), "mg")


def least_text(g: float, d_g: float) -> str:
    """A least weight, rounded up to three significant figures or to the balance's step: '1.60', '0.160', '0.032'."""
    exact = Decimal(f"{g:.9g}")
    places = min(max(0, 2 - exact.adjusted()), decimals(d_g))
    return figures.fixed(float(exact.quantize(Decimal(1).scaleb(-places), ROUND_CEILING)), places)


def beyond_g(balance: Balance) -> float:
    """How far one reading may lie off by the balance's own doing, at k = 2."""
    return weighing.K * weighing.net_u(balance)


# checks -----------------------------------------------------------------------------------------------------------------


def is_test(check: BenchCheck) -> bool:
    """Whether a record is a test of repeatability, not a check of the day."""
    return len(check.readings) >= LEAST_READINGS


def deviation_g(check: BenchCheck) -> float:
    """What was read less what the weight is, g."""
    return round(math.fsum(check.readings) / len(check.readings) - check.weight_g, 9)


def is_beyond(check: BenchCheck, balance: Balance) -> bool:
    """Whether a check of the day was off by more than the balance can be by itself."""
    return not is_test(check) and abs(deviation_g(check)) > beyond_g(balance) + 1e-12


@dataclass(frozen=True, slots=True)
class Repeat:
    """Readings of a test as they were typed: what they tell as they stand."""

    readings: tuple[float, ...]
    places: int
    d_g: float

    @property
    def s_g(self) -> float:
        """Their standard deviation (n − 1). Raises Refused for fewer than five."""
        return repeatability(self.readings)

    @property
    def mean_g(self) -> float:
        """Their mean."""
        return math.fsum(self.readings) / len(self.readings)

    @property
    def lost_digits(self) -> bool:
        """Whether they were read in whole steps, too coarse for so small a spread."""
        return self.places <= decimals(self.d_g) and self.s_g < self.d_g / 2

    @property
    def slip(self) -> int | None:
        """The place of a reading that is far off the middle of all."""
        middle = sorted(self.readings)[len(self.readings) // 2]
        return next((at for at, g in enumerate(self.readings) if abs(g - middle) > SLIP * abs(middle)), None)


# rows -------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class BalanceRow:
    """A balance, the day its repeatability was found (None: nobody tried), and its last check of the day."""

    balance: Balance
    found_on: date | None
    last: BenchCheck | None
    today: date

    @property
    def name(self) -> str:
        """As it is called, and since when it is not used."""
        gone = self.balance.retired_on
        if gone is None:
            return self.balance.name
        return tr("{name}, retired {day}", name=self.balance.name, day=figures.day(gone, self.today))

    @property
    def spread(self) -> str:
        """'0.80 mg, found 3 Feb 2025'."""
        balance = self.balance
        if balance.s_g is None:
            least, spread = weighing.FLOOR_OF_D, spread_text(weighing.FLOOR_OF_D * balance.d_g)
            return tr("not known: {part} d = {spread}", part=figures.parts(least), spread=spread)
        spread = spread_text(balance.s_g)
        if self.found_on is None:
            return tr("{spread}, as its maker says", spread=spread)
        return tr("{spread}, found {day}", spread=spread, day=figures.day(self.found_on))

    @property
    def last_check(self) -> str:
        """'11 Mar, +0.001 g'."""
        if self.last is None:
            return tr("none yet")
        off = figures.off(deviation_g(self.last), self.balance.d_g)
        return f"{figures.day(self.last.at, self.today)}, {figures.unit(off, 'g')}"


def found_on(balance: Balance, checks: Sequence[BenchCheck]) -> date | None:
    """The day of the newest test that gives the repeatability in force."""
    if balance.s_g is None:
        return None
    for check in sorted(filter(is_test, checks), key=lambda check: check.at, reverse=True):
        s = repeatability(check.readings)
        if any(math.isclose(balance.s_g, known, rel_tol=1e-6) for known in (s, two_digits(s))):
            return check.at.date()
    return None


def balance_rows(book: Book) -> tuple[BalanceRow, ...]:
    """Every balance: those in use by name, then the retired ones."""
    today = book.now().date()
    own: dict[int, list[BenchCheck]] = {}
    for check in book.all(BenchCheck):
        own.setdefault(check.balance, []).append(check)
    rows = []
    for balance in sorted(book.all(Balance), key=lambda one: (one.retired_on is not None, one.name.casefold())):
        checks = own.get(balance.key or 0, [])
        daily = [check for check in checks if not is_test(check)]
        last = max(daily, key=lambda check: (check.at, check.key), default=None)
        rows.append(BalanceRow(balance, found_on(balance, checks), last, today))
    return tuple(rows)


def _plain(value: float | None) -> str:
    return "" if value is None else figures.parts(value)


def _least(tolerance: float) -> Column[BalanceRow]:
    share = f"{tolerance * 100:g}"

    def text(row: BalanceRow) -> str:
        return least_text(least_weight(row.balance, tolerance), row.balance.d_g)

    tip = tr("The least weight, g, of which one weighing errs by at most {share}\u2009% (k = 2)", share=share)
    title = tr("least {share}\u2009%", share=share)
    return Column(f"least {share}", title, text, 76, right=True, tip=tip, sum="least-weight")


BALANCE_COLUMNS: tuple[Column[BalanceRow], ...] = (
    Column("name", tr("balance"), lambda row: row.name, 150),
    Column("d", tr("reads to"), lambda row: _plain(row.balance.d_g), 68, right=True, unit="g", tip=tr("Readability d")),
    Column("s", tr("repeatability"), lambda row: row.spread, 206,
           tip=tr("Standard deviation; at least {part} d counts", part=figures.parts(weighing.FLOOR_OF_D))),
    Column("accuracy", tr("accuracy"), lambda row: _plain(row.balance.accuracy_g), 72, right=True, unit="g", tip=tr("As stated")),
    Column("max", tr("carries"), lambda row: _plain(row.balance.max_g), 66, right=True, unit="g", tip=tr("Capacity")),
    *(_least(tolerance) for tolerance in TOLERANCES.values()),
    Column("last", tr("last check"), lambda row: row.last_check, 160,
           tip=tr("Of the check weight: what was read less what it is")),
)  # fmt: skip


class BalancesModel(TableModel[BalanceRow]):
    """Read only; what is retired is quiet."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(BALANCE_COLUMNS, parent)

    def identity(self, row: BalanceRow) -> int | None:
        """The balance."""
        return row.balance.key

    def tone(self, row: BalanceRow, column: Column[BalanceRow]) -> str:
        """Amber where the last check was off."""
        if row.balance.retired_on is not None:
            return "quiet"
        if column.key == "last" and row.last is not None and is_beyond(row.last, row.balance):
            return "amber"
        missing = (column.key == "s" and row.balance.s_g is None) or (column.key == "last" and row.last is None)
        return "quiet" if missing else "ink"

    def tip(self, row: BalanceRow, column: Column[BalanceRow]) -> str:
        """What lies behind a figure."""
        if column.key == "last" and row.last is not None:
            limit = figures.unit(small_text(beyond_g(row.balance)), "g")
            if is_beyond(row.last, row.balance):
                return tr("beyond ± {mass} (k = 2)", mass=limit)
            return tr("within ± {mass} (k = 2)", mass=limit)
        return ""


@dataclass(frozen=True, slots=True)
class CheckRow:
    """One record of a balance, and its wording before where it was corrected."""

    check: BenchCheck
    balance: Balance
    before: BenchCheck | None
    today: date

    @property
    def places(self) -> int:
        """Decimals to show it with: those of the balance, or those that were typed."""
        return max(decimals(self.balance.d_g), *(decimals(g) for g in self.check.readings))

    @property
    def read(self) -> str:
        """'20.001', or how many readings a test has."""
        if is_test(self.check):
            return tr_count(len(self.check.readings), "{n} reading", "{n} readings")
        return f"{self.check.readings[0]:.{self.places}f}".replace("-", figures.MINUS)

    @property
    def off(self) -> str:
        """'+0.001', or what a test found."""
        if is_test(self.check):
            return f"s {spread_text(two_digits(repeatability(self.check.readings)))}"
        return figures.off(deviation_g(self.check), 10.0**-self.places)

    @property
    def remark(self) -> str:
        """What was noted, and that it was corrected."""
        parts = [self.check.remark]
        if is_beyond(self.check, self.balance):
            parts.insert(0, tr("beyond what it tells"))
        if self.before is not None:
            parts.append(tr("corrected, was {before}", before=replace(self, check=self.before, before=None).read))
        return "; ".join(filter(None, parts))


def check_rows(book: Book, balance: Balance) -> tuple[CheckRow, ...]:
    """The checks and tests of a balance, newest first."""
    today = book.now().date()
    checks = sorted(book.all(BenchCheck, balance=balance.key), key=lambda check: (check.at, check.key), reverse=True)
    rows = []
    for check in checks:
        before = next(iter(book.history(check.key or 0)), None) if check.replaces is not None else None
        rows.append(CheckRow(check, balance, before, today))
    return tuple(rows)


_LEVEL = {None: "", True: tr("level"), False: tr("not level")}
CHECK_COLUMNS: tuple[Column[CheckRow], ...] = (
    Column("at", tr("when"), lambda row: figures.moment(row.check.at, row.today), 128),
    Column("weight", tr("weight"), lambda row: _plain(row.check.weight_g), 62, right=True, unit="g"),
    Column("read", tr("read"), lambda row: row.read, 84, right=True, unit="g"),
    Column("off", tr("off by"), lambda row: row.off, 80, right=True, unit="g"),
    Column("level", tr("level"), lambda row: _LEVEL[row.check.level_ok], 66),
    Column("warm", tr("on for"), lambda row: _plain(row.check.warm_up_min), 72, right=True, unit="min"),
    Column("remark", tr("remark"), lambda row: row.remark, 120),
)


class ChecksModel(TableModel[CheckRow]):
    """Read only; a record is corrected on a sheet of its own."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(CHECK_COLUMNS, parent)

    def identity(self, row: CheckRow) -> int | None:
        """The record."""
        return row.check.key

    def tone(self, row: CheckRow, column: Column[CheckRow]) -> str:
        """Amber where it was beyond the balance's own doing, or out of level."""
        if column.key in ("off", "remark") and is_beyond(row.check, row.balance):
            return "amber"
        if column.key == "level" and row.check.level_ok is False:
            return "amber"
        return "quiet" if column.key == "remark" else "ink"

    def tip(self, row: CheckRow, column: Column[CheckRow]) -> str:
        """The readings of a test."""
        if column.key == "read" and is_test(row.check):
            return "  ".join(f"{g:.{row.places}f}" for g in row.check.readings)
        return ""


# two balances for a formula ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class TrialOn:
    """The smallest dependable trial of a version on a balance, and how much more it is than on the best one."""

    balance: Balance
    amount_g: float
    cost: float | None
    more_g: float
    more_cost: float | None

    @property
    def is_too_heavy(self) -> bool:
        """Whether the balance cannot carry it."""
        return self.balance.max_g is not None and self.amount_g > self.balance.max_g


@dataclass(frozen=True, slots=True)
class Comparison:
    """A version on every balance, the smallest trial first; `smallest` is the share of its smallest line, `line` its name."""

    trials: tuple[TrialOn, ...]
    line: str
    smallest: float
    cost_per_g: float | None
    at_least: bool


def compared(book: Book, version: Version, balances: Sequence[Balance], tolerance: float) -> Comparison | None:
    """The smallest dependable trials; None for a version without parts."""
    shelf = book.shelf(version)
    worked = compose(version, shelf)
    row = min((row for row in worked.rows if row.share > 0), key=lambda row: row.share, default=None)
    if row is None or not balances:
        return None
    if row.line.accord is not None:
        accord = shelf.accords[row.line.accord]
        line = accord.name or accord.code
    else:
        carrier = "" if row.line.carrier is None else shelf.materials[row.line.carrier].carrier_name
        name = shelf.materials[row.line.material or 0].short
        line = f"{name} {figures.stock_text(row.line.strength, carrier)}".strip()
    price = worked.cost_per_g
    needs = sorted(((smallest_amount((row.share,), one, tolerance) or 0.0, one) for one in balances), key=lambda need: need[0])
    best = needs[0][0]
    trials = tuple(
        TrialOn(one, g, None if price is None else g * price, g - best, None if price is None else (g - best) * price)
        for g, one in needs
    )
    return Comparison(trials, line, row.share, price, bool(worked.unpriced))


def _money(value: float | None) -> str:
    return "" if value is None else figures.fixed(value, 2)


def trial_columns(currency: str) -> tuple[Column[TrialOn], ...]:
    """Columns of a comparison in a currency."""
    sign = figures.SYMBOLS.get(currency, currency)
    return (
        Column("name", tr("balance"), lambda row: row.balance.name, 120),
        Column("amount", tr("smallest trial"), lambda row: figures.fixed(row.amount_g, 2), 94, right=True, unit="g"),
        Column("cost", tr("costs"), lambda row: _money(row.cost), 60, right=True, unit=sign),
        Column("more", tr("more"), lambda row: figures.fixed(row.more_g, 2) if row.more_g else "", 66, right=True, unit="g"),
        Column("more cost", tr("more"), lambda row: _money(row.more_cost) if row.more_g else "", 66, right=True, unit=sign,
               hidden=True),
    )  # fmt: skip


class TrialsModel(TableModel[TrialOn]):
    """Read only; amber is what the balance cannot carry."""

    def __init__(self, currency: str, parent: QObject | None = None) -> None:
        super().__init__(trial_columns(currency), parent)

    def identity(self, row: TrialOn) -> int | None:
        """The balance."""
        return row.balance.key

    def tone(self, row: TrialOn, column: Column[TrialOn]) -> str:
        """What cannot be weighed there stands out."""
        return "amber" if row.is_too_heavy else "ink"
