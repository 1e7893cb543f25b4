"""Kinds of finding: proof.*, about the paper for the client as a whole."""

from __future__ import annotations

from pipeline.core.findings import Kind, Severity

LANGUAGE_UNREAD = Kind(
    code="proof.language-unread",
    severity=Severity.NOTE,
    message="the proof is in {language}, and no native speaker has read {count} of its texts yet: they were translated "
    "by the makers of the tool",
    why="A sentence that is grammatical can still sound odd, and your name stands on the proof.",
    remedy="have somebody who speaks the language read a proof before the first one goes out",
    addressed="maker",
    source="the marks in the message catalogue",
)

KINDS: tuple[Kind, ...] = (LANGUAGE_UNREAD,)
