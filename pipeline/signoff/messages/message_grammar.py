"""What a message says, by a small grammar: it is understood whole or not at all.

    message   = { sentence | change }            each in one language of `message_phrases`
    change    = NUMBER (":" | "=" | "→" | reads) wording             on a line of its own
    sentence  = part { "," part }
    part      = agree [ but numbers ] | rest | numbers (good | wrong | leave) | leave_first numbers
              | proof LETTER | greeting [ name ] | courtesy
    numbers   = NUMBER [ "-" NUMBER ] { ("," | and) NUMBER [ "-" NUMBER ] }

Greeting, courtesy, closing with a known name, the line of a telephone, quoted mail and what stands below "-- " say
nothing. One word more, a question mark, a number that is on no plaque or said twice, and all of it is unclear.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from rapidfuzz.distance import Levenshtein

from pipeline.core.printable import printable
from pipeline.signoff.messages.message_phrases import DOUBTFUL, PHRASES, Phrases

Said = Literal["agreed", "refused", "change", "excepted"]
MOST_LETTERS = 4_000
"""Of what the sender wrote; an answer is shorter, and a longer one is for a person to read."""
MOST_LINES = 3_000
"""With all that is quoted."""
MOST_SPAN = 500
"""Numbers in one span."""
MOST_SENTENCE = 400
"""Characters; numbers are most of a long one."""
MOST_COMMAS = 8
MOST_WORDS_MORE = 2
"""Words that a wording may have more than the lettering it is to replace."""
_PREFIX = re.compile(r"(?:\b(?:no|nr|num|núm)\.\s*|\bnr\s+|\bn[°º]\s*|#\s*|№\s*)(?=\d)")
_CHANGE = re.compile(
    r"\s*(?:(?:no|nr)\.?\s*|#|n[°º]\s*)?(\d{1,5})\s*(?::(?!\d)|=|→|->|=>|\s[–—-]\s)\s*(\S.*)", re.IGNORECASE
)
_QUOTES = ("“”", "„“", "„”", "«»", '""', "‘’", "‹›")
_SMILE = re.compile(r"(?<!\S)(?::-?\)|;-?\)|\U0001F642|\U0001F60A|\U0001F600)(?!\S)")


@dataclass(frozen=True, slots=True)
class MessageReading:
    """What a message says. why: of an unclear one, for the maker; all else is then empty."""

    all: bool = False  # everything that is not named otherwise is agreed
    numbers: Mapping[int, Said] = field(default_factory=dict)
    wanted: Mapping[int, str] = field(default_factory=dict)  # wordings, by number
    proof: str = ""  # the letter it names
    why: str = ""


class _UnclearMessage(Exception):
    """Not understood; the reason in words."""


@dataclass(slots=True)
class _Heard:
    all: bool = False
    rest: bool = False
    excepted: list[int] = field(default_factory=list)
    said: list[tuple[int, Said, str]] = field(default_factory=list)
    proofs: set[str] = field(default_factory=set)


def read_message(text: str, shown: Mapping[int, Sequence[str]], names: Collection[str] = ()) -> MessageReading:
    """What a message says of a proof. text: as it came, its ends of line "\\n". shown: the lettering by plain number,
    of everything on the proof. names: what the sender may be called."""
    problem = _harmful(text)
    if problem:
        return MessageReading(why=problem)
    try:
        own = own_words(text)
    except _UnclearMessage as error:
        return MessageReading(why=str(error))
    if len(own) > MOST_LETTERS:
        return MessageReading(why=f"it is longer than {MOST_LETTERS:,} characters")
    if not own.strip():
        return MessageReading(why="it has no words of its own, only what it quotes")
    if "?" in own or "¿" in own or "\uff1f" in own or "\u037e" in own:
        return MessageReading(why="it asks a question")
    readings, reasons = [], []
    for phrases in PHRASES.values():
        try:
            readings.append(_in_language(own, phrases, shown, names))
        except _UnclearMessage as error:
            reasons.append((_reach(str(error), own), str(error)))
    if not readings:
        return MessageReading(why=max(reasons, key=lambda r: r[0])[1])
    if any(r != readings[0] for r in readings):
        return MessageReading(why="it means different things in different languages")
    return readings[0]


def _reach(reason: str, own: str) -> int:
    """How far into the message a language came before it understood no more."""
    found = re.search("“(.*?)”", reason)
    place = own.find(found[1]) if found else -1
    return place if place >= 0 else len(own)


def _harmful(text: str) -> str:
    text = text.removeprefix("\ufeff")
    if "\ufffd" in text or printable(text) != text:
        return "it holds characters that are not seen, or could not be read"
    return ""


# --- what the sender wrote ------------------------------------------------------------------------------------------


def own_words(text: str) -> str:
    """The message less quoted mail and what stands below the line “-- ”."""
    lines = text.removeprefix("\ufeff").split("\n")
    if len(lines) > MOST_LINES:
        raise _UnclearMessage(f"it has more than {MOST_LINES:,} lines")
    kept: list[str] = []
    blocks, number = 0, 0  # blocks: of quoted lines
    quoting = False
    while number < len(lines):
        line = lines[number].rstrip()
        if line.lstrip().startswith((">", "|>")):
            blocks += not quoting
            quoting = True
            number += 1
            continue
        if line in ("--", "—"):
            if any(_says_more(below) for below in lines[number + 1 :]):
                raise _UnclearMessage("something stands below its signature")
            break
        span = _attribution(lines, number)
        if span:
            following = next((each for each in lines[number + span :] if each.strip()), ">")
            if not following.lstrip().startswith(">"):
                break
            number += span
            continue
        if _begins_quoted_mail(lines, number):
            break
        if line.strip():
            if quoting and (blocks > 1 or any(k.strip() for k in kept)):
                kept.append("\x00")  # words between what is quoted
            quoting = False
        kept.append(line)
        number += 1
    if "\x00" in kept:
        raise _UnclearMessage("words stand between the lines that it quotes")
    return "\n".join(kept)


def _says_more(line: str) -> bool:
    """Whether a line below a signature is no signature: a postscript, or words that something is wrong."""
    said = _fold(line)
    wrong = (w for p in PHRASES.values() for w in p.of("wrong"))
    return bool(re.match(r"\W*p\.?\s*s\b", said)) or any(re.search(rf"\b{re.escape(w)}\b", said) for w in wrong)


def _attribution(lines: Sequence[str], number: int) -> int:
    """How many lines say who wrote what is quoted below, with a day or an address; none: 0."""
    for span in (1, 2, 3):
        part = lines[number : number + span]
        if len(part) < span or not all(p.strip() for p in part):
            return 0
        told = " ".join(part).strip()
        dated = re.search(r"\b(?:19|20)\d\d\b|\d\d?[:.]\d\d\b|\S@\S", told)
        if told.endswith(":") and dated and len(told) < 300:
            words = set(re.findall(r"\w+", told.casefold()))
            if any(p.wrote in words or f"{p.wrote}a" in words for p in PHRASES.values()):
                return span
    return 0


def _begins_quoted_mail(lines: Sequence[str], number: int) -> bool:
    line = lines[number].strip().casefold()
    dashed = re.fullmatch(r"-{3,}\s*(.*?)\s*-{3,}", line)
    if dashed and any(dashed[1] == q for p in PHRASES.values() for q in p.of("quoted")):
        return True
    if re.fullmatch(r"_{10,}", line) and number + 1 < len(lines):
        number += 1  # a rule above its header
        line = lines[number].strip().casefold()
    for phrases in PHRASES.values():
        first, *others = phrases.header.split("|")
        if _heads(line, first):
            below = [each.strip().strip("*").casefold() for each in lines[number + 1 : number + 4]]
            return sum(_heads(each, other) for each in below for other in others) >= 2
    return False


def _heads(line: str, word: str) -> bool:
    return re.match(rf"\*?{re.escape(word)}\s?:", line) is not None


# --- its sentences --------------------------------------------------------------------------------------------------


def _in_language(
    own: str, phrases: Phrases, shown: Mapping[int, Sequence[str]], names: Collection[str]
) -> MessageReading:
    heard = _Heard()
    words = frozenset(w for name in names for w in re.findall(r"[^\W\d_]+", name.casefold())) - DOUBTFUL
    closed = first = False
    for paragraph in re.split(r"\n\s*\n", own):
        lines = [line.strip() for line in paragraph.split("\n") if line.strip()]
        for number, line in enumerate(lines):
            if _is_device_line(line, phrases):
                continue
            if closed and _is_name(line, words):
                continue
            if not first and _is_greeting(line, phrases, words):
                first = True
                continue
            first = True
            if _closes(line, phrases, words):
                closed = True
                continue
            trial = _Heard()
            try:
                _line(line, phrases, shown, trial)
            except _UnclearMessage:
                if _is_name(line, words):  # many sign without a closing
                    closed = True
                    continue
                if any(_CHANGE.fullmatch(each) for each in lines[number:]):
                    raise
                trial = _Heard()
                rest = [each for each in lines[number:] if not _is_device_line(each, phrases)]
                _joined(rest, phrases, trial, words, line)
                _add(heard, trial)
                break
            _add(heard, trial)
    return _settled(heard, shown)


def _joined(rest: Sequence[str], phrases: Phrases, heard: _Heard, words: frozenset[str], line: str) -> None:
    """Lines that a mail program broke, as one; what closes the paragraph is left out."""
    kept = list(rest)
    while len(kept) > 1 and (_is_name(kept[-1], words) or _closes(kept[-1], phrases, words)):
        kept.pop()
    try:
        _sentences(" ".join(kept), phrases, heard)
    except _UnclearMessage:
        raise _UnclearMessage(f"“{line[:80]}” is none of the phrases that are read") from None


def _add(heard: _Heard, more: _Heard) -> None:
    heard.all |= more.all
    heard.rest |= more.rest
    heard.excepted += more.excepted
    heard.said += more.said
    heard.proofs |= more.proofs


def _line(line: str, phrases: Phrases, shown: Mapping[int, Sequence[str]], heard: _Heard) -> None:
    found = _CHANGE.fullmatch(line) or _reads(line, phrases)
    if found is None:
        before = _exception_with_wording(line, phrases)
        if before is None:
            _sentences(line, phrases, heard)
            return
        heard.all = True
        heard.excepted.append(int(before[0]))
        number, text = int(before[0]), before[1]
    else:
        number, text = int(found[1]), found[2].strip()
    plain = _plain(text)
    for name, said in (("good", "agreed"), ("leave", "refused"), ("wrong", "excepted")):
        if plain in phrases.of(name):
            heard.said.append((number, said, ""))  # type: ignore[arg-type]
            return
    heard.said.append((number, "change", _wording(text, shown.get(number, ()), number)))


def _reads(line: str, phrases: Phrases) -> re.Match[str] | None:
    return re.fullmatch(rf"\s*#?(\d{{1,5}})\s+(?:{_any(phrases.of('reads'))}):?\s+(\S.*)", line, re.IGNORECASE)


def _exception_with_wording(line: str, phrases: Phrases) -> tuple[str, str] | None:
    """“all correct except 7: Kerekhegyi”: the number and the wording."""
    found = re.fullmatch(
        rf"(?:{_any(phrases.of('agree'))}),?\s+(?:{_any(phrases.of('but'))})\s+(.*)", line, re.IGNORECASE
    )
    item = _CHANGE.fullmatch(found[1]) if found else None
    return (item[1], item[2].strip()) if item else None


def _wording(text: str, shown: Sequence[str], number: int) -> str:
    """The wording wanted, if it can be nothing else."""
    for pair in _QUOTES:
        inner = text.rstrip(".")[1:-1]
        opening, closing = pair[0], pair[1]
        if text[0] == opening and text.rstrip(".").endswith(closing) and inner and not set(inner) & {opening, closing}:
            return inner.strip()
    before = set(_words(" ".join(shown)))
    now = _words(text)
    strange = [w for w in now if w in DOUBTFUL and w not in before]
    runs_on = re.search(r"[;!]|[^\W\d_]{4,}\.\s|[:=]|\d\s*[:=]", text) or text.count(",") > " ".join(shown).count(",")
    if strange or runs_on or len(now) > len(_words(" ".join(shown))) + MOST_WORDS_MORE or not now:
        raise _UnclearMessage(f"it is not sure where the wording of No. {number} ends: “{text[:80]}”")
    return text


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W_]+(?:['’][^\W_]+)?", text.casefold().replace("’", "'"))


def _sentences(text: str, phrases: Phrases, heard: _Heard) -> None:
    plain = _PREFIX.sub("", _fold(text))
    for sentence in re.split(r"[.!;]+(?=\s|$)", plain):
        said = sentence.strip(" ,-–—")
        if said and (len(said) > MOST_SENTENCE or not _parts(said, phrases, heard)):
            raise _UnclearMessage(f"“{sentence.strip()[:80]}” is none of the phrases that are read")


def _parts(said: str, phrases: Phrases, heard: _Heard) -> bool:
    """Whether a sentence is one part, or parts with commas between; adds what it says."""
    if _part(said, phrases, heard):
        return True
    commas = [found.start() for found in re.finditer(",|\\s[–—-]\\s", said)]
    if len(commas) > MOST_COMMAS:
        return False
    for place in commas:
        left, right = said[:place].strip(" ,-–—"), said[place:].strip(" ,-–—")
        trial = _Heard()
        if left and right and _part(left, phrases, trial) and _parts(right, phrases, trial):
            _add(heard, trial)
            return True
    bare = _without_courtesies(said, phrases)
    return bare != said and bool(bare) and _part(bare, phrases, heard)


def _without_courtesies(said: str, phrases: Phrases) -> str:
    """“thanks all correct thanks”: the middle of it."""
    for phrase in (*phrases.of("courtesy"), *phrases.of("greeting")):
        said = said.removeprefix(f"{phrase} ").strip(" ,")
    for phrase in phrases.of("courtesy"):
        said = said.removesuffix(f" {phrase}").strip(" ,")
    return said


def _part(said: str, phrases: Phrases, heard: _Heard) -> bool:
    if said in phrases.of("agree"):
        heard.all = True
        return True
    if said in phrases.of("rest"):
        heard.rest = True
        return True
    if _polite(said, phrases) or _is_greeting(said, phrases, frozenset(), most=2):
        return True
    numbers = rf"({_numbers(phrases)})"
    agree, but = _any(phrases.of("agree")), _any(phrases.of("but"))
    if found := re.fullmatch(rf"(?:{agree}),?\s+(?:{but})\s+{numbers}", said):
        heard.all = True
        heard.excepted += _counted(found[1])
        return True
    for name, what in (("good", "agreed"), ("leave", "refused"), ("wrong", "excepted")):
        if found := re.fullmatch(rf"{numbers}:?\s+(?:{_any(phrases.of(name))})", said):
            heard.said += [(n, what, "") for n in _counted(found[1])]  # type: ignore[misc]
            return True
    if found := re.fullmatch(rf"(?:{_any(phrases.of('leave_first'))}):?\s+{numbers}", said):
        heard.said += [(n, "refused", "") for n in _counted(found[1])]
        return True
    if found := re.fullmatch(rf"(?:{_any(phrases.of('proof'))})\s+([a-z]{{1,2}}|\d{{1,3}}):?", said):
        heard.proofs.add(found[1].upper())
        return True
    if found := re.fullmatch(
        rf"(?:{_any(phrases.of('proof'))})\s+([a-z]{{1,2}}|\d{{1,3}})(?:\s?:|\s+is)?\s+(.*)", said
    ):
        trial = _Heard()
        if found[2] in phrases.of("agree") or found[2] in ("approved", "agreed", "all correct"):
            trial.all = True
            trial.proofs.add(found[1].upper())
            _add(heard, trial)
            return True
    return False


def _numbers(phrases: Phrases) -> str:
    one = r"\d{1,5}(?:\s?[-–]\s?\d{1,5})?"
    return rf"{one}(?:(?:\s*,\s*(?:(?:{_any(phrases.of('and_'))})\s+)?|\s+(?:{_any(phrases.of('and_'))})\s+){one})*"


def _counted(numbers: str) -> Iterator[int]:
    for low, high in re.findall(r"(\d+)(?:\s?[-–]\s?(\d+))?", numbers):
        last = int(high or low)
        if not int(low) <= last <= int(low) + MOST_SPAN:
            raise _UnclearMessage(f"{low}-{high} is no span of numbers")
        yield from range(int(low), last + 1)


# --- what says nothing ----------------------------------------------------------------------------------------------


def _polite(said: str, phrases: Phrases) -> bool:
    """A courtesy, a letter or two of a long one mistyped."""
    known = (*phrases.of("courtesy"), *phrases.of("greeting"), *PHRASES["en"].of("courtesy"))
    return said in known or _mistyped(said, known)


def _mistyped(said: str, known: Collection[str]) -> bool:
    if len(said) < 5 or any(c.isdecimal() for c in said) or set(_words(said)) & DOUBTFUL:
        return False
    most = 1 if len(said) < 10 else 2
    return any(len(k) > 4 and Levenshtein.distance(said, k, score_cutoff=most) <= most for k in known)


def _closes(line: str, phrases: Phrases, names: frozenset[str]) -> bool:
    """A closing, or one with the sender's name behind it."""
    said = _plain(line)
    known = (*phrases.of("closing"), *PHRASES["en"].of("closing"))
    named = (said[len(k) :].strip(" ,") for k in known if said.startswith((f"{k} ", f"{k},")))
    return said in known or _mistyped(said, known) or any(_is_name(each, names) for each in named)


def _is_greeting(line: str, phrases: Phrases, names: frozenset[str], most: int = 3) -> bool:
    """A greeting, with a name of up to so many words that mean nothing else."""
    said = _fold(line).rstrip(" ,.!:-–—")
    for phrase in (*phrases.of("greeting"), "hi", "hello"):
        if said == phrase:
            return True
        if said.startswith(f"{phrase} "):
            called = said[len(phrase) + 1 :]
            mine = re.findall(r"[^\W\d_]+", called)
            plain = len(mine) <= most and re.fullmatch(r"[^\W\d_]+\.?(?:[ '-][^\W\d_]+)*", called)
            if plain and (set(mine) <= names or not set(mine) & DOUBTFUL):
                return True
    return False


def _is_name(line: str, names: frozenset[str]) -> bool:
    mine = re.findall(r"[^\W\d_]+", line.casefold())
    whole = re.fullmatch(r"[-–—\s]*[^\W\d_]+\.?(?:[ '’-][^\W\d_]+\.?){0,4}\s*,?", line)
    return bool(mine) and whole is not None and set(mine) <= names


def _is_device_line(line: str, phrases: Phrases) -> bool:
    said = _fold(line).rstrip(".")
    return any(
        re.fullmatch(rf"{re.escape(begin)}(?: [^\W\d_]+){{1,3}}", said) and not set(said[len(begin) :].split()) & _NEVER
        for each in (phrases, PHRASES["en"])
        for begin in each.of("device")
    )


_NEVER = frozenset(word for each in PHRASES.values() for word in each.of("doubt"))


def _any(phrases: Sequence[str]) -> str:
    return "|".join(re.escape(p) for p in phrases)


def _fold(text: str) -> str:
    text = unicodedata.normalize("NFC", text).casefold().replace("’", "'").replace("‘", "'").replace("\xa0", " ")
    text = _SMILE.sub(" ", text.replace("ß", "ss"))
    return " ".join(text.split())


def _plain(text: str) -> str:
    return _fold(text).strip(" ,.!:-–—")


# --- what it comes to -----------------------------------------------------------------------------------------------


def _settled(heard: _Heard, shown: Mapping[int, Sequence[str]]) -> MessageReading:
    if len(heard.proofs) > 1:
        raise _UnclearMessage(f"it names proofs {' and '.join(sorted(heard.proofs))}")
    numbers: dict[int, Said] = {}
    wanted: dict[int, str] = {}
    for number, said, text in heard.said:
        if number in numbers and (numbers[number], wanted.get(number, "")) != (said, text):
            raise _UnclearMessage(f"it says two things of No. {number}")
        numbers[number] = said
        if text:
            wanted[number] = text
    for number in heard.excepted:
        if numbers.setdefault(number, "excepted") == "agreed":
            raise _UnclearMessage(f"it says two things of No. {number}")
    strange = sorted(n for n in numbers if n not in shown)
    if strange:
        raise _UnclearMessage(f"there is no No. {strange[0]} on the proof")
    otherwise = {n for n, said in numbers.items() if said != "agreed"}
    if heard.all and not heard.rest and otherwise - set(heard.excepted):
        number = min(otherwise - set(heard.excepted))
        raise _UnclearMessage(f"it says that all is correct, and something else of No. {number}")
    if heard.rest and not otherwise:
        raise _UnclearMessage("it says that the rest is correct, and names nothing that is not")
    if not heard.all and not heard.rest and not numbers:
        raise _UnclearMessage("it says nothing about the proof")
    proof = next(iter(heard.proofs), "")
    return MessageReading(all=heard.all or heard.rest, numbers=numbers, wanted=wanted, proof=proof)
