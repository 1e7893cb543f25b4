"""Parts of a document besides its pages, added in one pass over what was drawn: metadata, attachment, fields."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from io import BytesIO
from typing import TYPE_CHECKING

from pipeline.core.printable import make_printable
from pipeline.outputs.pdf.form_fields import PdfField, add_fields

if TYPE_CHECKING:
    from pikepdf import Pdf

_BEYOND = re.compile(rb"<([0-9A-F]{5,6})>")


@dataclass(frozen=True, slots=True, kw_only=True)
class Attachment:
    """A file that goes along: its name in ASCII, what it is for, its MIME type and its bytes part after part."""

    name: str
    description: str
    kind: str
    parts: Iterable[bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class DocumentInfo:
    """The document's own metadata. Equal input gives equal bytes: no clock is read, no date is written."""

    title: str
    author: str
    creator: str = "plaques"
    subject: str = ""
    language: str = "en"
    namespace: tuple[str, str] = ("", "")  # address and prefix of our own metadata
    metadata: Mapping[str, str] = field(default_factory=dict)  # values in that namespace
    attachment: Attachment | None = None


def finish_document(drawn: bytes, about: DocumentInfo, fields: Sequence[PdfField] = ()) -> bytes:
    """The finished document. drawn: its pages, as the drawing library saved them."""
    from pikepdf import Name, ObjectStreamMode, Pdf

    with Pdf.open(BytesIO(drawn)) as pdf:
        for dated in ("/CreationDate", "/ModDate", "/Keywords", "/Trapped"):
            if dated in pdf.docinfo:
                del pdf.docinfo[dated]
        for key, value in (("/Subject", about.subject), ("/Author", about.author)):
            if not value and key in pdf.docinfo:
                del pdf.docinfo[key]
        _describe(pdf, about)
        if about.attachment is not None:
            _attach(pdf, about.attachment)
        if fields:
            add_fields(pdf, fields)
        for page in pdf.pages:
            if "/Annots" in page.obj:
                page.obj.Tabs = Name.R  # tab order by row, as fields are read
        _mend_tables(pdf)
        if "/ID" in pdf.trailer:  # it would be equal for all documents drawn without a clock
            del pdf.trailer["/ID"]
        out = BytesIO()
        pdf.save(
            out,
            min_version="1.7",
            deterministic_id=True,
            compress_streams=True,
            object_stream_mode=ObjectStreamMode.generate,
            fix_metadata_version=False,
        )
    return out.getvalue()


def _describe(pdf: Pdf, about: DocumentInfo) -> None:
    """The metadata packet (ISO 16684-1), without any date."""
    with pdf.open_metadata(set_pikepdf_as_editor=False, update_docinfo=False) as meta:
        meta["dc:title"] = make_printable(about.title)
        meta["dc:language"] = {about.language}
        meta["pdf:Producer"] = str(pdf.docinfo.get("/Producer", ""))
        meta["xmp:CreatorTool"] = about.creator
        address, prefix = about.namespace
        if address:
            meta.register_xml_namespace(address, prefix)
            for key, value in about.metadata.items():
                meta[f"{{{address}}}{key}"] = make_printable(value)


def _attach(pdf: Pdf, file: Attachment) -> None:
    from pikepdf import AttachedFileSpec

    pdf.attachments[file.name] = AttachedFileSpec(
        pdf, b"".join(file.parts), filename=file.name, description=file.description, mime_type=file.kind
    )


def _mend_tables(pdf: Pdf) -> None:
    """Spells characters beyond the first plane in the fonts' tables of text as ISO 32000-1, 9.10.3, wants them, in
    UTF-16: the drawing library writes their code points."""
    for font in pdf.pages[0].resources.get("/Font", {}).values() if len(pdf.pages) else ():
        if "/ToUnicode" in font:
            table = font.ToUnicode.read_bytes()
            if _BEYOND.search(table):
                font.ToUnicode.write(_BEYOND.sub(_encode_utf16, table))


def _encode_utf16(found: re.Match[bytes]) -> bytes:
    return b"<" + chr(int(found[1], 16)).encode("utf-16-be").hex().upper().encode() + b">"
