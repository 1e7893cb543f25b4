"""Kinds of finding: file.* and sign.*."""

from __future__ import annotations

from pipeline.core.findings import Kind, Severity

NOT_SIGNED = Kind(
    code="sign.not-signed",
    severity=Severity.STOP,
    message="“{text}” has not been signed off{open}",
    why="What nobody has agreed to may be wrong, and once a name is cut, it can't be undone.",
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
    source="the fingerprint of what would be cut, compared with the sign-off ledger",
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
    message="what the client says about “{text}” is not clear: {why}",
    why="What was meant is for the client to say; choosing would be a guess.",
    remedy="ask the client and record what they say with `plaques sign ORDER --rows {rows} --by NAME --on DATE`",
    addressed="client",
    source="the client's answers in the sign-off ledger",
)
OTHER_ORDER = Kind(
    code="sign.other-order",
    severity=Severity.STOP,
    message="“{text}” was signed by {by} for another order: {was}; this one is {now}",
    why="A sign-off is given for one job. A copied order folder carries the ledger of the first along with it.",
    remedy="if title, client or file name of the same job were changed, say so with --same-order, which is recorded; "
    "if this is another job, give it a folder of its own, without the first one's signoff.sqlite, and send its proof",
    addressed="maker",
    source="title, client and order file in the sign-off ledger, compared with the order's",
)
COVERS_MORE = Kind(
    code="sign.covers-more",
    severity=Severity.STOP,
    message="“{text}” was signed by {by} in revision {revision}, before a sign-off covered {added}",
    why=(
        "What is signed is what the client gets, and these are part of it. An earlier version of this tool did not "
        "compare them with the signature, so it isn't known whether they were the same then."
    ),
    remedy="send proof {next}, or record with `plaques sign --rows` that the client has agreed to them",
    addressed="maker",
    source="the fingerprint as it was computed before, and what it covers now",
)
MADE_DIFFERENTLY = Kind(
    code="sign.made-differently",
    severity=Severity.STOP,
    message="“{text}” is what {by} signed in revision {revision}, but its file is made differently: {change}",
    why=(
        "The piece is the same and the client need not be asked. But the file for the machine differs from the earlier "
        "one, and whoever runs the machine has to know."
    ),
    remedy="put the values back, or accept the files as they are made now: `plaques release ORDER --accept-files`, "
    "which is recorded",
    addressed="maker",
    source="the order's values when it was last signed, released or accepted, in the sign-off ledger",
)
LEDGER_OLDER = Kind(
    code="sign.ledger-older",
    severity=Severity.STOP,
    message="the sign-off ledger is not the one that {paper} was made with: {how}",
    why="A refusal or a change recorded since may be missing, and what it held back would be cut.",
    remedy="put back the latest signoff.sqlite. If it is lost, move {paper} away and have the client sign again what "
    "cannot be proved",
    addressed="maker",
    stops="order",
    source="number of rows and last hash of the ledger, written on cut lists, releases and proofs",
)
CUT_DIFFERS = Kind(
    code="sign.cut-differs",
    severity=Severity.ASK,
    message="“{text}” is cut already ({pieces:piece|pieces}), and {change}",
    why="A piece that is cut is finished: nobody is asked about it again, and it is not cut again. But somebody has "
    "changed the list or the order since, and may think that the piece changes with it.",
    remedy="put the list back if that was a slip. If the piece is to be made again as the list has it now, say so with "
    "`plaques mark ORDER spoilt --rows {rows}`; the next proof then asks the client about it",
    addressed="maker",
    source="pieces marked as cut or delivered in the sign-off ledger, compared with the list and the order",
)
FILE_MISSING = Kind(
    code="file.missing",
    severity=Severity.STOP,
    message="{file} is signed off, but the file is not there",
    why="There is nothing to release.",
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
FILE_ELSEWHERE = Kind(
    code="file.elsewhere",
    severity=Severity.STOP,
    message="{file} is a link to {place}, outside the output folder",
    why="Somebody with access to that place can change the file after it was checked.",
    remedy="delete the link, run the order again, then release",
    addressed="maker",
    source="the output folder of the last run",
)
FILE_NOT_RELEASED = Kind(
    code="file.not-released",
    severity=Severity.ASK,
    message="{file} lies among the released files, but was not released",
    why="Whoever takes the folder to the machine takes everything in it.",
    remedy="move it to another folder",
    addressed="maker",
    source="the files of the folder, compared with what was released",
)

KINDS: tuple[Kind, ...] = (
    NOT_SIGNED,
    CHANGED_SINCE,
    MORE_PIECES,
    CHANGE_WANTED,
    REFUSED,
    CONTRADICTED,
    OTHER_ORDER,
    COVERS_MORE,
    MADE_DIFFERENTLY,
    LEDGER_OLDER,
    CUT_DIFFERS,
    FILE_MISSING,
    FILE_ALTERED,
    FILE_ELSEWHERE,
    FILE_NOT_RELEASED,
)
