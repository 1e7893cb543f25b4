"""Kinds of finding: file.* and sign.*."""

from __future__ import annotations

from pipeline.core.findings import Kind, Severity

NOT_SIGNED = Kind(
    code="sign.not-signed",
    severity=Severity.STOP,
    message="“{text}” has not been signed off{open}",
    why="What nobody has agreed to may be wrong, and a cut cannot be taken back.",
    remedy="send the proof (revision {revision}) and record what comes back with `plaques sign`",
    addressed="maker",
    source="the sign-off ledger of the order",
)
CHANGED_SINCE = Kind(
    code="sign.changed-since",
    severity=Severity.STOP,
    message="“{text}” is no longer what {by} signed in revision {revision}: {change}",
    why="The client agreed to something else. Cutting it now would make the signature worthless.",
    remedy="send the new proof, or put the order back to what was signed",
    addressed="maker",
    source="the fingerprint of what would be cut, held against the sign-off ledger",
)
MORE_PIECES = Kind(
    code="sign.more-pieces",
    severity=Severity.STOP,
    message="“{text}”: {wanted:piece is|pieces are} wanted, {signed} {signed:=was|were} signed by {by} in revision "
    "{revision}",
    why="The client agreed to a number of pieces as well as to the lettering; each further one costs material.",
    remedy="send the new proof, which asks for the new number, or correct the copies in the list",
    addressed="maker",
    source="the number of pieces in the sign-off ledger",
)
CHANGE_WANTED = Kind(
    code="sign.change-wanted",
    severity=Severity.STOP,
    message="{by} wants “{text}” ({cells}) changed to “{change_to}” (revision {revision})",
    why="The client has said that the lettering as it stands is wrong.",
    remedy="edit the cell in the client's list, run again and send the new proof; nothing is changed by itself",
    addressed="maker",
    source="the client's answer in the sign-off ledger",
)
REFUSED = Kind(
    code="sign.refused",
    severity=Severity.STOP,
    message="{by} does not want “{text}” cut (revision {revision})",
    why="The client has said so on the returned paper.",
    remedy="take the row out of the list, or record a new sign-off when the client has changed their mind",
    addressed="maker",
    source="the client's answer in the sign-off ledger",
)
CONTRADICTED = Kind(
    code="sign.contradicted",
    severity=Severity.STOP,
    message="the answers to “{text}” contradict each other: {why}",
    why="Which of them holds is for the client to say; choosing one would be a guess.",
    remedy="ask the client and record what they say with `plaques sign ORDER --rows {rows} --by NAME --on DATE`",
    addressed="client",
    source="the client's answers in the sign-off ledger",
)
FILE_MISSING = Kind(
    code="file.missing",
    severity=Severity.STOP,
    message="{file} is signed off, but the file is not there",
    why="There is nothing to copy out.",
    remedy="run the order again, then release",
    addressed="maker",
    source="the output folder of the last run",
)
FILE_ALTERED = Kind(
    code="file.altered",
    severity=Severity.STOP,
    message="{file} is not the file this order makes: it was edited or damaged after the run",
    why="What was signed off is the lettering of the order, not what somebody drew into the file afterwards.",
    remedy="run the order again, then release; a change by hand has to be made in the order and signed off",
    addressed="maker",
    source="the file made again from the order and compared byte by byte",
)

KINDS: tuple[Kind, ...] = (
    NOT_SIGNED,
    CHANGED_SINCE,
    MORE_PIECES,
    CHANGE_WANTED,
    REFUSED,
    CONTRADICTED,
    FILE_MISSING,
    FILE_ALTERED,
)
