"""E-mails as mail programs save them, and malformed ones."""

from __future__ import annotations

import base64
import random
from email.message import EmailMessage
from io import BytesIO

import pytest
from PIL import Image

from pipeline.core.errors import CannotRun
from pipeline.signoff.messages.mail_file import is_mail, read_mail
from pipeline.signoff.messages.message_grammar import read_message


def mail(text: str | None = "all correct\n", html: str = "", **more: str) -> EmailMessage:
    out = EmailMessage()
    out["From"] = more.get("sender", "Anna Dunlin <anna.dunlin@example.org>")
    out["Date"] = more.get("date", "Mon, 30 Nov 2099 09:00:00 +0000")  # after any proof was made
    out["Subject"] = more.get("subject", "Re: Proof A")
    if text is not None:
        out.set_content(text, charset=more.get("charset", "utf-8"))
    if html and text is not None:
        out.add_alternative(html, subtype="html")
    elif html:
        out.set_content(html, subtype="html")
    return out


def test_sender_date_subject_and_text_are_read():
    read = read_mail(mail("Größe: 7\n").as_bytes())
    assert read.text == "Größe: 7\n" and read.name == "Anna Dunlin" and read.subject == "Re: Proof A"
    assert read.sender == "Anna Dunlin <anna.dunlin@example.org>" and read.date.startswith("Mon, 30 Nov 2099")
    assert not read.doubt and not read.attached


@pytest.mark.parametrize("charset", ["iso-8859-2", "utf-8", "windows-1250"])
def test_encodings(charset):
    """Written by the standard library."""
    assert read_mail(mail("7: Łódź\n", charset=charset).as_bytes()).text == "7: Łódź\n"


def test_html_alone_is_stripped_and_its_quotations_are_quoted():
    html = "<style>p{}</style><p>all&nbsp;correct</p><blockquote type=cite>wrong<br>still wrong</blockquote><p>Anna</p>"
    assert not read_mail(mail(None, html).as_bytes()).doubt
    lines = [line.strip() for line in read_mail(mail(None, html).as_bytes()).text.split("\n") if line.strip(" >")]
    assert lines == ["all correct", "> wrong", "> still wrong", "Anna"]


@pytest.mark.parametrize(
    "html",
    [
        "<p>all correct <s>7</s></p>",
        "<style>p{text-decoration:line-through}</style><p>all correct</p>",
        '<p>all <i style="display: none">not</i> correct</p>',
        "<del>not</del> all ok",
    ],
)
def test_what_is_struck_out_or_hidden_leaves_doubt(html):
    assert read_mail(mail(None, html).as_bytes()).doubt
    assert read_mail(mail("all correct", html).as_bytes()).doubt


def test_an_indented_part_leaves_doubt_unless_it_is_marked_as_quoted():
    indented = "<p>All correct.</p><blockquote style='margin:0 0 0 40px'>No. 3 is wrong</blockquote>"
    assert "indented" in read_mail(mail(None, indented).as_bytes()).doubt
    assert "indented" in read_mail(mail("All correct.", indented).as_bytes()).doubt
    assert not read_mail(mail(None, indented.replace("style", "class='mail_quote' style")).as_bytes()).doubt


def test_a_rich_form_that_says_more_than_the_plain_one_leaves_doubt():
    assert not read_mail(mail("All *correct*.\n", "<p>All <b>correct</b>.</p>").as_bytes()).doubt
    assert "two forms" in read_mail(mail("All correct.", "<p>All correct.</p><p>No. 3 wants a y</p>").as_bytes()).doubt
    assert "two forms" in read_mail(mail("All correct.", "<p>Not all correct.</p>").as_bytes()).doubt


ATTRIBUTION = "On Thu, 12 Nov 2026 at 10:12, Jo Sand &lt;<a href='mailto:jo@example.org'>jo@example.org</a>&gt; wrote:"
BELOW = (
    f"<div class='mail_quote'><div>{ATTRIBUTION}<br></div><blockquote class='mail_quote' style='border-left:1px'>"
    "<div>Which are wrong?</div><blockquote type='cite'>3: Vex?</blockquote></blockquote></div>",
    f"<br><blockquote type='cite'><div>{ATTRIBUTION}</div><br><div>Is 3 right?</div></blockquote>",
    "<hr><div><b>From:</b> Jo Sand &lt;jo@example.org&gt;<br><b>Sent:</b> 12 November 2026 10:12<br><b>To:</b> Anna<br>"
    "<b>Subject:</b> Plates</div><p>Here is the proof, No reply needed before Friday.</p>",
)


@pytest.mark.parametrize("below", BELOW)
def test_the_ways_of_mail_programs_to_quote_in_html_are_read(below):
    """From memory of how they write it."""
    read = read_mail(mail(None, f"<html><body><div>All correct</div><div><br></div>{below}</body></html>").as_bytes())
    assert not read.doubt and read_message(read.text, {3: ("Vex",)}).all
    twice = read_mail(mail(None, f"<div>All correct</div>{below}<p>3 is wrong</p>").as_bytes())
    assert twice.doubt or not read_message(twice.text, {3: ("Vex",)}).all


def test_attachments_are_named():
    given = mail()
    given.add_attachment(b"%PDF-1.7", maintype="application", subtype="pdf", filename="proof filled.pdf")
    given.add_attachment(mail("7 wrong"), filename="earlier.eml")
    assert read_mail(given.as_bytes()).attached == ("proof filled.pdf", "earlier.eml")


def test_a_mail_is_distinguished_from_plain_text():
    assert is_mail(mail().as_bytes()) and not is_mail(b"7: Kerekhegyi\nall else is correct\n") and not is_mail(b"")
    assert read_mail("7: Łódź\r\n".encode("utf-16")).text == "7: Łódź\n"


@pytest.mark.parametrize("data", ["7: \xd3".encode("latin-1"), b"a" * 300_000, b"all correct\0\n"])
def test_an_unreadable_mail_is_refused_with_the_reason(data):
    with pytest.raises(ValueError, match=r"UTF-8|longer"):
        read_mail(data)


def test_too_many_parts_and_an_unknown_encoding_are_refused():
    many = mail()
    for _ in range(120):
        many.add_attachment("x", filename="x.txt")
    with pytest.raises(ValueError, match="parts"):
        read_mail(many.as_bytes())
    with pytest.raises(ValueError, match="encoding"):
        read_mail(mail().as_bytes().replace(b'charset="utf-8"', b'charset="no-such"'))


def test_two_senders_and_a_broken_structure_leave_doubt():
    assert read_mail(b"From: Bo <b@example.org>\n" + mail().as_bytes()).doubt
    framed = mail(html="<p>all correct</p>").as_bytes()
    assert read_mail(framed[: framed.rindex(b"--")]).doubt


def test_damaged_mails_are_read_or_refused():
    rng = random.Random(5)
    framed = mail(html="<p>all correct</p>").as_bytes()
    for _ in range(60):
        damaged = bytearray(framed)
        for _ in range(rng.randint(1, 8)):
            damaged[rng.randrange(len(damaged))] = rng.randrange(256)
        try:
            read_mail(bytes(damaged))
        except (ValueError, CannotRun) as error:
            assert str(error)


def picture(wide: int = 120, high: int = 40) -> bytes:
    out = BytesIO()
    Image.new("RGB", (wide, high), "white").save(out, "PNG")
    return out.getvalue()


def with_picture(html: str, data: bytes, kind: str = "png") -> EmailMessage:
    """Return a mail with a picture within the text, as mail programs send it: multipart/related inside
    multipart/alternative."""
    out = mail("All correct\nAnna the proof\n", html)
    rich = out.get_payload()[1]
    rich.add_related(data, maintype="image", subtype=kind, cid="<one@here>")
    return out


@pytest.mark.parametrize(
    "html",
    [
        '<p>All correct</p><img src="cid:one@here">',
        '<p>All correct</p><IMG SRC="CID:one@here" width="1" height="1">',
        '<p>All correct</p><div class="x_signature">Anna</div><img src="cid:one@here">',
        '<p>All correct</p><img src="https://example.org/proof-marked.png">',
        '<p>All correct</p><div style="background-image: url(cid:one@here)"></div>',
        '<p>All correct</p><table background="cid:one@here"><tr><td></td></tr></table>',
        f'<p>All correct</p><img src="data:image/png;base64,{base64.b64encode(picture()).decode()}">',
        '<p>All correct</p><embed src="cid:one@here">',
        '<div class="no-signature-needed"><p>All correct</p><img src="cid:one@here"></div>',
        '<p class="signature">Hi<p>All correct<img src="cid:one@here">',
        "<p>All correct</p>",  # it came with the mail, and some programs show it anyway
    ],
)
def test_a_picture_in_the_text_leaves_doubt(html):
    """A screenshot with the wrong name ringed says more than the “all correct” above it."""
    read = read_mail(with_picture(html, picture()).as_bytes())
    assert read.doubt or read.attached
    assert "All correct" in read.text


@pytest.mark.parametrize(
    "html",
    [
        '<p>All correct</p><div class="x_signature">Anna<br><img src="cid:one@here"></div>',
        '<p>All correct</p><p>-- <br>Anna<br><img src="cid:one@here"></p>',
        '<p>All correct</p><div id="Signature"><div>Anna</div><div><img src="cid:one@here"></div></div>',
        '<p>All correct</p><blockquote type="cite">the proof <img src="cid:one@here"></blockquote>',
    ],
)
def test_a_logo_in_a_signature_and_a_quoted_picture_leave_none(html):
    read = read_mail(with_picture(html, picture()).as_bytes())
    assert not read.doubt and not read.attached
    if "blockquote" not in html:
        assert read_mail(with_picture(html, picture(900, 400)).as_bytes()).doubt  # no logo is that large
        assert read_mail(with_picture(html, b"no picture").as_bytes()).doubt


def test_a_picture_beside_plain_text_is_named():
    for disposition in ("inline", "attachment"):
        given = mail()
        given.add_attachment(picture(), maintype="image", subtype="png", cid="<one>", disposition=disposition)
        assert read_mail(given.as_bytes()).attached == ("image/png",)
    dot = '<p>All correct</p><img src="https://example.org/seen" width="1" height="1">'
    assert not read_mail(mail("All correct\n", dot).as_bytes()).doubt
