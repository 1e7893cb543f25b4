"""What a paper says to the questions it asks: choices ticked, words written. Nothing is guessed: two choices, or a
choice and words that say something else, are unclear, and so are then the plaques concerned.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from pipeline.outputs.pdf.identity import ProofQuestion, UncutName
from pipeline.signoff.returned.answers import Reply

Said = Literal["unanswered", "as-shown", "change", "leave", "unclear"]
YES = frozenset(
    "yes|y|ok|okay|correct|right|fine|good|yes correct|yes right|yes please|yes thank you|yes thanks|that is fine|"
    "that is correct|that is right|yes that is fine|yes that is correct|yes that is right|yes it is|as shown|"
    "yes as shown|correct as shown|leave it as it is|yes leave it as it is".split("|")
)
"""Words beside a choice or a tick that say no more than it does (common practice, no source)."""


def normalise_words(text: str) -> str:
    """Normalise words: no capitals, full stops or commas."""
    return " ".join(re.sub("[.,!;:]", " ", text.casefold()).split())


@dataclass(frozen=True, slots=True, kw_only=True)
class QuestionAnswer:
    """The answer to one question. words: what the client wants, for whoever makes it; why: for `unclear`."""

    question: ProofQuestion
    said: Said
    words: str = ""
    why: str = ""


def read_answer(question: ProofQuestion, ticked: Iterable[str], written: str, *, torn: bool = False) -> QuestionAnswer:
    """The answer that these ticks (codes of choices) and words give."""
    chosen = [c for c in question.choices if c in set(ticked)]
    words = " / ".join(dict(zip(question.choices, question.words, strict=True))[c] for c in chosen)
    told = f"question {question.no}: {words}{': ' if words and written else ''}{written}"
    if torn:
        why = f"the fields of question {question.no} are missing, or show something else than they store"
        return QuestionAnswer(question=question, said="unclear", words=told, why=why)
    if len(chosen) > 1:
        why = f"question {question.no} has {len(chosen)} answers: {words}"
        return QuestionAnswer(question=question, said="unclear", words=told, why=why)
    if not chosen:
        return QuestionAnswer(question=question, said="change" if written else "unanswered", words=told)
    meant = dict(zip(question.choices, question.means, strict=True))[chosen[0]]
    if meant == "change" or not written or normalise_words(written) in YES:
        said: Said = "as-shown" if meant == "as-shown" else "leave" if meant == "leave" else "change"
        if said == "change" and not written and chosen[0] in NEEDS_WORDS:
            why = f"question {question.no} is answered “{words}”, and nothing is written"
            return QuestionAnswer(question=question, said="unclear", words=told, why=why)
        return QuestionAnswer(question=question, said=said, words=told)
    why = f"question {question.no} is answered “{words}”, and “{written}” is written beside it"
    return QuestionAnswer(question=question, said="unclear", words=told, why=why)


NEEDS_WORDS = frozenset(("written", "otherwise", "copies-written"))
"""Choices that say nothing without words."""


@dataclass(frozen=True, slots=True)
class QuestionAnswers:
    """The answers of a paper, by the plaques they concern."""

    every: tuple[QuestionAnswer, ...] = ()

    def list_answers(self, fingerprint: str) -> tuple[QuestionAnswer, ...]:
        return tuple(a for a in self.every if fingerprint in a.question.fingerprints)

    def build_replies(self, uncut: Iterable[UncutName]) -> tuple[Reply, ...]:
        """Build the replies about names that can't be cut, and about the whole order."""
        names = {u.row: u for u in uncut}
        out = []
        for answer in self.every:
            question, words = answer.question, answer.why or answer.words
            if answer.said == "unanswered":
                continue
            for row in question.stopped:
                if name := names.get(row):
                    out.append(Reply(row=row, cell=name.cell, text=name.text, reply=words, no=name.no))
            if not question.rows and answer.said != "as-shown":
                out.append(Reply(row=0, cell="", text=(question.text,), reply=words))
        return tuple(out)

    @property
    def given(self) -> bool:
        """Return whether any question is answered."""
        return any(a.said != "unanswered" for a in self.every)


def settle_answers(answers: Iterable[QuestionAnswer], *, ticked: bool) -> tuple[Said, str]:
    """Settle what the answers to the questions about one plaque say together, with the words of what is wanted or the
    reason why it is unclear. ticked: it is ticked as correct by itself."""
    every = [*answers]
    unclear = [a.why for a in every if a.said == "unclear"]
    wanted = [a for a in every if a.said in ("change", "leave")]
    if unclear:
        return "unclear", unclear[0]
    if ticked and wanted:
        return "unclear", f"it is ticked as correct, but {wanted[0].words}"
    if any(a.said == "leave" for a in wanted):
        if len(wanted) > 1 and any(a.said == "change" for a in wanted):
            return "unclear", " and ".join(a.words for a in wanted)
        return "leave", wanted[0].words
    if wanted:
        return "change", "; ".join(a.words for a in wanted)
    if not every or any(a.said == "unanswered" for a in every):
        return "unanswered", ""
    return "as-shown", ""


def list_places(question: ProofQuestion) -> Mapping[str, str]:
    """Field -> code of the choice it ticks."""
    return {question.get_field_name(choice): choice for choice in question.choices}
