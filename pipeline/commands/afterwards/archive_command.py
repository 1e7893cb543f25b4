"""`plaques archive`: put a whole order into one file; and `plaques check` of such a file."""

from __future__ import annotations

import hashlib
import json
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from pipeline import VERSION
from pipeline.commands.afterwards.archive_contents import CONTENTS, FONTS, MOST_MB, ORDER, SCHEMA, collect_contents
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.fingerprint import is_fingerprint
from pipeline.core.printable import write_json_text
from pipeline.core.storage.door import Bounds, read_apart
from pipeline.core.storage.files import require_plain_file, write_whole
from pipeline.core.storage.safe_archive import pack_files, unpack_files
from pipeline.lettering.shelf import Shelf
from pipeline.outputs.summary import strip_markup, wrap_text
from pipeline.signoff.order_snapshot import Look, OrderSnapshot, Say
from pipeline.signoff.records.ledger import Ledger, read_verified_entries

SUFFIX = ".plaques.zip"
MOST = 5
"""Most designs of one kind that are named before "+N more"."""
WHAT = "an archive as `plaques archive` writes it"


def archive_order(
    order: str | Path, *, to: Path | None = None, out: Path | None = None, as_json: bool = False, say: Say, look: Look
) -> int:
    """Write an order with everything that belongs to it into one file. to: the file; default: beside the order folder,
    named after it. Equal input gives equal bytes. Returns 0. CannotRun when the order cannot be read, its ledger does
    not hold, or the file cannot be written."""
    looked = look(order, out)
    read_verified_entries(Ledger.open(looked.folder.folder))
    held = collect_contents(looked)
    own = looked.folder.folder.resolve()
    target = to or own.with_name(f"{own.name}-{looked.folder.order_id}{SUFFIX}")
    data = pack_files(held.files)
    write_whole(target, data)
    sha256 = hashlib.sha256(data).hexdigest()
    if as_json:
        plain = {"archive": str(target), "sha256": sha256, "files": sorted(held.files), "left_out": held.left_out}
        say(write_json_text(plain, indent=1))
        return 0
    lines = [f"{target}: {len(held.files)} files, {len(data) / 1e6:.1f} MB, sha256 {sha256}"]
    lines += [wrap_text(f"Not in it: {told}", rest="  ") for told in held.left_out]
    lines.append("Later, `plaques check` with this file tells you whether the tool would still cut the same.")
    say("\n".join(lines))
    return 0


class _ListedDesign(BaseModel):
    """An entry of `designs` in archive.json: the fields that the check needs."""

    model_config = ConfigDict(strict=True)

    fingerprint: str
    text: Annotated[tuple[str, ...], Field(strict=False)]
    files: dict[str, str]


class _Contents(BaseModel):
    """The fields of archive.json that the check needs."""

    model_config = ConfigDict(strict=True)

    tool: str = ""
    title: str
    order_file: str
    designs: Annotated[tuple[_ListedDesign, ...], Field(strict=False)]
    left_out: Annotated[tuple[str, ...], Field(strict=False)] = ()
    files: dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class ArchivedDesign:
    """A design in an archive: its cut files by name, with their sha256."""

    fingerprint: str
    text: tuple[str, ...]
    files: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ArchiveCheck:
    """The comparison of an archive with what this version makes of it. same: designs with equal files; other_files: the
    same pieces, in files that differ; gone: designs that it no longer makes."""

    tool: str
    same: tuple[ArchivedDesign, ...]
    other_files: tuple[ArchivedDesign, ...]
    gone: tuple[ArchivedDesign, ...]
    faces: tuple[str, ...]  # typefaces of the shelf whose version has changed since
    left_out: tuple[str, ...]


def check_archive(path: Path, *, as_json: bool = False, say: Say, look: Look) -> int:
    """Report whether this version would cut what the archive holds. Returns 0 when every piece would be the same, else
    1. CannotRun when it isn't one of our archives, was changed, or its order can't be read."""
    require_plain_file(path, WHAT)
    with tempfile.TemporaryDirectory() as aside:
        unpacked = dict(_unpack(path, Path(aside)))
        told = _read_contents(path, Path(aside), unpacked)
        try:
            looked = look(Path(aside) / ORDER / told.order_file, None)
        except CannotRun as problem:
            raise CannotRun([_locate_in_archive(path, Path(aside), fault) for fault in problem.faults]) from problem
        found = _compare(told, looked, unpacked)
    if as_json:
        say(write_json_text(_build_document(found), indent=1))
    else:
        say(_describe_check(path, told, found))
    return 1 if found.gone else 0


def _unpack(path: Path, target: Path) -> tuple[tuple[str, str], ...]:
    bounds = Bounds(seconds=60)
    return read_apart(unpack_files, path, target, float(MOST_MB), where=path, bounds=bounds)


def _read_contents(path: Path, folder: Path, unpacked: Mapping[str, str]) -> _Contents:
    """Return the archive's own table of contents, once every file matches its hash there."""

    def refuse(found: str) -> CannotRun:
        remedy = "take another copy of the archive; nothing from this one was used"
        return CannotRun(Fault(where=str(path), found=found, expected=WHAT, remedy=remedy))

    if CONTENTS not in unpacked:
        raise refuse(f"there is no {CONTENTS} in it")
    try:
        raw = json.loads((folder / CONTENTS).read_bytes())
        if not isinstance(raw, dict) or "schema" not in raw:
            raise refuse(f"its {CONTENTS} cannot be read: it is not an archive's list of contents")
        if raw["schema"] != SCHEMA:
            raise refuse(f"it is of another version ({raw['schema']!s:.20})")
        told = _Contents.model_validate(raw)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(step) for step in first["loc"])[:60]
        raise refuse(
            f"its {CONTENTS} cannot be read: {strip_markup(place)}: {strip_markup(first['msg'])[:80]}"
        ) from error
    except (ValueError, RecursionError, OSError) as error:
        raise refuse(f"its {CONTENTS} cannot be read") from error
    named = told.files
    if f"{ORDER}/{told.order_file}" not in named:
        raise refuse(f"its {CONTENTS} names an order file that is not in it")
    if wrong := [d for d in told.designs if not is_fingerprint(d.fingerprint)]:
        raise refuse(f"“{strip_markup(wrong[0].fingerprint)[:20]}” in its {CONTENTS} is not a fingerprint")
    changed = sorted(name for name, sha256 in named.items() if unpacked.get(name) != sha256)
    added = sorted(set(unpacked) - set(named) - {CONTENTS})
    if changed:
        raise refuse(f"{strip_markup(changed[0])} is not the file that was archived, or is missing")
    if added:
        raise refuse(f"{strip_markup(added[0])} was added to it")
    return told


def _locate_in_archive(path: Path, folder: Path, fault: Fault) -> Fault:
    """Return the fault with the archive's name in place of the folder it was unpacked into."""
    where = fault.where.replace(str(folder.resolve()), str(path)).replace(str(folder), str(path))
    return Fault(where=where, found=fault.found, expected=fault.expected, remedy=fault.remedy)


def _compare(told: _Contents, looked: OrderSnapshot, unpacked: Mapping[str, str]) -> ArchiveCheck:
    now = {p.fingerprint: p for p in looked.outcome.plaques if p.fingerprint}
    kinds: dict[str, list[ArchivedDesign]] = {"same": [], "other": [], "gone": []}
    for one in told.designs:
        design = ArchivedDesign(fingerprint=one.fingerprint, text=one.text, files=tuple(one.files.items()))
        plaque = now.get(design.fingerprint)
        if plaque is None:
            kinds["gone"].append(design)
            continue
        made = {name: hashlib.sha256(data).hexdigest() for name, data in looked.made(plaque).items()}
        kinds["same" if made == dict(design.files) else "other"].append(design)
    return ArchiveCheck(
        tool=told.tool,
        same=tuple(kinds["same"]),
        other_files=tuple(kinds["other"]),
        gone=tuple(kinds["gone"]),
        faces=tuple(_list_other_faces(unpacked)),
        left_out=told.left_out,
    )


def _list_other_faces(unpacked: Mapping[str, str]) -> list[str]:
    """List shelf typefaces that the archive has in another version, or that have left the shelf."""
    shelf, out = Shelf(), []
    for name, sha256 in sorted(unpacked.items()):
        parts = name.split("/")
        is_font = len(parts) == 3 and parts[0] == FONTS and not parts[2].lower().endswith(".txt")
        if is_font and (parts[1] not in shelf or shelf[parts[1]].sha256 != sha256):
            out.append(parts[1])
    return out


def _build_document(found: ArchiveCheck) -> dict[str, Any]:
    def pack_designs(designs: Sequence[ArchivedDesign]) -> list[dict[str, Any]]:
        return [{"fingerprint": d.fingerprint, "text": list(d.text)} for d in designs]

    return {
        "archived_with": found.tool,
        "tool": VERSION,
        "same": pack_designs(found.same),
        "other_files": pack_designs(found.other_files),
        "gone": pack_designs(found.gone),
        "faces": list(found.faces),
        "left_out": list(found.left_out),
    }


def _describe_check(path: Path, told: _Contents, found: ArchiveCheck) -> str:
    total = len(found.same) + len(found.other_files) + len(found.gone)
    head = f"{path.name}: “{told.title}”, archived with plaques {found.tool}; this is {VERSION}."
    lines = [wrap_text(head, rest="  ")]
    if not found.gone:
        lines.append(wrap_text(f"The tool of today would cut the same: all {total} designs are unchanged.", rest="  "))
    else:
        lines.append(
            wrap_text(
                f"The tool of today would not cut the same: {len(found.gone)} of {total} designs differ.", rest="  "
            )
        )
    for words, designs in (
        ("The same piece in a file that is not the same byte for byte", found.other_files),
        ("No longer made as it was", found.gone),
    ):
        if designs:
            more = f", +{len(designs) - MOST} more" if len(designs) > MOST else ""
            named = ", ".join(f"{' / '.join(d.text)} ({d.fingerprint})" for d in designs[:MOST])
            lines.append(wrap_text(f"{words}: {named}{more}.", rest="  "))
    for face in found.faces:
        lines.append(
            wrap_text(
                f"The shelf has another version of {face} now: copy the one in {FONTS}/{face} beside order.toml and "
                "name it there to set the order as it was.",
                rest="  ",
            )
        )
    lines += [wrap_text(f"Not in the archive: {text}", rest="  ") for text in found.left_out]
    return "\n".join(lines)
