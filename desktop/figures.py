# SPDX-License-Identifier: MIT
"""Every number and every time as it is shown: one place, so that a figure reads the same on each page.

A real minus sign, a thin space before % and units, an em dash for what is not known. Rounding works on the decimals as
written, ties to even (ISO 80000-1, Annex B, rule A). Decimal mark, order of a date and the clock are the system's, as Qt tells
them (`QLocale()`); month names are those of the language the sentences are in, digits are ours everywhere, and so is the rule
that nothing groups thousands: 1,234 must never be two figures.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, datetime
from decimal import ROUND_HALF_EVEN, Decimal
from functools import lru_cache

from PySide6.QtCore import QLocale

from desktop.language import tr, tr_count

MINUS = "\u2212"
THIN = "\u2009"
FIGURE_SPACE = "\u2007"
UNKNOWN = "—"
MONTHS = (
    tr("Jan"), tr("Feb"), tr("Mar"), tr("Apr"), tr("May"), tr("Jun"),
    tr("Jul"), tr("Aug"), tr("Sep"), tr("Oct"), tr("Nov"), tr("Dec"),
)  # fmt: skip
MORNING, AFTERNOON = tr("am"), tr("pm")
SYMBOLS = {"EUR": "€", "USD": "$", "GBP": "£", "JPY": "¥", "INR": "₹"}
SIGNIFICANT = 4
# Under this share a percentage is mostly zeros and is shown in mg/kg.
MG_PER_KG_BELOW = Decimal("0.0001")
MINUTE_S, HOUR_S = 60, 3600


def decimal_mark() -> str:
    """The system's: comma or point. Where it writes another sign it is the point, for fields read these two."""
    return "," if QLocale().decimalPoint() == "," else "."


def fixed(value: float, places: int) -> str:
    """So many decimals, ties as a computer breaks them: for what is worked out, where no tie is one."""
    return _shown(f"{value:.{places}f}")


def signed_fixed(value: float, places: int) -> str:
    """As `fixed` with its sign, that of zero a plus: '+3.0', '−1.5'."""
    text = fixed(value, places)
    return text if text.startswith(MINUS) else f"+{text}"


def short(value: float, digits: int) -> str:
    """At most so many significant figures, without zeros at the end: 0.25, 3.7, 1200."""
    return parts(float(f"{value:.{digits}g}"))


def pasted(value: object) -> str:
    """A value of a table for the clipboard: a spreadsheet beside reads its figures by the system's mark."""
    if value is None:
        return ""
    return str(value).replace(".", decimal_mark()) if isinstance(value, float) else str(value)


def decimals_shown(text: str) -> int:
    """How many decimals stand in a shown figure."""
    return len(text.partition(decimal_mark())[2])


def unit(text: str, name: str) -> str:
    """A figure with its unit behind a thin space; the dash of an unknown figure stands alone."""
    return text if text == UNKNOWN or not name else f"{text}{THIN}{name}"


# quantities -----------------------------------------------------------------------------------------------------------


def parts(value: float | None) -> str:
    """A number as it was typed: 0.1 → '0.1', 20.0 → '20', no dust of binary sums."""
    if value is None:
        return UNKNOWN
    return _shown(_plain(_decimal(value).normalize()))


def neat(value: float | None) -> str:
    """Worked-out parts: four significant figures, zeros behind the third decimal dropped; 0.005, 2.000, 110.0."""
    if value is None:
        return UNKNOWN
    if not value:
        return "0"
    whole, _, decimals = _significant(_decimal(value)).partition(".")
    while len(decimals) > 3 and decimals.endswith("0"):
        decimals = decimals[:-1]
    return _shown(f"{whole}.{decimals}" if decimals else whole)


def per_thousand(value: float | None) -> str:
    """Parts per thousand, as `neat` shows them."""
    return neat(value)


def mass(g: float | None, d: float = 0.001) -> str:
    """A mass in g as a balance of readability d shows it, to nearest."""
    if g is None:
        return UNKNOWN
    step = _decimal(d)
    count = (_decimal(g) / step).quantize(Decimal(1), ROUND_HALF_EVEN)
    places = max(0, -int(step.normalize().as_tuple().exponent))
    return _shown(f"{count * step:.{places}f}")


def mass_text(g: float | None, d: float = 0.001) -> str:
    """A mass with its unit: '5.000 g'."""
    return unit(mass(g, d), "g")


def off(g: float | None, d: float = 0.001) -> str:
    """By how much a mass is off, signed, as a balance of readability d shows it: '+0.001', '−0.001', '0.000'."""
    text = mass(None if g is None else round(g, 9), d)
    return f"+{text}" if text.strip("0.,") and not text.startswith((MINUS, UNKNOWN)) else text


def percent(share: float | None) -> str:
    """A share 0..1 in percent with four significant figures: '11.88'; under 0.01 % it is '80.00 mg/kg'."""
    if share is None:
        return UNKNOWN
    if not share:
        return "0"
    exact = _decimal(share)
    if abs(exact) < MG_PER_KG_BELOW:
        return unit(_shown(_significant(exact * 1_000_000)), "mg/kg")
    return _shown(_significant(exact * 100))


def percent_text(share: float | None) -> str:
    """A share 0..1 with its unit: '11.88 %'."""
    text = percent(share)
    return text if text.endswith("kg") else unit(text, "%")


def strength_text(strength: float | None) -> str:
    """A strength 0..1 as a hand writes it on a label: '10 %', '0.1 %'."""
    if strength is None:
        return UNKNOWN
    return unit(_shown(_plain((_decimal(strength) * 100).normalize())), "%")


def stock_text(strength: float | None, carrier: str = "") -> str:
    """What a line or a bottle is diluted to: '10 % in ethanol'; empty for neat."""
    if strength == 1:
        return ""
    text = strength_text(strength)
    return tr("{strength} in {carrier}", strength=text, carrier=carrier) if carrier and strength is not None else text


def money(value: float | None, currency: str = "EUR", *, per: str = "g", at_least: bool = False) -> str:
    """A price with four significant figures: '0.1178 €/g', 'at least 0.1178 €/g' where a price is missing."""
    if value is None:
        return UNKNOWN
    text = unit(_shown(_significant(_decimal(value))) if value else "0", SYMBOLS.get(currency, currency))
    text = f"{text}/{per}" if per else text
    return tr("at least {price}", price=text) if at_least else text


def signed(value: float | None) -> str:
    """A liking with its sign: '+3', '−1', '0'."""
    if value is None:
        return UNKNOWN
    text = parts(value)
    return f"+{text}" if value > 0 else text


def on_point(text: str, decimals: int = 3) -> str:
    """A right-aligned figure filled up with figure spaces: the decimal points of a column stand below each other."""
    _, point, shown = text.partition(decimal_mark())
    if not text or not text[-1].isdigit() or len(shown) >= decimals:
        return text
    # FIGURE_SPACE is as wide as a digit; the point itself is narrower and has a space of its own width.
    return text + ("" if point else "\u2008") + FIGURE_SPACE * (decimals - len(shown))


def listed(names: Iterable[str], most: int = 4, of: int = 0) -> str:
    """'a', 'a and b', 'a, b and c'; from `most` on 'a, b, c and 5 others'. `of` is how many there are where only the first are
    given, `most` of them at least."""
    first, last = _split(names, most, of)
    return tr("{names} and {last}", names=first, last=last) if first else last


def either(names: Iterable[str], most: int = 4) -> str:
    """'a', 'a or b', 'a, b or c'."""
    first, last = _split(names, most)
    return tr("{names} or {last}", names=first, last=last) if first else last


def _split(names: Iterable[str], most: int, of: int = 0) -> tuple[str, str]:
    """Names as far as they are told, but for the last, which may be how many others there are; and that."""
    given = [str(name) for name in names]
    number = max(len(given), of)
    if number > most:
        given = [*given[: most - 1], tr_count(number - most + 1, "{n} other", "{n} others")]
    return ", ".join(given[:-1]), given[-1] if given else ""


def file_size(octets: int) -> str:
    """'12 kB', '1.4 MB'."""
    if octets < 1_000_000:
        return unit(str(max(1, round(octets / 1000))), "kB")
    return unit(fixed(octets / 1_000_000, 1), "MB")


# times ----------------------------------------------------------------------------------------------------------------


def elapsed(hours: float | None) -> str:
    """Elapsed time: '2 min', '1 h', '2.68 h', '1 d', '2 d 4 h', '12 d'."""
    if hours is None:
        return UNKNOWN
    if hours < 0:
        return MINUS + elapsed(-hours)
    seconds = hours * HOUR_S
    if seconds < MINUTE_S - 0.5:
        return unit(str(round(seconds)), "s")
    if seconds < HOUR_S - MINUTE_S / 2:
        return unit(str(round(seconds / MINUTE_S)), "min")
    if hours < 23.95:
        return unit(_shown(_plain(_rounded(_decimal(max(hours, 1.0)), 3).normalize())), "h")
    days, rest = divmod(round(hours), 24)
    if days >= 10 or not rest:
        return unit(str(round(hours / 24)), "d")
    return f"{unit(str(days), 'd')} {unit(str(rest), 'h')}"


def span(seconds: float | None) -> str:
    """A stretch of time in at most two units: '41 min', '2 h 5 min', '1 d 3 h'; under a minute 'under 1 min'."""
    if seconds is None:
        return UNKNOWN
    minutes = int(seconds // MINUTE_S)
    if minutes < 1:
        return tr("under {time}", time=unit("1", "min"))
    hours, minutes = divmod(minutes, 60)
    days, hours = divmod(hours, 24)
    named = ((days, "d"), (hours, "h"), (minutes, "min"))
    shown = [unit(str(figure), name) for figure, name in named if figure]
    if days:
        shown = [unit(str(figure), name) for figure, name in named[:2] if figure]
    return " ".join(shown)


def due_text(seconds: float | None) -> str:
    """A reading time, seconds after the dip: '2 min', '2 h', '3 d'."""
    return UNKNOWN if seconds is None else elapsed(seconds / HOUR_S)


def lateness(seconds: float) -> str:
    """'41 min late'."""
    return tr("{time} late", time=span(seconds))


def ahead(seconds: float) -> str:
    """'in 12 min', 'now' for the last minute."""
    return tr("now") if seconds < MINUTE_S else tr("in {time}", time=span(seconds))


def day(on: date | datetime | None, today: date | datetime | None = None) -> str:
    """'11 Mar'; '11 Mar 2024' where that is not the year of `today`, or no today is given. As the system orders it: also
    'Mar 11, 2024' and '2024 Mar 11'."""
    if on is None:
        return UNKNOWN
    order, month = day_order(), MONTHS[on.month - 1]
    text = f"{on.day} {month}" if order == "dmy" else f"{month} {on.day}"
    if today is not None and today.year == on.year:
        return text
    return f"{on.year} {text}" if order == "ymd" else f"{text}, {on.year}" if order == "mdy" else f"{text} {on.year}"


def month(on: date) -> str:
    """'Mar 2024'."""
    text = MONTHS[on.month - 1]
    return f"{on.year} {text}" if day_order() == "ymd" else f"{text} {on.year}"


def day_order() -> str:
    """How the system writes a date: 'dmy', 'mdy' or 'ymd'."""
    pattern = _date_pattern()
    order = "".join(sorted("dMy", key=pattern.find)).lower()
    return order if order in ("mdy", "ymd") else "dmy"


def writes_slashes() -> bool:
    """Whether the system writes dates as 10/5/2024; else nobody knows which of the two is the day."""
    return "/" in _date_pattern()


def _date_pattern() -> str:
    return QLocale().dateFormat(QLocale.FormatType.ShortFormat)


def clock(at: datetime | None) -> str:
    """'14:05', as read there and then; '2:05 pm' or '14.05' where the system writes so."""
    if at is None:
        return UNKNOWN
    pattern = QLocale().timeFormat(QLocale.FormatType.ShortFormat)
    mark = "." if re.search("h\\.m", pattern, re.IGNORECASE) else ":"
    if "a" in pattern.casefold():
        return f"{at.hour % 12 or 12}{mark}{at.minute:02} {MORNING if at.hour < 12 else AFTERNOON}"
    return f"{at.hour:02}{mark}{at.minute:02}"


def hour(value: float) -> str:
    """An hour of the day, a figure 0..24, as a clock shows it: '8:30', '24:00'."""
    hours, minutes = divmod(round(value * 60), 60)
    return f"{hours}:{minutes:02}"


def moment(at: datetime | None, now: date | datetime | None = None) -> str:
    """'11 Mar, 14:05'."""
    return UNKNOWN if at is None else f"{day(at, now)}, {clock(at)}"


# decimal figures ------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=4096)
def _decimal(value: float) -> Decimal:
    """The figure as written, cut to 12 significant so that 0.1 + 0.2 is 0.3."""
    return Decimal(f"{value:.12g}") if isinstance(value, float) else Decimal(value)


def _rounded(value: Decimal, significant: int) -> Decimal:
    """To so many significant figures; whole numbers keep all their digits."""
    if not value:
        return value
    rounded = value.quantize(_step(value, significant), ROUND_HALF_EVEN)
    # 9.9999 becomes 10.00, not 10.000
    return rounded.quantize(_step(rounded, significant)) if rounded.adjusted() > value.adjusted() else rounded


def _step(value: Decimal, significant: int) -> Decimal:
    return Decimal(1).scaleb(min(0, value.adjusted() - significant + 1))


def _significant(value: Decimal) -> str:
    return _plain(_rounded(value, SIGNIFICANT))


def _plain(value: Decimal) -> str:
    return f"{value:f}" if value else "0"


def _shown(text: str) -> str:
    """The system's decimal mark; a hyphen made a minus, none before a figure that was rounded to zero."""
    if text.startswith("-"):
        text = MINUS + text[1:] if text.strip("-0.") else text[1:]
    return text.replace(".", decimal_mark())
