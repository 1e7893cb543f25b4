"""What a document says about itself besides its pages, and its end: language, title, metadata, attachment, form."""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Iterable
from dataclasses import dataclass

from pipeline.core.printable import printable
from pipeline.outputs.paper.document import Document, string


@dataclass(frozen=True, slots=True, kw_only=True)
class Attachment:
    """A file that goes along: its name in ASCII, what it is for, its MIME type and its bytes part after part."""

    name: str
    description: str
    kind: str
    parts: Iterable[bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class About:
    """What the document says about itself. Equal input gives equal bytes: no clock is read, no date is written."""

    title: str
    author: str
    producer: str = "plaques"
    subject: str = ""
    language: str = "en"
    xmp: bytes = b""
    attachment: Attachment | None = None


def finish(document: Document, about: About, *, pages: int, outline: int, form: int) -> list[bytes]:
    """The parts of the finished file. pages, outline, form: the numbers of their objects, 0 where there is none."""
    root = f"/Type/Catalog/Pages {pages} 0 R/Lang{string(about.language)}/PageMode/UseNone"
    root += "/ViewerPreferences<</DisplayDocTitle true/PrintScaling/None>>"
    root += f"/Outlines {outline} 0 R" if outline else ""
    root += f"/AcroForm {form} 0 R" if form else ""
    if about.xmp:  # as it is, for programs that look for it without reading the document
        root += f"/Metadata {document.stream(about.xmp, '/Type/Metadata/Subtype/XML', plain=True)} 0 R"
    if about.attachment:
        name, file = string(about.attachment.name), _attach(document, about.attachment)
        root += f"/Names<</EmbeddedFiles<</Names[{name} {file} 0 R]>>>>"
    said = {"Title": about.title, "Author": about.author, "Subject": about.subject, "Producer": about.producer}
    info = document.add("<<" + "".join(f"/{key}{string(printable(text))}" for key, text in said.items() if text) + ">>")
    document.close(document.add(f"<<{root}>>"), info)
    return document.parts


def _attach(document: Document, file: Attachment) -> int:
    size, check, packer = 0, hashlib.md5(usedforsecurity=False), zlib.compressobj()
    packed: list[bytes] = []
    for part in file.parts:
        size += len(part)
        check.update(part)
        packed.append(packer.compress(part))
    packed.append(packer.flush())
    kind = file.kind.replace("/", "#2F")
    entries = f"/Type/EmbeddedFile/Subtype/{kind}/Params<</Size {size}/CheckSum<{check.hexdigest()}>>>"
    data = document.stream(b"".join(packed), entries + "/Filter/FlateDecode", plain=True)
    name = string(file.name)
    return document.add(
        f"<</Type/Filespec/F{name}/UF{name}/Desc{string(file.description)}/AFRelationship/Unspecified"
        f"/EF<</F {data} 0 R/UF {data} 0 R>>>>"
    )
