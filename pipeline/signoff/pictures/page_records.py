"""Plain records of what was read in a picture of a page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

BoxState = Literal["off", "on", "written", "unclear"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadBox:
    """One box of the form. option: of one that belongs to several, which it stands for. why: for `unclear`. picture:
    what is written in it, or what is unclear, as PNG."""

    field: str
    option: str
    kind: Literal["tick", "write"]
    state: BoxState
    why: str = ""
    picture: bytes = b""
    others: tuple[bytes, ...] = ()  # what is written in it in further pictures of the page


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadPage:
    """What one picture shows. number: of the picture in its file. page 0: none was read, and `why` says why not.
    revision, volume: of the proof that its mark names, as far as it could be read."""

    number: int
    revision: str = ""
    volume: int = 0
    page: int = 0
    why: str = ""
    boxes: tuple[ReadBox, ...] = ()
    remarks: tuple[bytes, ...] = ()  # what is written outside all boxes, as PNG
    hidden: str = ""  # why a part of the page cannot be seen; empty when all of it can
    blank: bool = False  # a back without anything on it
    whole: bytes = b""  # the page, where a part of it cannot be seen
    signed: bytes = b""  # what stands on the line to sign on: nobody but the maker reads it
