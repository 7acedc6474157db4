# SPDX-License-Identifier: MIT
"""How each kind of value lies in its table: rows in, frozen values out, and the other way.

The codec follows the names: `at`/`…_at` is an instant in two columns (ms UTC, offset), `…_on` a day as text, a bool an
integer, a tuple or mapping JSON text. Lines of a version and shares of contents lie in tables of their own.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from datetime import date
from functools import cached_property
from json.encoder import encode_basestring
from operator import attrgetter
from typing import Any

from sqlalchemy import ColumnElement, Table, exists, select

from db import tables as t
from perfumery import (
    Answer,
    Balance,
    BenchCheck,
    BlindTest,
    Bottle,
    Constituent,
    Contents,
    Decision,
    Habit,
    Limit,
    Line,
    Making,
    Material,
    Move,
    Note,
    Planned,
    Project,
    Property,
    Reading,
    Sitting,
    Strip,
    Value,
    Version,
    Word,
)
from perfumery.findings import Refused, refuse
from perfumery.instants import day, from_ms, instant, to_ms
from perfumery.values import HABITS

Row = Mapping[str, Any] | Any


@dataclass(frozen=True)
class Field:
    """One field of a value: its columns, how it is written to them and read from them (by the row's column values)."""

    name: str
    columns: tuple[str, ...]
    write: Callable[[Any], tuple[Any, ...]]
    read: Callable[..., Any]


@dataclass(frozen=True)
class Kind:
    """A kind of value. `code` is the column it is also found by; `record`: corrected only by a row that replaces it;
    `logged`: never taken back by undo, only the fields of `settled` may be written later."""

    value: type[Any]
    table: Table
    fields: tuple[Field, ...]
    code: str | None = None
    record: bool = False
    logged: bool = False
    settled: frozenset[str] = frozenset()
    replaces: bool = False
    # for figures that earlier programs kept and this one refuses: what is read in their place
    instead: Callable[[Mapping[str, Any]], dict[str, Any]] = lambda _: {}

    @property
    def editable(self) -> bool:
        """Whether a put of it is an undo step."""
        return not (self.record or self.logged)

    def in_force(self) -> tuple[ColumnElement[bool], ...]:
        """Leaves out records that were replaced, and withdrawn readings and moves."""
        return self._in_force

    @cached_property
    def _in_force(self) -> tuple[ColumnElement[bool], ...]:
        if not self.replaces:
            return ()
        later = self.table.alias("later")
        where: list[ColumnElement[bool]] = [~exists(select(later.c.key).where(later.c.replaces == self.table.c.key))]
        if "withdrawn" in self.table.c:
            where.append(self.table.c.withdrawn == 0)
        elif "kind" in self.table.c:
            where.append(self.table.c.kind != "withdrawn")
        return tuple(where)

    def row(self, value: Value | Line) -> dict[str, Any]:
        """The value's own columns."""
        return dict(zip(self._names, self.figures(value), strict=True))

    def figures(self, value: Value | Line) -> tuple[Any, ...]:
        """What stands in the value's own columns, in the order of `columns`."""
        written, encoded = self._writing
        row = list(written(value))
        # from behind, for a field may have several columns
        for place, write in encoded:
            row[place : place + 1] = write(row[place])
        return tuple(row)

    @cached_property
    def _writing(self) -> tuple[Callable[[Any], tuple[Any, ...]], tuple[tuple[int, Callable[[Any], tuple[Any, ...]]], ...]]:
        """(what takes all fields of a value at once; places, from behind, of those that are encoded, and how)."""
        encoded = [(place, field.write) for place, field in enumerate(self.fields, 1) if field.write is not _plain]
        return attrgetter("key", *(field.name for field in self.fields)), tuple(reversed(encoded))

    @cached_property
    def insertion(self) -> str:
        """The statement that puts rows of `figures` in: for thousands at once, where each would be made ready by itself."""
        names = ", ".join(f'"{name}"' for name in self._names)
        return f"INSERT INTO {self.table.name} ({names}) VALUES ({', '.join('?' * len(self._names))})"

    @cached_property
    def _names(self) -> tuple[str, ...]:
        return ("key", *(name for field in self.fields for name in field.columns))

    def load(self, row: Sequence[Any], **more: Any) -> Any:
        """The value of a row selected as `key` and then the fields' columns in order; `more` are its child tables' fields."""
        plain, decoded = self._plan
        found = {name: row[place] for name, place in plain}
        for field, place in decoded:
            found[field.name] = field.read(*row[place : place + len(field.columns)])
        try:
            return self.value(**found, **more)
        except Refused:
            # refused again where that was not the reason
            return self.value(**found | self.instead(found), **more)

    @cached_property
    def _plan(self) -> tuple[tuple[tuple[str, int], ...], tuple[tuple[Field, int], ...]]:
        """(fields taken as they lie, with their place in a row; fields to be decoded, with their first place)."""
        plain, decoded, place = [("key", 0)], [], 1
        for field in self.fields:
            if field.read is _as_is:
                plain.append((field.name, place))
            else:
                decoded.append((field, place))
            place += len(field.columns)
        return tuple(plain), tuple(decoded)

    def columns(self) -> list[Any]:
        """The columns in the order `load` takes them."""
        return [self.table.c[name] for name in self._names]


# One for all: thousands of rows may be written at once.
_ENCODER = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), default=asdict)


def _as_is(value: Any) -> Any:
    return value


def _plain(value: Any) -> tuple[Any, ...]:
    return (value,)


def _figure_out(value: float | None) -> tuple[float | None]:
    # SQLite would keep "not a number" as nothing, and nothing means not known
    if value is not None and not math.isfinite(value):
        raise refuse("number-unreadable", text=str(value))
    return (value,)


def _json(value: Any) -> tuple[str]:
    if isinstance(value, tuple) and not value:
        return ("[]",)
    if isinstance(value, Mapping):
        value = {str(key): item for key, item in value.items()}
    return (_ENCODER.encode(value),)


def _texts_out(value: tuple[str, ...]) -> tuple[str]:
    # as `_json` would, in a fraction of the time
    return (f"[{','.join(map(encode_basestring, value))}]",)


def _day_out(value: date | str | None) -> tuple[str | None]:
    return (None if value is None else day(value).isoformat(),)


def _day_in(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


def _instant_out(value: Any) -> tuple[Any, Any]:
    return (None, None) if value is None else to_ms(instant(value))


def _instant_in(ms: int | None, offset: int | None) -> Any:
    return None if ms is None or offset is None else from_ms(ms, offset)


def _flag_out(value: bool | None) -> tuple[int | None]:
    return (None if value is None else int(value),)


def _flag_in(value: int | None) -> bool | None:
    return None if value is None else bool(value)


def _properties_in(text: str) -> tuple[Property, ...]:
    return tuple(Property(**item) for item in json.loads(text))


def _plan_in(text: str) -> tuple[Planned, ...]:
    return tuple(Planned(**item) for item in json.loads(text))


def _keyed_in(text: str) -> dict[int, Any]:
    return {int(key): item for key, item in json.loads(text).items()}


def _list_in(text: str) -> tuple[Any, ...]:
    return tuple(json.loads(text))


def _field(name: str, annotation: str) -> Field | None:
    if name in ("key", "lines", "shares"):
        return None
    if name == "at" or name.endswith("_at"):
        return Field(name, (name, "off" if name == "at" else name[:-3] + "_off"), _instant_out, _instant_in)
    if name.endswith("_on"):
        return Field(name, (name,), _day_out, _day_in)
    if annotation.startswith("bool"):
        return Field(name, (name,), _flag_out, _flag_in)
    if annotation.startswith("tuple[Property"):
        return Field(name, (name,), _json, _properties_in)
    if annotation.startswith("tuple[Planned"):
        return Field(name, (name,), _json, _plan_in)
    if annotation.startswith("tuple[str"):
        return Field(name, (name,), _texts_out, _list_in)
    if annotation.startswith("tuple"):
        return Field(name, (name,), _json, _list_in)
    if annotation.startswith("Mapping[int"):
        return Field(name, (name,), _json, _keyed_in)
    if annotation.startswith("Mapping"):
        return Field(name, (name,), _json, json.loads)
    return Field(name, (name,), _figure_out if annotation.startswith("float") else _plain, _as_is)


def _kind(value: type[Any], table: Table, **how: Any) -> Kind:
    made = (_field(spec.name, str(spec.type)) for spec in fields(value))
    return Kind(value, table, tuple(field for field in made if field is not None), **how)


KINDS: dict[type[Any], Kind] = {
    kind.value: kind
    for kind in (
        _kind(Material, t.MATERIAL, code="name", instead=lambda _: {"retest_months": None}),
        _kind(Bottle, t.BOTTLE, code="code", instead=lambda _: {"price_per_g": None}),
        _kind(Contents, t.CONTENTS, record=True),
        _kind(Project, t.PROJECT, code="code"),
        _kind(Version, t.VERSION, code="code"),
        _kind(Balance, t.BALANCE, code="name"),
        _kind(Making, t.MAKING, code="code", logged=True, settled=frozenset({"finished_at", "remark", "plan", "mode"})),
        _kind(BenchCheck, t.BENCH_CHECK, record=True, replaces=True),
        _kind(Move, t.MOVE, record=True, replaces=True),
        _kind(
            Sitting,
            t.SITTING,
            code="code",
            logged=True,
            settled=frozenset(
                {
                    "purpose", "temp_c", "rh_percent", "cold", "scented", "tired", "benchmark", "blind", "clock_at", "shuffled",
                    "revealed_at",
                }
            ),
        ),
        _kind(Strip, t.STRIP, code="code", logged=True, settled=frozenset({"closed_at"})),
        _kind(Reading, t.READING, record=True, replaces=True),
        _kind(BlindTest, t.BLIND_TEST, code="code", logged=True, settled=frozenset({"revealed_at", "remark"})),
        _kind(Answer, t.ANSWER, record=True, replaces=True),
        _kind(Word, t.WORD, code="text"),
        _kind(Limit, t.USE_LIMIT, code="name"),
        _kind(Constituent, t.CONSTITUENT),
        _kind(Habit, t.HABIT, code="name", instead=lambda found: {"value": HABITS[found["name"]]}),
        _kind(Note, t.NOTE, record=True, replaces=True),
        _kind(Decision, t.DECISION, code="code", record=True, replaces=True),
    )
}
LINE = _kind(Line, t.LINE)
# What loading raises for bytes that no value of ours ever wrote.
NOT_A_VALUE = (ValueError, TypeError, AttributeError, KeyError, OverflowError, RecursionError, Refused)
