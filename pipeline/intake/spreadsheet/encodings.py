"""Detection of a text file's encoding.

A likely but uncertain result is reported as such. UTF-8 and UTF-16 can be recognised from the bytes. Eight-bit
encodings can't: every byte is a letter in each of them, and the evidence for one is that its letters occur where names
have letters.
"""

from __future__ import annotations

import codecs
import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache

MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig", "UTF-8 with a mark"),
    (codecs.BOM_UTF32_LE, "utf-32", "UTF-32"),
    (codecs.BOM_UTF32_BE, "utf-32", "UTF-32"),
    (codecs.BOM_UTF16_LE, "utf-16", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16", "UTF-16"),
)

EIGHT_BIT = (
    ("cp1252", "Windows-1252"),
    ("mac_roman", "Mac Roman"),
    ("cp1250", "Windows-1250"),
    ("iso8859_15", "ISO 8859-15"),
    ("cp1251", "Windows-1251"),
    ("cp1253", "Windows-1253"),
    ("cp1254", "Windows-1254"),
    ("cp850", "code page 850"),
    ("koi8_r", "KOI8-R"),
)
"""Encodings in the order they are tried; of equals the first wins."""

CLEAR = 2.0
"""Points per foreign letter by which the best encoding must lead the next one that reads differently. Own rule."""


@dataclass(frozen=True, slots=True)
class DecodedText:
    """A file's text, with the encoding it was read in."""

    text: str
    encoding: str  # in words, for the user
    sure: bool
    rivals: tuple[str, ...] = ()  # encodings, in words, that would read it differently and almost as well
    doubtful: frozenset[str] = frozenset()  # letters that these read differently; empty: all non-ASCII ones


class NotTextError(ValueError):
    """The bytes aren't text in any supported encoding; the message says why."""


def decode_text(data: bytes, given: str | None = None) -> DecodedText:
    """Decode the text of a file. NotTextError when it can't be read, or not in the given encoding."""
    if given is not None:
        try:
            codec = codecs.lookup(given)
            return DecodedText(data.decode(codec.name), given, True)
        except LookupError:
            raise NotTextError(f"no encoding is called “{given}”") from None
        except (UnicodeDecodeError, ValueError) as error:
            raise NotTextError(f"it cannot be read as {given}: {_describe_place(data, error)}") from None
    for mark, codec_name, name in MARKS:
        if data.startswith(mark):
            try:
                return DecodedText(data.decode(codec_name), name, True)
            except UnicodeDecodeError as error:
                raise NotTextError(
                    f"it has the mark of {name} but cannot be read so: {_describe_place(data, error)}"
                ) from None
    if wide := _decode_bare_utf16(data):
        return wide
    try:
        text = data.decode("utf-8")
        return DecodedText(text, "ASCII" if text.isascii() else "UTF-8", True)
    except UnicodeDecodeError:
        pass
    if b"\0" in data:
        raise NotTextError("it holds NUL bytes, which no text file does")
    return _decode_eight_bit(data)


def _describe_place(data: bytes, error: Exception) -> str:
    if isinstance(error, UnicodeDecodeError):
        return f"byte {data[error.start]:#04x} in line {data[: error.start].count(10) + 1}"
    return str(error)


def _decode_bare_utf16(data: bytes) -> DecodedText | None:
    """Decode UTF-16 without a byte order mark, recognised by a NUL in every other position."""
    if len(data) < 4 or len(data) % 2:
        return None
    even, odd = data[::2].count(0), data[1::2].count(0)
    half = len(data) // 2
    for codec, nuls, others in (("utf-16-le", odd, even), ("utf-16-be", even, odd)):
        if nuls > 0.4 * half and others < 0.02 * half:
            try:
                return DecodedText(data.decode(codec), "UTF-16", True)
            except UnicodeDecodeError:
                return None
    return None


def _decode_eight_bit(data: bytes) -> DecodedText:
    readings: list[tuple[float, str, str]] = []
    codecs_of = {name: codec for codec, name in EIGHT_BIT}
    for codec, name in EIGHT_BIT:
        try:
            text = data.decode(codec)
        except UnicodeDecodeError:
            continue
        readings.append((rate_decoded(text), name, text))
    if not readings:
        raise NotTextError("its letters outside English are in no encoding that is known here")
    best = max(readings, key=lambda reading: reading[0])
    foreign = max(1, sum(byte > 127 for byte in data))
    rivals = [name for score, name, text in readings if text != best[2] and best[0] - score < CLEAR * foreign]
    other = {
        letter
        for byte in {byte for byte in data if byte > 127}
        for letter in (_decode_letter(byte, codecs_of[best[1]]),)
        if any(_decode_letter(byte, codecs_of[rival]) != letter for rival in rivals)
    }
    return DecodedText(best[2], best[1], not rivals and best[0] >= 0, tuple(rivals), frozenset(other))


def _decode_letter(byte: int, codec: str) -> str:
    return bytes([byte]).decode(codec, "replace")


# --- how likely a reading is -------------------------------------------------------------------------------------

_COMMON = frozenset("äöüßéèêëàâîïôûùçñáíóúìòåæøãõ’‘“”–—ÄÖÜÉÅØÆÁÍÓÚÇÑ")
_SLAVIC = frozenset("ěščřžýůťďňłąęćńśźżőűăâîșțđŠČŘŽŁŚŻ")
_TURKISH = frozenset("ğışİŞĞ")


def rate_decoded(text: str) -> float:
    """Rate a decoding: points for letters where letters belong; deductions for signs inside words and odd capitals."""
    return sum(_rate_word(word) for word in _split_words(text))


def _split_words(text: str) -> list[str]:
    return re.findall(r"[^\s,;\t\"()/&.-]*[^\x00-\x7f][^\s,;\t\"()/&.-]*", text)


@lru_cache(maxsize=65536)
def _rate_word(word: str) -> float:
    points = 0.0
    scripts = set()
    for i, c in enumerate(word):
        if c.isascii():
            if c.isalpha():
                scripts.add("Latin")
            continue
        category = unicodedata.category(c)
        before, after = word[i - 1 : i] if i else "", word[i + 1 : i + 2]
        if category[0] == "L":
            scripts.add(unicodedata.name(c, "?").split(" ")[0].title())
            points += 3.0 if c in _COMMON else 2.0 if c in _SLAVIC or c in _TURKISH else 0.5
            if category == "Lu" and before.isalpha() and before.islower():
                points -= 6.0  # a capital after a lower-case letter
            if category == "Lu" and after.isalpha() and before.isupper() and after.islower():
                points -= 3.0
            if category == "Ll" and before.isupper() and after.isupper():
                points -= 6.0
            if category == "Ll" and not before and c not in "ßøæåéèàáíóúöüäšžčřýđłśżźćğışñçőű":
                points -= 1.0
            if category == "Lo":
                points -= 3.0  # ª º
        elif c in "’‘" and before.isalpha() and after.isalpha():
            points += 3.0
        elif c in "“”‘’–—…«»„":
            points += 1.0 if not (before.isalpha() and after.isalpha()) or c in "–—" else -4.0
        elif c in "\u00a0":
            points += 0.0
        elif category in ("Cc", "Cn", "Co"):
            points -= 10.0
        else:
            points -= 6.0 if before.isalpha() or after.isalpha() else 1.5
    if len(scripts & {"Latin", "Cyrillic", "Greek"}) > 1:
        points -= 8.0 * len([c for c in word if not c.isascii()])
    if scripts in ({"Cyrillic"}, {"Greek"}):
        points += 2.0 * len(word) if len(word) > 2 else 0.0
    return points
