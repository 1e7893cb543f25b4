"""A message through the sign command: shown, recorded only on request, kept as received."""

from __future__ import annotations

import hashlib
import io
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.commands.sign_command import sign
from pipeline.core.environment.clock import get_utc_now
from pipeline.signoff.messages.answered_mail import find_answered_day
from pipeline.signoff.records.ledger import Ledger
from tests.signoff.messages.test_mail_file import mail
from tests.test_every_stop import Job, names


@pytest.fixture(scope="module")
def proofed(tmp_path_factory) -> Job:
    job = Job(tmp_path_factory.mktemp("order"))
    job.write(names("Ida Vex", "Bo Skua", "Una Tern"))
    assert main(["run", str(job.folder)]) == 0
    return job


@pytest.fixture
def job(proofed, tmp_path) -> Job:
    return Job(shutil.copytree(proofed.folder, tmp_path / "order"), dict(proofed.values))


def answer(job: Job, text: str | bytes, *more: str, name: str = "message.txt") -> int:
    file = job.folder.parent / name
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    return main(["sign", str(job.folder), str(file), *more])


def decided(job: Job) -> dict[int, str]:
    return {e.no: e.decision for e in Ledger.open(job.folder).read_entries() if e.kind in ("answer", "reading")}


def test_nothing_is_recorded_without_yes(job, capsys):
    capsys.readouterr()
    assert answer(job, "all correct except 2\n2: Bo Skuar\n", "--by", "Anna") == 1
    told = capsys.readouterr().out
    assert "2 agreed, 1 to be changed" in told and "add --yes" in told and "to “Bo Skuar”" in told
    assert not decided(job) and not (job.folder / "received").exists()


def test_yes_records_the_answer_keeps_the_file_and_states_what_it_proves(job):
    given = mail("All correct.\n\nBest wishes\nAnna\n").as_bytes()
    assert answer(job, given, "--yes", name="reply.eml") == 0
    assert decided(job) == {1: "agreed", 2: "agreed", 3: "agreed"}
    paper = next(e for e in Ledger.open(job.folder).read_entries() if e.kind == "paper")
    assert (paper.source_kind, paper.source, paper.by) == ("message", "reply.eml", "Anna Dunlin")
    assert paper.sender == "Anna Dunlin <anna.dunlin@example.org>" and "proves no more" in paper.note
    assert paper.source_sha256 == hashlib.sha256(given).hexdigest()
    (kept,) = (job.folder / "received").iterdir()
    assert kept.read_bytes() == given and kept.suffix == ".eml"
    assert main(["release", str(job.folder)]) == 0 and len(job.released()) == 3
    assert answer(job, given, "--yes", name="again.eml") == 0  # recognised by its hash
    assert sum(e.kind == "paper" for e in Ledger.open(job.folder).read_entries()) == 1


@pytest.mark.parametrize(
    "text", ["all correct I think", "will check", "not all correct", "2 is not right, all correct"]
)
def test_yes_never_records_an_unclear_one(job, capsys, text):
    capsys.readouterr()
    assert answer(job, f"{text}\n", "--yes", "--by", "Anna") == 1
    told = capsys.readouterr().out
    assert "None of it was recorded" in told and f"| {text}" in told and not decided(job)
    assert main(["release", str(job.folder)]) == 1 and not job.released()


def test_a_text_that_is_none_is_refused_as_a_message(job, capsys):
    capsys.readouterr()
    assert answer(job, "all correct\n".encode("utf-16-le"), "--yes", "--by", "Anna", name="reply.txt") == 1
    told = capsys.readouterr().out
    assert "NUL characters" in told and "PDF" not in told and not decided(job)


def test_an_emptied_ledger_is_named_as_one_that_knows_of_no_proof(job, capsys):
    (job.folder / "signoff.sqlite").unlink()
    capsys.readouterr()
    assert answer(job, "all correct\n", "--yes", "--by", "Anna") == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "ledger knows of no proof" in told and "put back the latest signoff.sqlite" in told


def test_at_a_terminal_the_maker_is_asked_once(job):
    file, said, questions = job.folder.parent / "m.txt", [], []
    file.write_text("all correct\n", encoding="utf-8")

    def signed(reply: bool) -> int:
        def confirm(question: str) -> bool:
            questions.append(question)
            return reply

        return sign(job.folder, [file], by="Anna", confirm=confirm, clock=get_utc_now, say=said.append)

    assert signed(False) == 1 and not decided(job) and "None of it" in said[-1]
    assert signed(True) == 0 and len(decided(job)) == 3
    assert len(questions) == 2 and "Agreed A2: Ida Vex" in said[0] and "| all correct" in said[0]


def test_the_maker_decides_an_unclear_one_by_number(job):
    assert (
        answer(job, "one and two are fine\n", "--by", "Anna", "--decide", "1=agreed,2=agreed", "--decided-by", "Jo")
        == 1
    )
    assert decided(job) == {1: "agreed", 2: "agreed", 3: "unclear"}


def test_excepted_ones_are_held_until_decided(job):
    assert answer(job, "all fine except 2\n", "--by", "Anna", "--yes") == 1
    assert decided(job) == {1: "agreed", 2: "unclear", 3: "agreed"}
    assert main(["release", str(job.folder)]) == 1 and len(job.released()) == 2
    assert answer(job, "all fine except 2\n", "--by", "Anna", "--decide", "2=leave", "--decided-by", "Jo") == 0
    assert decided(job)[2] == "refused"


def test_standard_input_and_json(job, capsys, monkeypatch):
    capsys.readouterr()
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b"2 do not cut\n")))
    assert main(["sign", str(job.folder), "-", "--by", "Anna", "--yes", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["kind"] == "message" and document["recorded"]
    assert [a["answer"] for a in document["answers"]] == ["none", "leave", "none"]


def test_of_two_open_proofs_the_message_or_the_maker_names_one(job, capsys):
    job.write(names("Ida Vex", "Bo Skua", "Una Terns"))
    assert main(["run", str(job.folder)]) == 0
    capsys.readouterr()
    assert answer(job, "all correct\n", "--by", "Anna", "--yes") == 1
    assert "--proof" in capsys.readouterr().out and not decided(job)
    assert answer(job, "proof A: all correct\n", "--by", "Anna", "--yes") == 1  # B has been made since
    assert answer(job, "all correct in proof Q\n", "--by", "Anna", "--yes", "--proof", "B") == 1
    assert answer(job, "proof A: all correct\n", "--by", "Anna", "--yes", "--proof", "B") == 1
    assert not decided(job)
    assert answer(job, mail("all correct", subject="AW: Korrekturabzug B").as_bytes(), "--yes", name="b.eml") == 0
    assert decided(job) == {1: "agreed", 2: "agreed", 4: "agreed"}


def second_proof(job: Job) -> None:
    job.write(names("Ida Vex", "Bo Skua", "Una Terns"))
    assert main(["run", str(job.folder)]) == 0


def papers(job: Job) -> list[str]:
    return [e.revision for e in Ledger.open(job.folder).read_entries() if e.kind == "paper"]


def test_the_same_text_for_a_second_proof_is_a_second_answer(job, capsys):
    assert answer(job, "all correct\n", "--by", "Anna", "--yes") == 0
    second_proof(job)
    capsys.readouterr()
    assert answer(job, "all correct\n", "--by", "Anna", "--yes") == 1 and papers(job) == ["A"]
    assert "--proof" in capsys.readouterr().out
    assert answer(job, "all correct\n", "--by", "Anna", "--yes", "--proof", "B") == 0
    assert papers(job) == ["A", "B"] and decided(job)[4] == "agreed"
    assert answer(job, "all correct\n", "--by", "Anna", "--yes", "--proof", "B") == 0 and papers(job) == ["A", "B"]


def test_a_mail_recorded_for_one_proof_is_no_answer_to_the_next_unless_it_is_named(job, capsys):
    given = mail(subject="Re: plates").as_bytes()
    assert answer(job, given, "--yes") == 0
    second_proof(job)
    capsys.readouterr()
    assert answer(job, given, "--yes") == 1 and papers(job) == ["A"]
    told = " ".join(capsys.readouterr().out.split())
    assert "recorded as an answer to proof A" in told and "--proof" in told
    assert answer(job, given, "--yes", "--proof", "B") == 0 and papers(job) == ["A", "B"]


def test_a_message_recorded_for_the_wrong_proof_is_recorded_for_the_right_one(job):
    second_proof(job)
    assert answer(job, "all correct\n", "--by", "Anna", "--yes", "--proof", "A", "--older") == 0
    row = next(e.id for e in Ledger.open(job.folder).read_entries() if e.kind == "paper")
    assert main(["sign", str(job.folder), "--void", str(row), "--by", "Jo"]) == 0
    assert answer(job, "all correct\n", "--by", "Anna", "--yes", "--proof", "B") == 0 and papers(job) == ["A", "B"]


def test_a_voided_message_is_recorded_again(job):
    assert answer(job, "all correct\n", "--by", "Anna", "--yes") == 0
    row = next(e.id for e in Ledger.open(job.folder).read_entries() if e.kind == "paper")
    assert main(["sign", str(job.folder), "--void", str(row), "--by", "Jo"]) == 0
    assert answer(job, "all correct\n", "--by", "Anna", "--yes") == 0 and papers(job) == ["A", "A"]


def test_deciding_is_about_the_proof_that_the_message_was_recorded_for(job, capsys):
    assert answer(job, "all fine except 2\n", "--by", "Anna", "--yes") == 1
    second_proof(job)
    decide = ("--decide", "2=agreed", "--decided-by", "Jo")
    capsys.readouterr()
    assert answer(job, "all fine except 2\n", "--by", "Anna", *decide) == 1
    assert "revision A" in capsys.readouterr().out and papers(job) == ["A"] and decided(job)[2] == "unclear"
    assert answer(job, "all fine except 2\n", "--by", "Anna", "--older", *decide) == 0
    assert papers(job) == ["A"] and decided(job)[2] == "agreed" and 4 not in decided(job)


def test_deciding_one_number_of_a_new_message_does_not_agree_to_the_others_unseen(job, capsys):
    decide = ("--decide", "2=change", "--decided-by", "Jo")
    capsys.readouterr()
    assert answer(job, "all fine except 2\n", "--by", "Anna", *decide) == 1
    assert "add --yes" in capsys.readouterr().out and not decided(job)
    assert answer(job, "all fine except 2\n", "--by", "Anna", "--yes", *decide) == 0
    assert decided(job) == {1: "agreed", 2: "change", 3: "agreed"}


@pytest.mark.parametrize(
    ("text", "more", "why"),
    [
        ("all correct", {"date": "Mon, 30 Nov 2020 09:00:00 +0000"}, "before proof B was made"),
        ("all correct\n\nOn 12 Nov 2026 at 10:12, Jo <j@example.org> wrote:\n> Here is proof A.", {}, "names proof A"),
        ("all correct\n\nOn 12 Nov 2026 at 10:12, Jo <j@example.org> wrote:\n> [proof-A.pdf]", {}, "names proof A"),
        ("all correct", {"date": "some day"}, "which proof"),
        (
            "all correct\n\nOn Tue, Nov 12, 2024 at 10:12 AM Jo <j@example.org> wrote:\n> Plates.",
            {},
            "mail written",
        ),
        ("alles richtig\n\nAm 12.11.2024 um 10:12 schrieb Jo <j@example.org>:\n> Ihre Schilder.", {}, "mail written"),
        (
            "all correct\n\nFrom: Jo <j@example.org>\nSent: 12 November 2024 10:12\nTo: Anna\n\nHi",
            {},
            "mail written",
        ),
    ],
)
def test_a_late_answer_to_an_older_proof_does_not_count_for_the_next(job, capsys, text, more, why):
    assert answer(job, "all correct except 3\n3 do not cut\n", "--by", "Anna", "--yes") == 0
    second_proof(job)
    before = decided(job)
    capsys.readouterr()
    assert answer(job, mail(text, subject="Re: plates", **more).as_bytes(), "--yes", name="late.eml") == 1
    assert why in " ".join(capsys.readouterr().out.split()) and decided(job) == before
    assert answer(job, mail("all correct", subject="Re: plates").as_bytes(), "--yes", name="b.eml") == 0
    assert papers(job) == ["A", "B"] and decided(job)[4] == "agreed"


@pytest.mark.parametrize(
    ("head", "day"),
    [
        ("On 3 May 2026 at 10:00, Jo <j@example.org> wrote:", "2026-05-03"),
        ("On Sun, May 3, 2026 at 10:00 AM Jo <j@example.org> wrote:", "2026-05-03"),
        ("Am So., 3. Mai 2026 um 10:00 Uhr schrieb Jo <j@example.org>:", "2026-05-03"),
        ("Le dim. 3 mai 2026 à 10:00, Jo <j@example.org> a écrit :", "2026-05-03"),
        ("W dniu 3.05.2026 o 10:00, Jo napisał:", "2026-05-03"),
        ("Op 3 mei 2026 om 10:00 schreef Jo <j@example.org>:", "2026-05-03"),
        ("Ar 3 Mai 2026 am 10:00, ysgrifennodd Jo <j@example.org>:", "2026-05-03"),
        ("On 11/12/26 10:00, Jo <j@example.org> wrote:", "2026-12-11"),  # the later of two readings
        ("On 2026-05-03 10:00, Jo <j@example.org> wrote:", "2026-05-03"),
        ("Od: Jo <j@example.org>\nData: 3 maja 2026 10:00\nDo: Anna", "2026-05-03"),
        ("Jo said on 3 May 2026:", "None"),
    ],
)
def test_the_day_of_the_mail_that_is_answered_is_found(head, day):
    assert str(find_answered_day(f"all correct\n\n{head}\n> Here it is, of 1 June 2026\n")) == day


@pytest.mark.parametrize(
    ("text", "subject"),
    [
        ("all correct", "Re: Proof B"),
        ("proof A: all correct", "AW: Korrekturabzug b"),
        (
            "all correct\n\nOn 12 Nov 2026 at 10:12, Jo <j@example.org> wrote:\n> This is proof C.",
            "Re: cups",
        ),
    ],
)
def test_a_mail_about_a_proof_that_the_order_does_not_have_is_no_answer(job, capsys, text, subject):
    given = mail(text, subject=subject).as_bytes()
    capsys.readouterr()
    assert answer(job, given, "--yes", name="reply.eml") == 1 and not decided(job)
    assert "which this order does not have" in " ".join(capsys.readouterr().out.split())
    assert answer(job, given, "--yes", "--proof", "A", name="reply.eml") == 0 and len(decided(job)) == 3


def test_a_mail_with_an_answer_attached_is_unclear_and_names_it(job, capsys):
    given = mail()
    given.add_attachment(b"%PDF-1.7", maintype="application", subtype="pdf", filename="filled.pdf")
    capsys.readouterr()
    assert answer(job, given.as_bytes(), "--yes") == 1
    assert "“filled.pdf”; save that" in capsys.readouterr().out.replace("\n    ", " ") and not decided(job)


@pytest.mark.parametrize("subject", ["all correct?", "NOT correct", "Re: not 7", "Changes to the plates"])
def test_a_subject_that_says_more_is_unclear(job, subject):
    assert answer(job, mail(subject=subject).as_bytes(), "--yes") == 1 and not decided(job)


def test_a_filled_in_form_does_not_import_the_message_reader(job):
    code = (
        "import sys; from pipeline.signoff.returned import answer_formats;"
        "assert not any('signoff.messages' in m for m in sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=Path(__file__).parents[3])
