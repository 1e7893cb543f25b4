"""Forms of answers: each is recognised by the file's content, whatever its name."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.signoff.returned.answer_formats import ANSWER_FORMATS, ReturnedFile, find_title
from tests.test_every_stop import Job, names


@pytest.fixture(scope="module")
def job(tmp_path_factory) -> Job:
    job = Job(tmp_path_factory.mktemp("answers"))
    job.write(names("Ida Vex"))
    assert main(["run", str(job.folder)]) == 0
    return job


def recognised(path: Path) -> list[str]:
    return [
        each.kind for each in ANSWER_FORMATS if each.recognise(ReturnedFile(path=path, start=path.read_bytes()[:1024]))
    ]


def test_each_paper_is_recognised_by_exactly_one_form(job):
    assert recognised(job.out / "proof.pdf") == ["proof"] and recognised(job.out / "check.xlsx") == ["sheet"]


@pytest.mark.parametrize(
    ("paper", "name", "told"), [("proof.pdf", "back.xlsx", ": proof"), ("check.xlsx", "back.pdf", ": check sheet")]
)
def test_the_suffix_does_not_matter(job, tmp_path, capsys, paper, name, told):
    back = tmp_path / name
    back.write_bytes((job.out / paper).read_bytes())
    assert main(["sign", str(job.folder), str(back)]) == 1  # nobody has signed it
    assert f"{name}{told}" in capsys.readouterr().out


def test_a_few_lines_before_a_proof_do_not_hide_it(job, tmp_path):
    """A PDF's header may be anywhere within the first 1024 bytes (ISO 32000-1, Annex H.3)."""
    back = tmp_path / "back"
    back.write_bytes(b"Content-Type: application/pdf\r\n\r\n" + (job.out / "proof.pdf").read_bytes())
    assert recognised(back) == ["proof"]


def test_an_unrecognised_file_is_reported_and_nothing_recorded(job, tmp_path, capsys):
    back = tmp_path / "holiday.gif"
    back.write_bytes(b"GIF89a" + bytes(100))
    assert main(["sign", str(job.folder), str(back)]) == 1
    assert "None of it was recorded." in capsys.readouterr().out


def test_a_sign_off_by_hand_has_a_title_too():
    assert find_title("paper") == "sign-off on paper" and find_title("sheet") == "check sheet"
