"""The real type of a list's file, whatever its name, and whether an archive is safe to open."""

from __future__ import annotations

import contextlib
import io
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal
from xml.parsers import expat

from pipeline.core.config.order import ListLimits
from pipeline.core.errors import CannotRun, Fault
from pipeline.intake.spreadsheet.list_limits import build_limit_error

_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
_OLD_WORKBOOK = tuple(name.encode("utf-16-le") for name in ("Workbook", "Book"))
_MARKUP = re.compile(rb"(?:\xef\xbb\xbf)?\s*<(?:\?xml|!doctype|html|table|workbook)", re.I)

Kind = Literal["old office", "packed", "pdf", "markup", "plain"]


@dataclass(frozen=True, slots=True)
class Container:
    """The type of a file by its first bytes, and the parts of an archive."""

    kind: Kind
    parts: frozenset[str] = frozenset()  # names of the archive's members, lower case
    mimetype: bytes = b""  # as stated in the archive

    def has_part(self, ending: str) -> bool:
        """Return whether a part's name ends like this, in lower case."""
        return any(name.endswith(ending) for name in self.parts)


def detect_container(path: Path, data: bytes, limits: ListLimits | None = None) -> Container:
    """Detect the container of the bytes. CannotRun for one that is locked, damaged, or unpacks to too much."""
    if data.startswith(_OLE):
        if _ENCRYPTED in data:
            raise report_locked(path)
        if not any(name in data for name in _OLD_WORKBOOK):
            raise CannotRun(
                Fault(
                    where=str(path),
                    found="an office document, but no workbook",
                    expected="a spreadsheet",
                    remedy="save the list as .xlsx",
                )
            )
        return Container("old office")
    if data.startswith(b"%PDF"):
        return Container("pdf")
    if data[:2] == b"PK":
        return _recognise_zip(path, data, limits or ListLimits())
    return Container("markup" if _MARKUP.match(data[:200]) else "plain")


def _recognise_zip(path: Path, data: bytes, limits: ListLimits) -> Container:
    with _open_zip(path, data) as packed:
        parts = packed.infolist()
        _check_unpacked_size(path, parts, limits)
        names = {part.filename for part in parts}
        mimetype = packed.read("mimetype")[:200] if "mimetype" in names else b""
        if "META-INF/manifest.xml" in names and b"encryption-data" in packed.read("META-INF/manifest.xml"):
            raise report_locked(path)
    return Container("packed", frozenset(name.lower() for name in names), mimetype)


@contextlib.contextmanager
def _open_zip(path: Path, data: bytes) -> Iterator[zipfile.ZipFile]:
    """Open the archive; whatever the reader raises for a damaged one becomes one clear error."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            yield packed
    except CannotRun:
        raise
    except Exception as error:  # BadZipFile, EOFError, zlib.error and others
        raise report_damaged(path, error) from None


def report_locked(path: Path) -> CannotRun:
    """Report a file that asks for a password."""
    return CannotRun(
        Fault(
            where=str(path),
            found="the file is protected with a password",
            expected="a list that opens without one",
            remedy="ask the client for a copy saved without a password",
        )
    )


def report_damaged(path: Path, error: object) -> CannotRun:
    """Report a file whose content can't be read."""
    said = " ".join(str(error).split())[:120]
    return CannotRun(
        Fault(
            where=str(path),
            found="the file is damaged" + (f" ({said})" if said else ""),
            expected="a workbook that a spreadsheet program opens without complaint",
            remedy="ask the client to send it again, or open it, save it as .xlsx and use the new file",
        )
    )


def _check_unpacked_size(path: Path, parts: list[zipfile.ZipInfo], limits: ListLimits) -> None:
    """Refuse an archive that unpacks to too much, before anything is unpacked.

    The archive itself states the sizes; the reader stops at them, so a false one only truncates a part.
    """
    whole = sum(part.file_size for part in parts)
    if len(parts) > limits.parts:
        raise build_limit_error(path, "parts", f"the file has {len(parts)} parts inside", limits)
    if whole > limits.unpacked_mb * 2**20:
        raise build_limit_error(path, "unpacked_mb", f"the file unpacks to {whole / 2**20:.1f} MB", limits)
    for part in parts:  # small members may have any compression ratio
        if part.file_size > 2**20 and part.file_size > limits.times * max(part.compress_size, 1):
            times = part.file_size // max(part.compress_size, 1)
            found = f"its part {part.filename[:60]} unpacks to {times} times its size"
            raise build_limit_error(path, "times", found, limits)


_DECLARES = re.compile(rb"<!(?:DOCTYPE|ENTITY)", re.I)
_UNKNOWN_ENCODING = expat.errors.codes[expat.errors.XML_ERROR_UNKNOWN_ENCODING]
_CHUNK = 1 << 16


def refuse_entities(path: Path, data: bytes) -> None:
    """Refuse an archive with a part that declares a document type or entities: office files never do, and one that does
    is built to exhaust memory or to read other files."""
    with _open_zip(path, data) as packed:
        for part in packed.infolist():
            if part.filename.lower().endswith((".xml", ".rels")) and _is_declaring_entities(packed, part):
                raise CannotRun(
                    Fault(
                        where=str(path),
                        found=f"its part {part.filename[:60]} declares a document type or entities",
                        expected="a workbook as spreadsheet programs write it, which never does",
                        remedy="do not open it elsewhere either; ask the client for a fresh copy",
                    )
                )


class _PrologEnds(Exception):
    """Raised at the first element, after which nothing can be declared."""


def _is_declaring_entities(packed: zipfile.ZipFile, part: zipfile.ZipInfo) -> bool:
    """Return whether a part has a document type declaration, which can only come before the first element (XML 1.0,
    2.8)."""
    declared = []

    def begin(*_: object) -> None:
        raise _PrologEnds

    def declare(*_: object) -> None:
        declared.append(True)
        raise _PrologEnds

    parser = expat.ParserCreate()
    parser.StartElementHandler, parser.StartDoctypeDeclHandler = begin, declare
    with packed.open(part) as stream:
        try:
            while chunk := stream.read(_CHUNK):
                parser.Parse(chunk)
        except _PrologEnds:
            return bool(declared)
        except expat.ExpatError as error:  # another reader may be more tolerant
            if error.code == _UNKNOWN_ENCODING:  # the text can't be inspected; genuine office files are UTF-8 or UTF-16
                raise
            return bool(_DECLARES.search(packed.read(part).replace(b"\0", b"")))
    return False
