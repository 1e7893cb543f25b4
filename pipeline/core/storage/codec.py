"""Encodes values as JSON text and decodes them, driven by their types: for the cache, and for passing values between
processes.

Understood are dataclasses, tuples, `X | None`, unions of scalars and one tuple or one dataclass, literals,
enumerations of text, text, numbers, and arrays. Reading holds everything against its type and raises `CodecError` for
whatever does not fit, so that what comes from a disk is made anew rather than believed. Writing and reading give back
equal values, floats to the last bit.
"""

from __future__ import annotations

import base64
import hashlib
import json
import types
import typing
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from enum import StrEnum
from functools import lru_cache
from typing import Any

import numpy as np


class CodecError(ValueError):
    """The text holds no value of the requested type."""


Write = Callable[[Any, "SharedParts"], Any]
Read = Callable[[Any, "SharedParts"], Any]

_INTERNED_MOST = 512


class SharedParts:
    """What many values have in common, each written once under the hash of its text, and one object however often it
    is read.

    by_name: types that are written as a name; their text goes to `new` when it is first written, and is asked of `find`
    when it is first read. in_place: types whose text stands where they are used and is read once for all equal texts.
    """

    def __init__(
        self,
        by_name: tuple[type, ...] = (),
        in_place: tuple[type, ...] = (),
        find: Callable[[str], str | None] = lambda name: None,
    ) -> None:
        self.by_name, self.in_place, self._find = by_name, in_place, find
        self.new: dict[str, str] = {}
        """Texts by name, written and not yet collected."""
        self._names: dict[Any, str] = {}
        self._values: dict[tuple[type, str], Any] = {}
        self._lately: OrderedDict[tuple[type, str], Any] = OrderedDict()

    def write(self, kind: type, value: Any, plain: Write) -> str:
        """The name of a value, or its text."""
        if kind in self.in_place:
            return _text(plain(value, self))
        name = self._names.get(value)
        if name is None:
            text = _text(plain(value, self))
            name = _encode_name(text)
            self._names[value] = name  # the value is referenced so that its id isn't reused
            self.new[name] = text
        return name

    def read(self, kind: type, plain: Any, made: Read) -> Any:
        """The value of a name, or of a text."""
        if type(plain) is not str:
            raise CodecError(f"not a text: {plain!r:.40}")
        key = (kind, plain)
        if kind in self.in_place:
            value = self._lately.get(key)
            if value is None:
                value = self._lately[key] = made(_parsed(plain), self)
                if len(self._lately) > _INTERNED_MOST:
                    self._lately.popitem(last=False)
            else:
                self._lately.move_to_end(key)
            return value
        value = self._values.get(key)
        if value is None:
            text = self._find(plain) or self.new.get(plain)
            if text is None or _encode_name(text) != plain:
                raise CodecError(f"{plain} is not there, or not as it was")
            value = self._values[key] = made(_parsed(text), self)
            self._names[value] = plain
        return value


_NO_PARTS = SharedParts()


def encode_text(kind: Any, value: Any, parts: SharedParts = _NO_PARTS) -> str:
    """Encode the value, of this type, as JSON text (ASCII)."""
    return _text(_build_codec(kind, (*parts.by_name, *parts.in_place))[0](value, parts))


def decode_text(kind: Any, text: str | bytes, parts: SharedParts = _NO_PARTS) -> Any:
    """The value of this type that the text holds. Mismatch when it holds none."""
    try:
        return _build_codec(kind, (*parts.by_name, *parts.in_place))[1](_parsed(text), parts)
    except CodecError:
        raise
    except (ValueError, TypeError, OverflowError, RecursionError) as error:  # refused by the type itself, or not JSON
        raise CodecError(str(error)) from error


_text = json.JSONEncoder(ensure_ascii=True, separators=(",", ":")).encode
_parsed: Callable[[str | bytes], Any] = json.loads


def _encode_name(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:32]


# --- by type ----------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=256)
def _build_codec(kind: Any, shared: tuple[type, ...]) -> tuple[Write, Read]:
    """Return the encoder and decoder of this type. shared: types handled by `SharedParts`."""
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if origin is np.ndarray:
        return _build_array(np.dtype(typing.get_args(inner[1])[0]))
    if origin is tuple and len(inner) == 2 and inner[1] is ...:
        return _build_sequence(*_build_codec(inner[0], shared))
    if origin is tuple:
        return _build_fixed(tuple(_build_codec(each, shared) for each in inner))
    if origin in (typing.Union, types.UnionType):
        several = tuple(each for each in inner if each is not type(None))
        ways = _build_codec(several[0], shared) if len(several) == 1 else _build_union(several, shared)
        return _build_optional(*ways) if len(several) < len(inner) else ways
    if origin is typing.Literal:
        return _build_enumeration({each: each for each in inner})
    if isinstance(kind, type) and issubclass(kind, StrEnum):
        return _build_enumeration({each.value: each for each in kind})
    if is_dataclass(kind):
        return _build_dataclass(kind, shared)  # type: ignore[arg-type]
    return _build_scalar((kind,))


_SCALARS: dict[Any, frozenset[type]] = {
    float: frozenset({float, int}),
    int: frozenset({int}),  # bool is a subclass of int
    str: frozenset({str}),
    bool: frozenset({bool}),
}


def _build_scalar(kinds: tuple[Any, ...]) -> tuple[Write, Read]:
    if not _SCALARS.keys() >= {*kinds}:
        raise TypeError(f"{kinds} cannot be written as text")
    allowed = frozenset[type]().union(*(_SCALARS[kind] for kind in kinds))
    real = kinds == (float,)

    def write(value: Any, parts: SharedParts) -> Any:
        return value.item() if isinstance(value, np.generic) else value

    def read(plain: Any, parts: SharedParts) -> Any:
        if type(plain) not in allowed:
            raise CodecError(f"not of the kind that was expected: {plain!r:.40}")
        return float(plain) if real else plain

    return write, read


def _build_enumeration(values: dict[Any, Any]) -> tuple[Write, Read]:
    def read(plain: Any, parts: SharedParts) -> Any:
        try:
            return values[plain]
        except (KeyError, TypeError):
            raise CodecError(f"not one of {list(values)}: {plain!r:.40}") from None

    return lambda value, parts: value, read


def _build_union(kinds: tuple[Any, ...], shared: tuple[type, ...]) -> tuple[Write, Read]:
    """Build a codec for one of several scalars, or a tuple or a dataclass; or for one of several dataclasses, whose
    name goes with the value."""
    lists = [kind for kind in kinds if typing.get_origin(kind) is tuple or is_dataclass(kind)]
    if len(lists) == 1 and len(kinds) > 1 and lists[0] not in shared:
        return _build_scalar_or_list(tuple(kind for kind in kinds if kind not in lists), lists[0], shared)
    if not all(is_dataclass(kind) for kind in kinds):
        return _build_scalar(kinds)
    ways = {kind.__name__: _build_codec(kind, shared) for kind in kinds}

    def write(value: Any, parts: SharedParts) -> list[Any]:
        name = type(value).__name__
        return [name, ways[name][0](value, parts)]

    def read(plain: Any, parts: SharedParts) -> Any:
        if type(plain) is not list or len(plain) != 2 or plain[0] not in [*ways]:
            raise CodecError(f"not one of {', '.join(ways)}: {plain!r:.40}")
        return ways[plain[0]][1](plain[1], parts)

    return write, read


def _build_scalar_or_list(scalars: tuple[Any, ...], several: Any, shared: tuple[type, ...]) -> tuple[Write, Read]:
    """Build a codec that tells its types apart by form: a tuple, or the values of a dataclass, are a list."""
    (write_one, read_one), (write_all, read_all) = _build_scalar(scalars), _build_codec(several, shared)
    form = tuple if typing.get_origin(several) is tuple else several
    return (
        lambda value, parts: (write_all if isinstance(value, form) else write_one)(value, parts),
        lambda plain, parts: (read_all if isinstance(plain, list) else read_one)(plain, parts),
    )


def _build_optional(write: Write, read: Read) -> tuple[Write, Read]:
    return (
        lambda value, parts: None if value is None else write(value, parts),
        lambda plain, parts: None if plain is None else read(plain, parts),
    )


def _build_sequence(write: Write, read: Read) -> tuple[Write, Read]:
    def build(plain: Any, parts: SharedParts) -> tuple[Any, ...]:
        if type(plain) is not list:
            raise CodecError(f"not a list: {plain!r:.40}")
        return tuple([read(each, parts) for each in plain])

    return lambda value, parts: [write(each, parts) for each in value], build


def _build_fixed(ways: tuple[tuple[Write, Read], ...]) -> tuple[Write, Read]:
    def write(value: Any, parts: SharedParts) -> list[Any]:
        return [write(each, parts) for (write, _), each in zip(ways, value, strict=True)]

    def build(plain: Any, parts: SharedParts) -> tuple[Any, ...]:
        if type(plain) is not list or len(plain) != len(ways):
            raise CodecError(f"not a list of {len(ways)}: {plain!r:.40}")
        return tuple([read(each, parts) for (_, read), each in zip(ways, plain, strict=True)])

    return write, build


def _build_array(dtype: np.dtype[Any]) -> tuple[Write, Read]:
    """Shape, and the numbers as base64 of their bytes, lowest first."""
    stored = dtype.newbyteorder("<")

    def write(value: Any, parts: SharedParts) -> list[Any]:
        return [list(value.shape), base64.b64encode(np.ascontiguousarray(value, dtype=stored).tobytes()).decode()]

    def read(plain: Any, parts: SharedParts) -> Any:
        if type(plain) is not list or len(plain) != 2 or type(plain[0]) is not list or type(plain[1]) is not str:
            raise CodecError(f"not an array: {plain!r:.40}")
        numbers = np.frombuffer(base64.b64decode(plain[1], validate=True), dtype=stored).astype(dtype)
        return numbers.reshape([*map(int, plain[0])])

    return write, read


def _build_dataclass(kind: type, shared: tuple[type, ...]) -> tuple[Write, Read]:
    """A list of the values of all fields, in their order."""
    ways: list[tuple[str, Write, Read]] = []

    def prepare() -> list[tuple[str, Write, Read]]:
        if not ways:  # resolved on first use, because a class may contain itself
            hints = typing.get_type_hints(kind)
            ways.extend((f.name, *_build_codec(hints[f.name], shared)) for f in fields(kind))
        return ways

    def write(value: Any, parts: SharedParts) -> list[Any]:
        return [each(getattr(value, name), parts) for name, each, _ in prepare()]

    def read(plain: Any, parts: SharedParts) -> Any:
        known = prepare()
        if type(plain) is not list or len(plain) != len(known):
            raise CodecError(f"not the values of a {kind.__name__}: {plain!r:.40}")
        return kind(**{name: each(value, parts) for (name, _, each), value in zip(known, plain, strict=True)})

    if kind not in shared:
        return write, read
    return lambda value, parts: parts.write(kind, value, write), lambda plain, parts: parts.read(kind, plain, read)
