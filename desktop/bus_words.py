# SPDX-License-Identifier: MIT
"""Messages of the freedesktop bus as bytes: as much of the D-Bus Specification as one desktop notice needs; no Qt, no socket.

It is written out here because PySide6's QtDBus sends every int as a signed one ('i'), and what shows notices refuses a Notify
whose number is not unsigned ('u'). Values follow their type: v is (type, value), a{..} a dict, a(..) a list of tuples.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import unquote_to_bytes

CALL, RETURN, ERROR, SIGNAL = 1, 2, 3, 4
NO_ANSWER = 1
PATH, INTERFACE, MEMBER, ERROR_NAME, REPLY_TO, DESTINATION, SENDER, SIGNATURE = range(1, 9)
_FIELD_TYPES = {PATH: "o", INTERFACE: "s", MEMBER: "s", DESTINATION: "s", SIGNATURE: "g"}
_FIXED = {"y": "B", "b": "I", "n": "h", "q": "H", "i": "i", "u": "I", "x": "q", "t": "Q", "d": "d", "h": "I"}
_STEP = {kind: struct.calcsize(form) for kind, form in _FIXED.items()} | {"s": 4, "o": 4, "a": 4, "(": 8, "{": 8, "g": 1, "v": 1}
_HEAD = ("y", "y", "y", "y", "u", "u", "a(yv)")
_HEAD_OCTETS = 16
# The bus allows 128 MiB; nothing that is read here comes near this.
MOST_OCTETS = 1 << 20


class Garbled(ValueError):
    """What came over the bus cannot be read."""


@dataclass(frozen=True, slots=True)
class Message:
    """A message that came: its kind, its header fields by number, and what it carries."""

    kind: int
    fields: Mapping[int, Any]
    body: tuple[Any, ...]


def socket_of(environment: Mapping[str, str]) -> bytes | None:
    """The socket of this session's bus: a path, or an abstract name behind a zero octet; None where none is told.

    Never starts a bus, as the bus's own library does where no address is set.
    """
    given = environment.get("DBUS_SESSION_BUS_ADDRESS")
    if given:
        for address in given.split(";"):
            way, _, rest = address.partition(":")
            named = dict(part.partition("=")[::2] for part in rest.split(","))
            for key, before in (("path", b""), ("abstract", b"\0")):
                if way == "unix" and key in named:
                    return before + unquote_to_bytes(named[key])
        return None
    folder = environment.get("XDG_RUNTIME_DIR")
    path = Path(folder, "bus") if folder else None
    return str(path).encode() if path is not None and path.exists() else None


# out ------------------------------------------------------------------------------------------------------------------


def call(serial: int, fields: Mapping[int, str], signature: str = "", values: tuple[Any, ...] = (), *, flags: int = 0) -> bytes:
    """The bytes of a method call; `fields` are PATH, INTERFACE, MEMBER and DESTINATION."""
    body, data = bytearray(), bytearray()
    for kind, value in zip(_types(signature), values, strict=True):
        _put(body, kind, value)
    told = {**fields, SIGNATURE: signature} if signature else fields
    listed = [(field, (_FIELD_TYPES[field], value)) for field, value in told.items()]
    for kind, value in zip(_HEAD, (ord("l"), CALL, flags, 1, len(body), serial, listed), strict=True):
        _put(data, kind, value)
    _pad(data, 8)
    return bytes(data + body)


def _put(data: bytearray, kind: str, value: Any) -> None:
    """Adds a value of one complete type at its place."""
    first = kind[0]
    _pad(data, _STEP[first])
    if first in _FIXED:
        data += struct.pack("<" + _FIXED[first], value)
    elif first in "sog":
        text = value.encode()
        data += struct.pack("<B" if first == "g" else "<I", len(text)) + text + b"\0"
    elif first == "v":
        _put(data, "g", value[0])
        _put(data, value[0], value[1])
    elif first == "a":
        place = len(data)
        data += bytes(4)
        _pad(data, _STEP[kind[1]])
        begin = len(data)
        for item in value.items() if isinstance(value, Mapping) else value:
            _put(data, kind[1:], item)
        struct.pack_into("<I", data, place, len(data) - begin)
    else:
        for inner, part in zip(_types(kind[1:-1]), value, strict=True):
            _put(data, inner, part)


def _pad(data: bytearray, step: int) -> None:
    data += bytes(-len(data) % step)


# in -------------------------------------------------------------------------------------------------------------------


def take(data: bytearray) -> Message | None:
    """The first message of what came so far, which is taken off it; None while it is not whole. Raises Garbled."""
    if len(data) < _HEAD_OCTETS:
        return None
    mark = {ord("l"): "<", ord("B"): ">"}.get(data[0], "")
    length, _, told = struct.unpack_from(f"{mark}III", data, 4)
    end = _HEAD_OCTETS + told + -told % 8 + length
    if not mark or end > MOST_OCTETS:
        raise Garbled(f"{data[0]}, {end} octets")
    if len(data) < end:
        return None
    reader = _Reader(bytes(data[:end]), mark)
    try:
        head = [reader.value(kind) for kind in _HEAD]
        fields = {field: value for field, (_, value) in head[-1]}
        reader.at += -reader.at % 8
        body = tuple(reader.value(kind) for kind in _types(fields.get(SIGNATURE, "")))
    except (struct.error, LookupError, ValueError, TypeError, RecursionError) as fault:
        raise Garbled(repr(fault)) from fault
    del data[:end]
    return Message(head[1], fields, body)


class _Reader:
    def __init__(self, data: bytes, mark: str) -> None:
        self._data, self._mark, self.at = data, mark, 0

    def value(self, kind: str) -> Any:
        """The value of one complete type at this place, which moves on behind it."""
        first = kind[0]
        self.at += -self.at % _STEP[first]
        if first in _FIXED:
            return self._figure(_FIXED[first])
        if first in "sog":
            size = self._figure("B" if first == "g" else "I")
            self.at += size + 1
            return self._data[self.at - size - 1 : self.at - 1].decode()
        if first == "v":
            inner = self.value("g")
            return inner, self.value(inner)
        if first != "a":
            return tuple(self.value(inner) for inner in _types(kind[1:-1]))
        size = self._figure("I")
        self.at += -self.at % _STEP[kind[1]]
        found, end = [], self.at + size
        while self.at < end:
            before = self.at
            found.append(self.value(kind[1:]))
            if self.at == before:
                raise LookupError(kind)
        return dict(found) if kind[1] == "{" else found

    def _figure(self, form: str) -> Any:
        (figure,) = struct.unpack_from(self._mark + form, self._data, self.at)
        self.at += struct.calcsize(form)
        return figure


def _types(signature: str) -> list[str]:
    """The complete types of a signature: 'sa{sv}u' → ['s', 'a{sv}', 'u']."""
    found, at = [], 0
    while at < len(signature):
        end = _end(signature, at)
        found.append(signature[at:end])
        at = end
    return found


def _end(signature: str, at: int) -> int:
    while signature[at] == "a":
        at += 1
    depth = 0
    while True:
        depth += (signature[at] in "({") - (signature[at] in ")}")
        at += 1
        if not depth:
            return at
