"""Reading a message's file, not its meaning: an e-mail as mail programs save it, or plain text.

Runs in a separate process (`core.storage.door`), since any mail may come in.
"""

from __future__ import annotations

import base64
import email
import email.errors
import email.policy
import re
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from email.message import EmailMessage, MIMEPart
from email.utils import parseaddr
from html.parser import HTMLParser
from io import BytesIO

from PIL import Image

MOST_PARTS = 100
MOST_LETTERS = 200_000
"""Most characters of a body; most of a long one is quoted mail."""
LOGO, LOGO_BYTES = (300, 120), 40_000
"""A picture in a signature that is no wider and no higher, in pixels, and no longer is a logo (common practice, no
source)."""
_HEADER = re.compile(rb"(?:From |(?:[!-9;-~]{1,60}:[ \t][^\r\n]*\r?\n(?:[ \t][^\r\n]*\r?\n)*)+)")
_MAIL_FIELDS = re.compile(rb"^(?:from|received|return-path|delivered-to|message-id|mime-version):[ \t]", re.I | re.M)
_SEALS = ("application/pgp-signature", "application/pkcs7-signature", "application/x-pkcs7-signature", "text/vcard")


@dataclass(frozen=True, slots=True, kw_only=True)
class MailText:
    """A message before it is interpreted."""

    text: str  # with "\n" line endings
    sender: str = ""  # as in the mail's header; empty for plain text
    name: str = ""  # the sender's name, or else the address
    date: str = ""
    subject: str = ""
    attached: tuple[str, ...] = ()  # names of attachments
    doubt: str = ""  # why its text may not be what the sender wrote


def is_mail(start: bytes) -> bool:
    """Return whether the file begins with the header of an e-mail (RFC 5322)."""
    head = re.split(rb"\r?\n\r?\n", start, maxsplit=1)[0] + b"\n"
    return bool(_HEADER.match(start)) and _MAIL_FIELDS.search(head) is not None


def read_mail(data: bytes) -> MailText:
    """Read the message in a file. ValueError with the reason when it can't be read."""
    if is_mail(data[:100_000]):
        return _read_email(data)
    return MailText(text=_unify_line_ends(_decode_text(data)))


def _decode_text(data: bytes) -> str:
    encoding = "utf-16" if data.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8-sig"
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as error:
        raise ValueError("it is not text in UTF-8; save it again in UTF-8, or save the e-mail itself") from error


def _unify_line_ends(text: str) -> str:
    if len(text) > MOST_LETTERS:
        raise ValueError(f"its text is longer than {MOST_LETTERS:,} characters")
    if "\0" in text:
        raise ValueError("it holds NUL characters, so it is no text or is damaged; save it again in UTF-8")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _read_email(data: bytes) -> MailText:
    policy = email.policy.default
    mail = email.message_from_bytes(data, policy=policy)
    if not isinstance(mail, EmailMessage):  # for type checkers: the policy always creates one
        raise ValueError("it is no e-mail")
    if sum(1 for _, _ in zip(mail.walk(), range(MOST_PARTS + 1), strict=False)) > MOST_PARTS:
        raise ValueError(f"it has more than {MOST_PARTS} parts")
    senders = mail.get_all("From", [])
    sender = _read_field(senders[0]) if senders else ""
    name, address = parseaddr(sender)
    doubt = "" if len(senders) == 1 else f"it names {len(senders) or 'no'} senders"
    body = mail.get_body(("plain", "html"))
    rich = mail.get_body(("html",))
    struck = _Stripped(_list_pictures(mail))
    if isinstance(rich, EmailMessage):
        struck.feed(_read_content(rich))
        struck.close()
        doubt = doubt or struck.doubt
    text = ""
    if isinstance(body, EmailMessage):
        text = struck.text if body.get_content_type() == "text/html" else _read_content(body)
        if Counter(_split_words(struck.text)) - Counter(_split_words(text)):
            doubt = doubt or "its two forms do not say the same"
    if body is None:
        doubt = doubt or "it has no text that can be read"
    if any(isinstance(d, _BROKEN) for part in mail.walk() for d in part.defects):
        doubt = doubt or "parts of it are damaged"
    return MailText(
        text=_unify_line_ends(text),
        sender=sender,
        name=name or address or sender,
        date=_read_field(mail.get("Date", "")),
        subject=_read_field(mail.get("Subject", "")),
        attached=tuple(_list_attached(mail, body, struck.placed)),
        doubt=doubt,
    )


_BROKEN = (
    email.errors.InvalidBase64CharactersDefect,
    email.errors.InvalidBase64LengthDefect,
    email.errors.InvalidBase64PaddingDefect,
    email.errors.StartBoundaryNotFoundDefect,
    email.errors.CloseBoundaryNotFoundDefect,
    email.errors.MultipartInvariantViolationDefect,
)


def _split_words(text: str) -> list[str]:
    return re.findall(r"[^\W_]+", text.casefold())


def _read_field(value: object) -> str:
    return " ".join(str(value).split())


def _read_content(part: EmailMessage) -> str:
    try:
        content = part.get_content()
    except (LookupError, KeyError, UnicodeError) as error:
        raise ValueError(f"its text is in an encoding that is not known ({error})") from error
    if not isinstance(content, str):
        raise ValueError("its text is not text")
    if len(content) > MOST_LETTERS:
        raise ValueError(f"its text is longer than {MOST_LETTERS:,} characters")
    return content


def _walk_own_parts(mail: MIMEPart) -> Iterator[MIMEPart]:
    """Yield its parts, without those inside an attached mail."""
    yield mail
    if mail.is_multipart() and mail.get_content_type() != "message/rfc822":
        for part in mail.iter_parts():
            yield from _walk_own_parts(part)


def _list_pictures(mail: EmailMessage) -> dict[str, bytes]:
    """The pictures that came with it, by the name under which its text may show them (RFC 2392)."""
    out = {}
    for part in _walk_own_parts(mail):
        if part.get_content_maintype() == "image" and (name := _read_field(part.get("Content-ID", "")).strip("<>")):
            content = part.get_payload(decode=True)
            out[name] = content if isinstance(content, bytes) else b""
    return out


def _is_tiny(data: bytes) -> bool:
    """Return whether a picture is no larger than a logo; False for one that can't be read."""
    try:
        with Image.open(BytesIO(data)) as picture:  # only reads the header
            wide, high = picture.size
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return False
    return wide <= LOGO[0] and high <= LOGO[1] and len(data) <= LOGO_BYTES


def _list_attached(mail: EmailMessage, body: object, placed: Collection[str]) -> list[str]:
    """List the attachments, without signatures of mail programs, other forms of the body and pictures shown inside it.
    placed: the names of those pictures."""
    out = []
    for part in _walk_own_parts(mail):
        kind = part.get_content_type()
        if part is body or (part.is_multipart() and kind != "message/rfc822") or kind in _SEALS:
            continue
        inside = kind.startswith("image/") and _read_field(part.get("Content-ID", "")).strip("<>") in placed
        other = kind in ("text/plain", "text/html") and part.get_content_disposition() != "attachment"
        if inside or (other and not part.get_filename()):
            if other and kind == "text/plain" and body is not None:
                out.append("a second text")
            continue
        out.append(_read_field(part.get_filename() or kind))
    return out


_SIGNATURE = re.compile(r"(?!no)(?:[\w-]*[_-])?(?:[a-z]*mail)?signature")
"""How programs for mail name the element of a signature."""


class _Stripped(HTMLParser):
    """Extracts the words of an HTML body, with quotations as quoted lines."""

    _BREAKS = frozenset(("br", "p", "div", "li", "tr", "h1", "h2", "h3", "h4", "table", "ul", "ol", "hr", "pre"))
    _CLOSED = frozenset(("div", "table", "section", "span"))  # elements whose end tag is mandatory
    _UNSEEN = frozenset(("style", "script", "head", "title", "template"))
    _STRUCK = frozenset(
        (
            "s",
            "strike",
            "del",
            "ins",
            "form",
            "input",
            "textarea",
            "select",
            "svg",
            "iframe",
            "object",
            "embed",
            "canvas",
            "video",
            "audio",
        )
    )

    def __init__(self, pictures: Mapping[str, bytes]) -> None:
        """pictures: those that came with the mail, by name."""
        super().__init__(convert_charrefs=True)
        self.doubt = ""
        self.placed: set[str] = set()  # those of the pictures that the text shows
        self._pictures = pictures
        self._sealed: tuple[str, int] = ("", 0)  # element that holds a signature, nesting depth inside it
        self._told: list[str] = []
        self._quoted = 0
        self._hidden = 0

    @property
    def text(self) -> str:
        lines = "".join(self._told).split("\n")
        return "\n".join(" ".join(line.split()) for line in lines).strip("\n")

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        style = "".join(value or "" for name, value in attrs if name == "style").replace(" ", "").casefold()
        unseen = re.search(r"line-through|display:none|visibility:hidden|font-size:0|opacity:0|mso-hide", style)
        if tag in self._STRUCK or unseen or any(name == "hidden" for name, _ in attrs):
            self.doubt = self.doubt or "part of it is struck out, hidden or no text"
        self._hidden += tag in self._UNSEEN
        if tag == "blockquote":
            self._quoted += 1
            told = {name: (value or "").casefold() for name, value in attrs}
            if told.get("type") != "cite" and "quote" not in told.get("class", ""):
                self.doubt = self.doubt or "part of it is indented, and may be quoted or not"
        if tag in self._BREAKS or tag == "blockquote":
            self._start_line()
        self._see_pictures(tag, {name: value or "" for name, value in attrs})

    def _see_pictures(self, tag: str, told: Mapping[str, str]) -> None:
        """Doubt of what a picture may say: but for what is quoted, a logo in a signature, and a dot nobody sees."""
        inside, depth = self._sealed
        named = f"{told.get('class', '')} {told.get('id', '')}".casefold().split()
        if depth and tag == inside:
            self._sealed = (tag, depth + 1)
        elif not depth and tag in self._CLOSED and any(_SIGNATURE.fullmatch(name) for name in named):
            self._sealed = (tag, 1)
        style = told.get("style", "").replace(" ", "").casefold()
        if "url(" in style or told.get("background"):
            self._note_doubtful_picture()
        if tag != "img":
            return
        source = told.get("src", "").strip()
        name = source[4:] if source[:4].casefold() == "cid:" else ""
        if name in self._pictures:
            self.placed.add(name)
        dot = all(told.get(side, "").removesuffix("px").strip() in ("0", "1") for side in ("width", "height"))
        logo = (self._sealed[1] > 0 or self._is_below_signature()) and _is_tiny(self._find_picture(source, name))
        if not (logo or (dot and not name and not source.casefold().startswith("data:"))):
            self._note_doubtful_picture()

    def _find_picture(self, source: str, name: str) -> bytes:
        """The picture that a source names, of those in the mail itself (RFC 2397); of one elsewhere nothing."""
        head, _, coded = source.partition(",")
        if re.fullmatch(r"data:image/[\w.+-]+;base64", head.strip(), re.IGNORECASE):
            try:
                return base64.b64decode(coded, validate=False)
            except ValueError:
                return b""
        return self._pictures.get(name, b"")

    def _is_below_signature(self) -> bool:
        return any(line.strip() == "--" for line in self.text.split("\n"))

    def _note_doubtful_picture(self) -> None:
        if not self._quoted:
            self.doubt = self.doubt or "there is a picture in it, which may say something"

    def handle_endtag(self, tag: str) -> None:
        if tag in self._UNSEEN:
            self._hidden = max(0, self._hidden - 1)
        if tag == "blockquote":
            self._quoted = max(0, self._quoted - 1)
        if tag == self._sealed[0]:
            self._sealed = (tag, max(0, self._sealed[1] - 1))
        if tag in self._BREAKS or tag == "blockquote":
            self._start_line()

    def handle_data(self, data: str) -> None:
        if not self._hidden:
            self._told.append(re.sub(r"[ \t\r\n\f]+", " ", data))
        elif "line-through" in data.casefold():
            self.doubt = self.doubt or "part of it is struck out, hidden or no text"

    def _start_line(self) -> None:
        self._told.append("\n> " if self._quoted else "\n")
