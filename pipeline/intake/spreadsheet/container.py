"""What kind of file a list really is, whatever its name says, and whether a packed one may be opened at all."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path
from typing import Literal

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.order import ListLimits
from pipeline.intake.spreadsheet.list_limits import limit_fault

Container = Literal["xlsx", "xlsb", "ods", "ole", "pdf", "other-zip", "markup", "plain"]

_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
_OLD_WORKBOOK = tuple(name.encode("utf-16-le") for name in ("Workbook", "Book"))


def detect_container(path: Path, data: bytes, limits: ListLimits | None = None) -> Container:
    """Which container the bytes are. CannotRun for one that is locked, damaged, or unpacks to too much."""
    if data.startswith(_OLE):
        if _ENCRYPTED in data:
            raise locked_fault(path)
        if not any(name in data for name in _OLD_WORKBOOK):
            raise CannotRun(
                Fault(
                    where=str(path),
                    found="an office document, but no workbook",
                    expected="a spreadsheet",
                    remedy="save the list as .xlsx",
                )
            )
        return "ole"
    if data.startswith(b"%PDF"):
        return "pdf"
    if data[:2] == b"PK":
        return _zip(path, data, limits or ListLimits())
    if re.match(rb"(?:\xef\xbb\xbf)?\s*<(?:\?xml|!doctype|html|table|workbook)", data[:200], re.I):
        return "markup"
    return "plain"


def _zip(path: Path, data: bytes, limits: ListLimits) -> Container:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            parts = packed.infolist()
            _measure(path, parts, limits)
            names = {part.filename for part in parts}
            if "mimetype" in names and b"opendocument" in packed.read("mimetype")[:200]:
                manifest = packed.read("META-INF/manifest.xml") if "META-INF/manifest.xml" in names else b""
                if b"encryption-data" in manifest:
                    raise locked_fault(path)
                kind: Container = "ods"
            elif any(name.lower().endswith("workbook.bin") for name in names):
                kind = "xlsb"
            elif any(name.lower().endswith("workbook.xml") for name in names):
                kind = "xlsx"
            else:
                return "other-zip"
            _no_entities(path, packed, parts)
            return kind
    except CannotRun:
        raise
    except (zipfile.BadZipFile, EOFError, ValueError, NotImplementedError, RuntimeError, OSError, KeyError) as error:
        raise damaged_fault(path, error) from None
    except Exception as error:  # zlib.error and whatever else a mutilated archive makes the reader raise
        raise damaged_fault(path, error) from None


def locked_fault(path: Path) -> CannotRun:
    """The error for a file that asks for a password."""
    return CannotRun(
        Fault(
            where=str(path),
            found="the file is protected with a password",
            expected="a list that opens without one",
            remedy="ask the client for a copy saved without a password",
        )
    )


def damaged_fault(path: Path, error: object) -> CannotRun:
    """The error for a file whose inside cannot be read."""
    said = " ".join(str(error).split())[:120]
    return CannotRun(
        Fault(
            where=str(path),
            found="the file is damaged" + (f" ({said})" if said else ""),
            expected="a workbook that a spreadsheet program opens without complaint",
            remedy="ask the client to send it again, or open it, save it as .xlsx and use the new file",
        )
    )


def _measure(path: Path, parts: list[zipfile.ZipInfo], limits: ListLimits) -> None:
    """Refuse what unpacks to too much, before anything is unpacked.

    The sizes are the archive's own words; the reader stops at them, so a lie only makes a part short.
    """
    whole = sum(part.file_size for part in parts)
    if len(parts) > limits.parts:
        raise limit_fault(path, "parts", f"the file has {len(parts)} parts inside", limits)
    if whole > limits.unpacked_mb * 2**20:
        raise limit_fault(path, "unpacked_mb", f"the file unpacks to {whole / 2**20:.1f} MB", limits)
    for part in parts:  # a small part may be packed as tight as it likes
        if part.file_size > 2**20 and part.file_size > limits.times * max(part.compress_size, 1):
            times = part.file_size // max(part.compress_size, 1)
            found = f"its part {part.filename[:60]} unpacks to {times} times its size"
            raise limit_fault(path, "times", found, limits)


_DECLARES = re.compile(rb"<!(?:DOCTYPE|ENTITY)", re.I)


def _no_entities(path: Path, packed: zipfile.ZipFile, parts: list[zipfile.ZipInfo]) -> None:
    """Office files never declare entities: one that does is made to blow up or to read other files."""
    for part in parts:
        if not part.filename.lower().endswith((".xml", ".rels")):
            continue
        with packed.open(part) as stream:
            head = stream.read(4096)
        if _DECLARES.search(head.replace(b"\0", b"")):
            raise CannotRun(
                Fault(
                    where=str(path),
                    found=f"its part {part.filename[:60]} declares a document type or entities",
                    expected="a workbook as spreadsheet programs write it, which never does",
                    remedy="do not open it elsewhere either; ask the client for a fresh copy",
                )
            )
