"""A small grammar of messages: a message is understood completely or not at all.

    message   = { sentence | change }            each in one language of `message_phrases`
    change    = NUMBER (":" | "=" | "→" | reads) wording             on a line of its own
    sentence  = part { "," part }
    part      = agree [ but numbers ] | rest | numbers (good | wrong | leave) | leave_first numbers
              | proof LETTER | greeting [ name ] | courtesy
    numbers   = NUMBER [ "-" NUMBER ] { ("," | and) NUMBER [ "-" NUMBER ] }

Greeting, courtesy, closing with a known name, the line of a telephone, quoted mail that stands below all else and is
marked as quoted, and a plain signature below "-- ", without a sentence in it, say nothing. One word more, a question
mark, a number that is on no plaque or said twice, and all of it is unclear.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

from rapidfuzz.distance import Levenshtein

from pipeline.core.printable import make_printable
from pipeline.signoff.messages.message_phrases import DOUBTFUL, PHRASES, Phrases

Said = Literal["agreed", "refused", "change", "excepted"]
MOST_LETTERS = 4_000
"""Most characters that the sender wrote; answers are shorter, and a longer one is for a person to read."""
MOST_LINES = 3_000
"""Most characters, quotations included."""
MOST_SPAN = 500
"""Most numbers in one span."""
MOST_SENTENCE = 400
"""Most characters; most of a long one are numbers."""
MOST_COMMAS = 8
MOST_WORDS_MORE = 2
"""Number of words by which a wording may exceed the lettering that it replaces."""
_PREFIX = re.compile(r"(?:\b(?:no|nr|num|núm)\.\s*|\bnr\s+|\bn[°º]\s*|#\s*|№\s*)(?=\d)")
_CHANGE = re.compile(
    r"\s*(?:(?:no|nr)\.?\s*|#|n[°º]\s*)?(\d{1,5})\s*(?::(?!\d)|=|→|->|=>|\s[–—-]\s)\s*(\S.*)", re.IGNORECASE
)
_SPAN = re.compile(r"\D{0,5}\d+\s+[–—-]\s+\d")
"""Numbers from one to another, as in “7 - 12 ok”; not a wording after a number."""
_QUOTES = ("“”", "„“", "„”", "«»", '""', "‘’", "‹›")
_SMILE = re.compile(r"(?<!\S)(?::-?\)|;-?\)|\U0001F642|\U0001F60A|\U0001F600)(?!\S)")


@dataclass(frozen=True, slots=True)
class MessageReading:
    """What a message says. why: of an unclear one, for the maker; all else is then empty."""

    all: bool = False  # everything not named otherwise is approved
    numbers: Mapping[int, Said] = field(default_factory=dict)
    wanted: Mapping[int, str] = field(default_factory=dict)  # requested wording by number
    proof: str = ""  # the revision letter it names
    why: str = ""


class _UnclearMessage(Exception):
    """The message isn't understood; the text says why."""


@dataclass(slots=True)
class _Heard:
    all: bool = False
    rest: bool = False
    excepted: list[int] = field(default_factory=list)
    said: list[tuple[int, Said, str]] = field(default_factory=list)
    proofs: set[str] = field(default_factory=set)


def read_message(text: str, shown: Mapping[int, Sequence[str]], names: Collection[str] = ()) -> MessageReading:
    """Read what a message says about a proof. text: as it came, with "\\n" at the ends of its lines. shown: the
    lettering by plain number, of everything on the proof. names: what the sender may be called."""
    problem = _find_harm(text)
    if problem:
        return MessageReading(why=problem)
    try:
        words = _strip_quoted_mail(text)
    except _UnclearMessage as error:
        return MessageReading(why=str(error))
    own = words.message
    if _is_no_signature(words.below, shown, names):
        return MessageReading(why="something stands below its signature")
    if any(_says_more(line) or _is_numbered(line, shown) for line in words.headed.split("\n")):
        return MessageReading(why="words stand below the head of another mail, and may be quoted or not")
    if len(own) > MOST_LETTERS:
        return MessageReading(why=f"it is longer than {MOST_LETTERS:,} characters")
    if not own.strip():
        return MessageReading(why="it has no words of its own, only what it quotes")
    if "?" in own or "¿" in own or "\uff1f" in own or "\u037e" in own:
        return MessageReading(why="it asks a question")
    readings, reasons = [], []
    for phrases in PHRASES.values():
        try:
            readings.append(_read_in_language(own, phrases, shown, names))
        except _UnclearMessage as error:
            reasons.append((_count_understood(str(error), own), str(error)))
    if not readings:
        return MessageReading(why=max(reasons, key=lambda r: r[0])[1])
    if any(r != readings[0] for r in readings):
        return MessageReading(why="it means different things in different languages")
    return readings[0]


def _count_understood(reason: str, own: str) -> int:
    """Return how much of the message a language understood."""
    found = re.search("“(.*?)”", reason)
    place = own.find(found[1]) if found else -1
    return place if place >= 0 else len(own)


def _find_harm(text: str) -> str:
    text = text.removeprefix("\ufeff")
    if "\ufffd" in text or make_printable(text) != text:
        return "it holds characters that are not seen, or could not be read"
    return ""


# --- what the sender wrote ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _OwnWords:
    """What the sender wrote: the message itself, what stands below the line “-- ”, and what stands unmarked below the
    head of a quoted mail, which should be the other's."""

    message: str
    below: str
    headed: str


def _strip_quoted_mail(text: str) -> _OwnWords:
    """Return the message without the mail it quotes. What is quoted stands at its end, is marked as quoted and has a
    line above that says who wrote it; all else is the sender's own, or not clear."""
    lines = text.removeprefix("\ufeff").split("\n")
    if len(lines) > MOST_LINES:
        raise _UnclearMessage(f"it has more than {MOST_LINES:,} lines")
    kept: list[str] = []
    below: list[str] = []
    headed: list[str] = []
    own = kept
    told = quoted = False  # told: the last line introduces a quotation
    number = 0
    while number < len(lines):
        line = lines[number].rstrip()
        if _is_quoted(line):
            block = [_strip_quote_marks(each) for each in lines[number : number + 8]]
            if not (told or quoted or _count_attribution_lines([each for each in block if each], 0)):
                raise _UnclearMessage("lines of it begin with “>”, and no line above says who wrote them")
            told, quoted, number = False, True, number + 1
            continue
        span = _count_attribution_lines(lines, number)
        if span:
            told, number = True, number + span
            continue
        if line.strip() and told:
            raise _UnclearMessage("words stand below a line that ends in “wrote:”, and are not marked as quoted")
        if line == "--":
            own = below
        elif end := _end_of_header(lines, number):
            headed = [*filter(_says_more, lines[number:end]), *lines[end:]]
            break
        elif line.strip() and quoted and own is kept:
            raise _UnclearMessage("words stand between or below the lines that it quotes")
        else:
            own.append(line)
        number += 1
    return _OwnWords("\n".join(kept), "\n".join(below), "\n".join(headed))


def find_quoted_head(text: str) -> str:
    """Find what says when the mail was written that a message quotes first: the line with “wrote:”, or the line of the
    date in its head. Empty when there is none."""
    lines = text.split("\n")[:MOST_LINES]
    for number in range(len(lines)):
        if span := _count_attribution_lines(lines, number):
            return " ".join(lines[number : number + span])
        if end := _end_of_header(lines, number):
            whens = [when for phrases in PHRASES.values() for when in phrases.list_alternatives("sent")]
            return " ".join(line for line in lines[number:end] if any(_is_mail_header(line, when) for when in whens))
    return ""


def _is_quoted(line: str) -> bool:
    return line.lstrip().startswith(">")


def _strip_quote_marks(line: str) -> str:
    return line.strip().removeprefix(">").strip()


def _says_more(line: str) -> bool:
    """Return whether a line is about the proof, or a postscript."""
    said = _fold(line)
    return bool(re.match(r"\W*p\.?\s*s\b", said) or _MORE.search(said) or _CHANGE.fullmatch(line))


_MORE = re.compile(
    "|".join(
        rf"(?<!\w){re.escape(phrase.replace('ß', 'ss'))}(?!\w)"
        for each in PHRASES.values()
        for kind in ("wrong", "leave", "leave_first", "reads", "but", "rest")
        for phrase in each.list_alternatives(kind)
    )
)


def _is_no_signature(below: str, shown: Mapping[int, Sequence[str]], names: Collection[str]) -> bool:
    """Return whether what stands below “-- ” may say something: a wording, a doubt, the number or lettering of a
    plaque."""
    lettering = set(_split_words(" ".join(text for texts in shown.values() for text in texts))) - set(
        _split_words(" ".join(names))
    )
    for line in below.split("\n"):
        words = set(_split_words(line))
        doubt = {w for w in words & DOUBTFUL if len(w) > 2}
        met = {w for w in words & lettering if len(w) > 2 and not w.isdecimal()}
        if re.match(r"\s*[^\W\d_]", line) and line.lstrip()[0].islower() and not _CONTACT.search(line):
            return True
        if doubt or met or "?" in line or _says_more(line) or _is_numbered(line, shown) or _is_prose(line):
            return True
    return False


def _is_prose(line: str) -> bool:
    """Return whether a line reads like a sentence rather than a name, an office or an address: four words or more of
    which at least half begin small, or fewer that end like a sentence. What a firm puts below its mails may be one
    too."""
    words = [word for word in re.findall(r"[^\W\d_]{3,}", line) if not _CONTACT.search(line)]
    small = sum(word[0].islower() for word in words)
    ended = re.search(r"[^\W\d_]{4,}[.!…]\W*$", line) is not None and len(words) >= 3 and small > 0
    return (len(words) >= 4 and 2 * small >= len(words)) or ended


_CONTACT = re.compile(r"@|://|www\.|^\s*(?:tel|mob|fax|phone|web|e-?mail)\b", re.IGNORECASE)


def _is_numbered(line: str, shown: Mapping[int, Sequence[str]]) -> bool:
    """Return whether a line begins with a plaque's number, names one as “No. 7”, or has no others in it."""
    numbers = [int(found) for found in re.findall(r"\d+", line[:200])]
    begins = re.match(r"\W*\d", line) is not None
    return bool(numbers) and (
        (begins and numbers[0] in shown) or _PREFIX.search(_fold(line)) is not None or all(n in shown for n in numbers)
    )


_ADDRESS = re.compile(r"[\[(<]*(?:mailto:)?[^\s<>()\[\]@:;,]{1,64}@[^\s<>()\[\]@:;,]{1,255}[\])>]*")
_ATTRIBUTION = re.compile("(?:O|D)[DG]+(?:(?:N[NG]{0,4})?A?G*W|W(?:N[NG]{0,4})?A?)")
"""The kinds of its words, see `_name_kind`: opening, date, then who and “wrote”, either first."""


def _count_attribution_lines(lines: Sequence[str], number: int) -> int:
    """Count the lines, up to three, that hold nothing but a date, a sender and “wrote:”."""
    first = lines[number].strip() if number < len(lines) else ""
    if (
        not first
        or not re.search(r"\d", first)
        or _classify_word(first.casefold().split()[0], first=True) not in ("O", "D")
    ):
        return 0
    for span in (1, 2, 3):
        part = lines[number : number + span]
        if len(part) < span or not all(p.strip() for p in part) or any(map(_is_quoted, part)):
            return 0
        if _says_who_wrote(" ".join(p.strip() for p in part)):
            return span
    return 0


def _says_who_wrote(told: str) -> bool:
    if not told.endswith(":") or len(told) > 300 or re.search(r"(?<!\S)\d\d?\s+\d\d?\s", told):
        return False
    bare, addresses = _ADDRESS.subn(" @ ", told.rstrip(": ").casefold().replace("(a)", "").replace("\xa0", " "))
    words = [word for word in re.split(r"[\s,]+", bare) if word]
    year = re.search(r"\b(?:19|20)\d\d\b", told) and any(w.strip(".,") in _list_calendar_names() for w in words)
    dated = year or re.search(r"\b\d\d?[./-]\d\d?[./-](?:\d\d){1,2}\b|\b\d{4}-\d\d-\d\d\b", told)
    kinds = "".join(_classify_word(word, first=not n) for n, word in enumerate(words))
    found = _ATTRIBUTION.fullmatch(kinds)
    timed = addresses or re.search(r"\b\d\d?[:.h]\d\d\b(?![./-]\d)", told)
    return bool(found and dated and timed and ("N" in kinds or "A" in kinds))


_GLUE = frozenset(
    "a à alle am ar at cest cet de del dnia dniu el est edt giorno gmt godz h ha hat il la las le m o om on op ore p"
    " pdt pm pst the uhr um utc w".split()
)
"""Words beside day and time."""


def _classify_word(word: str, first: bool = False) -> str:
    """Classify a word of the line above quoted mail: O opens it, D date or time, A address, W “wrote”, G says nothing,
    N a name; else “-”."""
    if word == "@":
        return "A"
    word = word.strip(".,;:()\"'“”„")
    if re.fullmatch(r"[\d./:h+-]*\d[\d./:h+-]*", word) or word in _list_calendar_names():
        return "D"
    if first and any(word in p.list_alternatives("opens") for p in PHRASES.values()):
        return "O"
    if any(word in (p.wrote, f"{p.wrote}a") for p in PHRASES.values()):
        return "W"
    if word in _GLUE:
        return "G"
    return "N" if re.fullmatch(r"[^\W\d_]+(?:['’.-][^\W\d_]+)*", word) and word not in DOUBTFUL else "-"


@lru_cache(maxsize=1)
def _list_calendar_names() -> frozenset[str]:
    """List the names of months and days in every language (Unicode CLDR)."""
    from babel.dates import get_day_names, get_month_names  # only few messages quote

    found: set[str] = set()
    for language in PHRASES:
        for width in ("wide", "abbreviated"):
            for context in ("format", "stand-alone"):
                found |= set(get_month_names(width, context, language).values())
                found |= set(get_day_names(width, context, language).values())
    return frozenset(name.casefold().strip(".") for name in found)


def _end_of_header(lines: Sequence[str], number: int) -> int:
    """The first line below the head of a mail that begins here: who sent it, and when or to whom; no head: 0."""
    line = lines[number].strip().casefold()
    dashed = re.fullmatch(r"-{3,}\s*(.*?)\s*-{3,}", line)
    if re.fullmatch(r"_{10,}", line) or (
        dashed and any(dashed[1] == q for p in PHRASES.values() for q in p.list_alternatives("quoted"))
    ):
        number += 1
        number += number < len(lines) and not lines[number].strip()
    if number >= len(lines):
        return 0
    for phrases in PHRASES.values():
        first, *others = phrases.header.split("|")
        if not _is_mail_header(lines[number], first):
            continue
        end = number + 1
        while end < min(len(lines), number + 6) and any(_is_mail_header(lines[end], other) for other in others):
            end += 1
        timed = any(
            _is_mail_header(each, when) for each in lines[number:end] for when in phrases.list_alternatives("sent")
        )
        if end - number >= 3 and timed and any(re.search(r"\S@\S|\b20\d\d\b", each) for each in lines[number:end]):
            return end
    return 0


def _is_mail_header(line: str, word: str) -> bool:
    return re.match(rf"\*?{re.escape(word)}\s?:", line.strip().casefold()) is not None


# --- its sentences --------------------------------------------------------------------------------------------------


def _read_in_language(
    own: str, phrases: Phrases, shown: Mapping[int, Sequence[str]], names: Collection[str]
) -> MessageReading:
    heard = _Heard()
    doubtful = DOUBTFUL - {"of"}  # Dutch for “or”, but part of many names: “Friends of the Reef”
    words = frozenset(w for name in names for w in re.findall(r"[^\W\d_]+", name.casefold())) - doubtful
    closed = first = False
    for paragraph in re.split(r"\n\s*\n", own):
        lines = [line.strip() for line in paragraph.split("\n") if line.strip()]
        for number, whole in enumerate(lines):
            line = whole
            if _is_device_line(line, phrases):
                continue
            if closed and _is_name(line, words):
                continue
            if not first and _is_greeting(line, phrases, words):
                first = True
                continue
            if not first:
                line = _strip_greeting(line, phrases, words)
                lines[number] = line
            first = True
            if _is_closing(line, phrases, words):
                closed = True
                continue
            trial = _Heard()
            try:
                _read_line(line, phrases, shown, trial)
            except _UnclearMessage:
                if _is_name(line, words):  # many people sign without a closing
                    closed = True
                    continue
                if any(_CHANGE.fullmatch(each) for each in lines[number:]):
                    raise
                trial = _Heard()
                rest = [each for each in lines[number:] if not _is_device_line(each, phrases)]
                _join_broken_lines(rest, phrases, trial, words, line)
                _add(heard, trial)
                break
            _add(heard, trial)
    return _settle_reading(heard, shown)


def _join_broken_lines(rest: Sequence[str], phrases: Phrases, heard: _Heard, words: frozenset[str], line: str) -> None:
    """Join lines that a mail program broke, without the closing of the paragraph."""
    kept = list(rest)
    while len(kept) > 1 and (_is_name(kept[-1], words) or _is_closing(kept[-1], phrases, words)):
        kept.pop()
    try:
        _read_sentences(" ".join(kept), phrases, heard)
    except _UnclearMessage:
        raise _UnclearMessage(f"“{line[:80]}” is not one of the phrases that are understood") from None


def _add(heard: _Heard, more: _Heard) -> None:
    heard.all |= more.all
    heard.rest |= more.rest
    heard.excepted += more.excepted
    heard.said += more.said
    heard.proofs |= more.proofs


def _read_line(line: str, phrases: Phrases, shown: Mapping[int, Sequence[str]], heard: _Heard) -> None:
    found = (None if _SPAN.match(line) else _CHANGE.fullmatch(line)) or _match_reading(line, phrases)
    if found is None:
        before = _match_exception_with_wording(line, phrases)
        if before is None:
            _read_sentences(line, phrases, heard)
            return
        heard.all = True
        heard.excepted.append(int(before[0]))
        number, text = int(before[0]), before[1]
    else:
        number, text = int(found[1]), found[2].strip()
    plain = _fold_punctuation(text)
    verdicts = _build_alternatives((*phrases.list_alternatives("good"), *phrases.list_alternatives("wrong")))
    if re.fullmatch(
        rf"{_build_number_pattern(phrases)}:?\s+(?:{verdicts})",
        plain,
    ):
        raise _UnclearMessage(f"it is not sure which numbers “{line[:80]}” is about")
    for name, said in (("good", "agreed"), ("leave", "refused"), ("wrong", "excepted")):
        if plain in phrases.list_alternatives(name):
            heard.said.append((number, said, ""))  # type: ignore[arg-type]
            return
    if _is_numbers_alone(text, phrases, shown, number):
        raise _UnclearMessage(f"it is not sure whether “{line[:80]}” is about one number or several")
    heard.said.append((number, "change", _read_wording(text, shown.get(number, ()), number)))


def _is_numbers_alone(text: str, phrases: Phrases, shown: Mapping[int, Sequence[str]], number: int) -> bool:
    """Return whether what should be a wording, as in “7: 8 and 12”, names nothing but plaques; where the lettering has
    figures, it is a wording."""
    words = [word for word in _split_words(text) if word not in phrases.list_alternatives("and_")]
    plain = not any(c.isdecimal() for line in shown.get(number, ()) for c in line)
    return bool(words) and plain and all(word.isdecimal() and int(word) in shown for word in words)


def _match_reading(line: str, phrases: Phrases) -> re.Match[str] | None:
    return re.fullmatch(
        rf"\s*#?(\d{{1,5}})\s+(?:{_build_alternatives(phrases.list_alternatives('reads'))}):?\s+(\S.*)",
        line,
        re.IGNORECASE,
    )


def _match_exception_with_wording(line: str, phrases: Phrases) -> tuple[str, str] | None:
    """Match “all correct except 7: Kerekhegyi”; return the number and the wording."""
    found = re.fullmatch(
        rf"(?:{_build_alternatives(phrases.list_alternatives('agree'))}),?\s+(?:{_build_alternatives(phrases.list_alternatives('but'))})\s+(.*)",
        line,
        re.IGNORECASE,
    )
    item = _CHANGE.fullmatch(found[1]) if found and not _SPAN.match(found[1]) else None
    return (item[1], item[2].strip()) if item else None


def _read_wording(text: str, shown: Sequence[str], number: int) -> str:
    """Return the wanted wording, if the text can be nothing else."""
    for pair in _QUOTES:
        inner = text.rstrip(".")[1:-1]
        opening, closing = pair[0], pair[1]
        if text[0] == opening and text.rstrip(".").endswith(closing) and inner and not set(inner) & {opening, closing}:
            return inner.strip()
    before = set(_split_words(" ".join(shown)))
    now = _split_words(text)
    strange = [w for w in now if w in DOUBTFUL and w not in before]
    runs_on = re.search(r"[;!]|[^\W\d_]{4,}\.\s|[:=]|\d\s*[:=]", text) or text.count(",") > " ".join(shown).count(",")
    if strange or runs_on or len(now) > len(_split_words(" ".join(shown))) + MOST_WORDS_MORE or not now:
        raise _UnclearMessage(f"it is not sure where the wording of No. {number} ends: “{text[:80]}”")
    return text


def _split_words(text: str) -> list[str]:
    return re.findall(r"[^\W_]+(?:['’][^\W_]+)?", text.casefold().replace("’", "'"))


def _read_sentences(text: str, phrases: Phrases, heard: _Heard) -> None:
    plain = _PREFIX.sub("", _fold(text))
    for sentence in re.split(r"[.!;]+(?=\s|$)", plain):
        said = sentence.strip(" ,-–—")
        if said and (len(said) > MOST_SENTENCE or not _read_parts(said, phrases, heard)):
            raise _UnclearMessage(f"“{sentence.strip()[:80]}” is not one of the phrases that are understood")


def _read_parts(said: str, phrases: Phrases, heard: _Heard) -> bool:
    """Return whether a sentence is one part, or several with commas between; add what it says to `heard`."""
    if _read_part(said, phrases, heard):
        return True
    commas = [found.start() for found in re.finditer(",|\\s[–—-]\\s", said)]
    if len(commas) > MOST_COMMAS:
        return False
    for place in commas:
        left, right = said[:place].strip(" ,-–—"), said[place:].strip(" ,-–—")
        trial = _Heard()
        if left and right and _read_part(left, phrases, trial) and _read_parts(right, phrases, trial):
            _add(heard, trial)
            return True
    bare = _strip_courtesies(said, phrases)
    return bare != said and bool(bare) and _read_part(bare, phrases, heard)


def _strip_courtesies(said: str, phrases: Phrases) -> str:
    """Return “all correct” from “thanks all correct thanks”."""
    for phrase in phrases.list_alternatives("courtesy"):
        said = said.removeprefix(f"{phrase} ").strip(" ,")
    for phrase in phrases.list_alternatives("courtesy"):
        said = said.removesuffix(f" {phrase}").strip(" ,")
    return said


def _read_part(said: str, phrases: Phrases, heard: _Heard) -> bool:
    if said in phrases.list_alternatives("agree"):
        heard.all = True
        return True
    if said in phrases.list_alternatives("rest"):
        heard.rest = True
        return True
    if _is_courtesy(said, phrases):
        return True
    numbers = rf"({_build_number_pattern(phrases)})"
    agree, but = (
        _build_alternatives(phrases.list_alternatives("agree")),
        _build_alternatives(phrases.list_alternatives("but")),
    )
    if found := re.fullmatch(rf"(?:{agree}),?\s+(?:{but})\s+{numbers}", said):
        heard.all = True
        heard.excepted += _list_numbers(found[1])
        return True
    for name, what in (("good", "agreed"), ("leave", "refused"), ("wrong", "excepted")):
        if found := re.fullmatch(rf"{numbers}:?\s+(?:{_build_alternatives(phrases.list_alternatives(name))})", said):
            heard.said += [(n, what, "") for n in _list_numbers(found[1])]  # type: ignore[misc]
            return True
    if found := re.fullmatch(
        rf"(?:{_build_alternatives(phrases.list_alternatives('leave_first'))}):?\s+{numbers}", said
    ):
        heard.said += [(n, "refused", "") for n in _list_numbers(found[1])]
        return True
    if found := re.fullmatch(
        rf"(?:{_build_alternatives(phrases.list_alternatives('proof'))})\s+([a-z]{{1,2}}|\d{{1,3}}):?", said
    ):
        heard.proofs.add(found[1].upper())
        return True
    if found := re.fullmatch(
        rf"(?:{_build_alternatives(phrases.list_alternatives('proof'))})\s+([a-z]{{1,2}}|\d{{1,3}})(?:\s?:|\s+is)?\s+(.*)",
        said,
    ):
        trial = _Heard()
        if found[2] in phrases.list_alternatives("agree") or found[2] in ("approved", "agreed", "all correct"):
            trial.all = True
            trial.proofs.add(found[1].upper())
            _add(heard, trial)
            return True
    return False


def _build_number_pattern(phrases: Phrases) -> str:
    one = r"\d{1,5}(?:\s?[-–]\s?\d{1,5})?"
    also = _build_alternatives(phrases.list_alternatives("and_"))
    return rf"{one}(?:(?:\s*,\s*(?:(?:{also})\s+)?|\s+(?:{also})\s+){one})*"


def _list_numbers(numbers: str) -> Iterator[int]:
    for low, high in re.findall(r"(\d+)(?:\s?[-–]\s?(\d+))?", numbers):
        last = int(high or low)
        if not int(low) <= last <= int(low) + MOST_SPAN:
            raise _UnclearMessage(f"{low}-{high} is not a range of numbers")
        yield from range(int(low), last + 1)


# --- what says nothing ----------------------------------------------------------------------------------------------


def _is_courtesy(said: str, phrases: Phrases) -> bool:
    """Return whether the words are a courtesy, allowing a typing error or two in a long one."""
    known = (
        *phrases.list_alternatives("courtesy"),
        *phrases.list_alternatives("greeting"),
        *PHRASES["en"].list_alternatives("courtesy"),
    )
    return said in known or _is_mistyped(said, known)


def _is_mistyped(said: str, known: Collection[str]) -> bool:
    if len(said) < 5 or any(c.isdecimal() for c in said) or set(_split_words(said)) & DOUBTFUL:
        return False
    most = 1 if len(said) < 10 else 2
    return any(len(k) > 4 and Levenshtein.distance(said, k, score_cutoff=most) <= most for k in known)


def _is_closing(line: str, phrases: Phrases, names: frozenset[str]) -> bool:
    """Return whether the words are a closing, alone or followed by the sender's name."""
    said = _fold_punctuation(line)
    known = (*phrases.list_alternatives("closing"), *PHRASES["en"].list_alternatives("closing"))
    named = (said[len(k) :].strip(" ,") for k in known if said.startswith((f"{k} ", f"{k},")))
    return said in known or _is_mistyped(said, known) or any(_is_name(each, names) for each in named)


def _is_greeting(line: str, phrases: Phrases, names: frozenset[str]) -> bool:
    """A greeting, with a name of up to three words that mean nothing else; of more than one, each with a capital."""
    said = _fold(line).rstrip(" ,.!:-–—")
    for phrase in (*phrases.list_alternatives("greeting"), "hi", "hello"):
        if said == phrase:
            return True
        if said.startswith(f"{phrase} "):
            called = said[len(phrase) + 1 :]
            mine = re.findall(r"[^\W\d_]+", called)
            plain = len(mine) <= 3 and re.fullmatch(r"[^\W\d_]+\.?(?:[ '-][^\W\d_]+)*", called)
            written = re.findall(r"[^\W\d_]+", line)[-len(mine) :]
            capital = len(mine) == 1 or all(word[0].isupper() for word in written)
            if plain and (set(mine) <= names or (capital and not set(mine) & DOUBTFUL)):
                return True
    return False


def _strip_greeting(line: str, phrases: Phrases, names: frozenset[str]) -> str:
    """Return what follows a greeting: “Hi Anna, all correct”."""
    for found in re.finditer(r"[,!.–-]\s+", line):
        if _is_greeting(line[: found.start()], phrases, names):
            return line[found.end() :]
    return line


def _is_name(line: str, names: frozenset[str]) -> bool:
    mine = re.findall(r"[^\W\d_]+", line.casefold())
    whole = re.fullmatch(r"[-–—\s]*[^\W\d_]+\.?(?:[ '’-][^\W\d_]+\.?){0,4}\s*,?", line)
    return bool(mine) and whole is not None and set(mine) <= names


def _is_device_line(line: str, phrases: Phrases) -> bool:
    said = _fold(line).rstrip(".")
    return any(
        re.fullmatch(rf"{re.escape(begin)}(?: [^\W\d_]+){{1,3}}", said) and not set(said[len(begin) :].split()) & _NEVER
        for each in (phrases, PHRASES["en"])
        for begin in each.list_alternatives("device")
    )


_NEVER = frozenset(word for each in PHRASES.values() for word in each.list_alternatives("doubt"))


def _build_alternatives(phrases: Sequence[str]) -> str:
    return "|".join(re.escape(p) for p in phrases)


def _fold(text: str) -> str:
    text = unicodedata.normalize("NFC", text).casefold().replace("’", "'").replace("‘", "'").replace("\xa0", " ")
    text = _SMILE.sub(" ", text.replace("ß", "ss"))
    return " ".join(text.split())


def _fold_punctuation(text: str) -> str:
    return _fold(text).strip(" ,.!:-–—")


# --- what it comes to -----------------------------------------------------------------------------------------------


def _settle_reading(heard: _Heard, shown: Mapping[int, Sequence[str]]) -> MessageReading:
    if len(heard.proofs) > 1:
        raise _UnclearMessage(f"it names proofs {' and '.join(sorted(heard.proofs))}")
    if any(proof.isdecimal() and int(proof) in shown for proof in heard.proofs):
        raise _UnclearMessage(f"{min(heard.proofs)} is the number of a plaque too")
    numbers: dict[int, Said] = {}
    wanted: dict[int, str] = {}
    for number, said, text in heard.said:
        if number in numbers and (numbers[number], wanted.get(number, "")) != (said, text):
            raise _UnclearMessage(f"it says two things about No. {number}")
        numbers[number] = said
        if text:
            wanted[number] = text
    for number in heard.excepted:
        if numbers.setdefault(number, "excepted") == "agreed":
            raise _UnclearMessage(f"it says two things about No. {number}")
    strange = sorted(n for n in numbers if n not in shown)
    if strange:
        raise _UnclearMessage(f"there is no No. {strange[0]} on the proof")
    otherwise = {n for n, said in numbers.items() if said != "agreed"}
    if heard.all and not heard.rest and otherwise - set(heard.excepted):
        number = min(otherwise - set(heard.excepted))
        raise _UnclearMessage(f"it says that all is correct, and something else about No. {number}")
    if heard.rest and not otherwise:
        raise _UnclearMessage("it says that the rest is correct, but names nothing that isn't")
    if not heard.all and not heard.rest and not numbers:
        raise _UnclearMessage("it says nothing about the proof")
    proof = next(iter(heard.proofs), "")
    return MessageReading(all=heard.all or heard.rest, numbers=numbers, wanted=wanted, proof=proof)
