"""A large proof in several files: each complete, each with its own decision, each design in the volume it was in."""

from __future__ import annotations

import io
import random
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pikepdf
import pikepdf.form
import pypdf
import pytest

from pipeline.core.config.order import BlankConfig, LineConfig, ListConfig, Order, OrderFolder, ProofConfig
from pipeline.core.short_codes import build_order_id
from pipeline.outputs.pdf.identity import ATTACHMENT, ProofIdentity
from pipeline.outputs.proof.proof import write_proof_files, write_proofs
from pipeline.outputs.proof.volumes import assign_volumes
from pipeline.outputs.revision import EarlierPlaque, Revision
from pipeline.signoff.returned.returned_proof import read_proof_bytes
from tests import builders
from tests.outputs.pdf.test_pdf_document import sound

NAMES = ("Ada Kittiwake", "Jory Pellow", "Tamsin Reed", "Edwin Marrow", "Flora Vane", "Hugo Larkrise", "Ida Thornwick")
LIMIT = 3


def folder(volume: int = LIMIT) -> OrderFolder:
    order = Order(
        title="Wardens of the Shore 2026",
        client="Tidewrack Seabird Trust",
        list=ListConfig(file="recipients.xlsx"),
        blank=BlankConfig(drawing="plaque.dxf"),
        line=(LineConfig(text="{name}", face="eb-garamond", cap_height=8.0),),
        proof=ProofConfig(shop="Harrow Lane Engraving", volume=volume),
    )
    return OrderFolder(order=order, folder=Path(), file=Path("order.toml"), sha256="0" * 64)


PEOPLE = (
    *(builders.plaque(5 + i, name) for i, name in enumerate(NAMES[:5])),
    builders.stopped_unset(10, "#REF!", builders.too_long(10, "#REF!")),
    builders.plaque(11, NAMES[5], findings=(builders.moved(11),)),
    builders.plaque(12, NAMES[6]),
)
MARKS = tuple(p.fingerprint for p in PEOPLE if p.fingerprint)


@pytest.fixture(scope="module")
def volumes() -> dict[str, bytes]:
    return {file.name: file.data for file in write_proof_files(builders.outcome(PEOPLE), folder())}


def identity(data: bytes) -> ProofIdentity:
    with pikepdf.open(io.BytesIO(data)) as pdf:
        return ProofIdentity.from_json(pdf.attachments[ATTACHMENT].get_file().read_bytes())


def pages(data: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(data)).pages]


# --- which design stands where ---------------------------------------------------------------------------------------


def test_a_list_is_filled_into_volumes_in_its_order():
    assert assign_volumes("abcdefg", 3) == dict(zip("abcdefg", (1, 1, 1, 2, 2, 2, 3), strict=True))
    assert assign_volumes("", 3) == {} and set(assign_volumes("abc", 3).values()) == {1}


def test_designs_keep_their_volume_and_new_ones_come_last():
    earlier = assign_volumes("abcdefg", 3)
    assert assign_volumes("xbcdyefgz", 3, earlier) == {
        "b": 1, "c": 1, "d": 2, "e": 2, "f": 2, "g": 3, "x": 3, "y": 3, "z": 4,
    }  # fmt: skip
    assert list(assign_volumes("xbcdyefgz", 3, earlier)) == list("xbcdyefgz")  # in list order


def test_a_corrected_design_replaces_its_predecessor():
    earlier = assign_volumes("abcdefg", 3)
    assert assign_volumes("aBcdefg", 3, earlier, {"B": "b"})["B"] == 1


def test_many_revisions_never_move_a_design_nor_overfill_a_volume_with_new_ones():
    chance, known, names, most = random.Random(3), {}, list(range(40)), 7
    for _ in range(30):
        chance.shuffle(names)
        now = [str(name) for name in names[: chance.randint(1, len(names))]]
        found = assign_volumes(now, most, known)
        assert all(found[mark] == known[mark] for mark in now if mark in known)
        fresh = [mark for mark in now if mark not in known]
        last = max((known[mark] for mark in now if mark in known), default=1)
        assert all(found[mark] >= last for mark in fresh)
        assert all(count <= most for volume, count in Counter(found.values()).items() if volume > last)
        known = {**known, **found}


# --- what is in a volume ---------------------------------------------------------------------------------------------


def test_each_volume_is_complete(volumes, tmp_path):
    assert list(volumes) == ["proof-1.pdf", "proof-2.pdf", "proof-3.pdf"]
    told = [identity(data) for data in volumes.values()]
    assert [t.volume for t in told] == [1, 2, 3] and {t.revision for t in told} == {"A"}
    assert [d.fingerprint for t in told for d in t.designs] == list(MARKS)
    # with the designs they stand among in the list
    assert [u.row for t in told for u in t.unset] == [10] and told[1].unset
    for number, data in enumerate(volumes.values(), 1):
        sound(data, tmp_path)
        text = pages(data)
        own = [d.text[0] for d in told[number - 1].designs]
        assert f"volume {number} of 3" in text[0] and f"{len(own)} plaque" in text[0]
        for n, page in enumerate(text, 1):
            assert f"volume {number} of 3" in page and f"page {n} of {len(text)}" in page
        assert "Your decision" in text[-1] and f"volume {number} of 3 only" in text[-1]
        for name in NAMES:
            assert (name in " ".join(text)) == (name in own)
        fields = pypdf.PdfReader(io.BytesIO(data)).get_fields()
        assert {"decision", "remarks", "name", "date", "proof_identity"} <= set(fields)
    assert "Our questions" in " ".join(pages(volumes["proof-2.pdf"]))
    assert "Our questions" not in " ".join(pages(volumes["proof-1.pdf"]))
    assert "asked only once" in " ".join(pages(volumes["proof-2.pdf"]))


def test_a_question_about_several_volumes_is_asked_in_the_first_and_the_others_refer_to_it():
    """Two names in capitals, one in the first volume and one in the third, and one question about the second only."""

    def is_odd(plaque):
        return replace(plaque, findings=(builders.capitals(plaque.recipient.row, plaque.name),))

    people = tuple(is_odd(p) if p.recipient.row in (6, 12) else p for p in PEOPLE)
    first, second, third = (file.data for file in write_proof_files(builders.outcome(people), folder()))
    asked = [[(q.no, q.volume, q.rows) for q in identity(data).questions] for data in (first, second, third)]
    of_capitals = next(no for no, volume, rows in asked[0] if rows == (6, 12))
    assert [volume for _, volume, _ in asked[0]] == [0]
    assert (of_capitals, 1, (12,)) in asked[2] and all(no != of_capitals for no, _, _ in asked[1])
    numbers = [no for own in asked for no, volume, _ in own if not volume]
    assert len(numbers) == len(set(numbers))  # a number stands for one question in all volumes
    fields = [set(pypdf.PdfReader(io.BytesIO(data)).get_fields()) for data in (first, third)]
    assert f"q{of_capitals}" in fields[0] and f"q{of_capitals}" not in fields[1]
    assert "answer it in volume 1 of 3" in " ".join(pages(third))
    assert f"answer question {of_capitals} in volume 1 of 3" in " ".join(pages(third))
    assert ProofIdentity.from_json(identity(third).to_json()) == identity(third)


def test_a_decision_is_about_its_own_volume_only(volumes):
    with pikepdf.open(io.BytesIO(volumes["proof-1.pdf"])) as pdf:
        form = pikepdf.form.Form(pdf)
        form["name"].value = "Rowan Petrel"
        group = form["decision"]
        group.selected = next(o for o in group.options if o.on_value == "/agreed-as-shown")
        out = io.BytesIO()
        pdf.save(out)
    code = build_order_id("Wardens of the Shore 2026", "Tidewrack Seabird Trust")
    paper = read_proof_bytes(out.getvalue(), "back.pdf", order_id=code, revision="A")
    assert {a.fingerprint: a.decision for a in paper.answers} == dict.fromkeys(MARKS[:LIMIT], "agreed")


def test_a_small_order_is_one_file_that_mentions_no_volume(tmp_path):
    ((name, data),) = ((f.name, f.data) for f in write_proof_files(builders.outcome(PEOPLE), folder(len(MARKS))))
    assert name == "proof.pdf" and identity(data).volume == 0 and b'"volume"' not in identity(data).to_json()
    assert "volume" not in " ".join(pages(data))


# --- from run to run -------------------------------------------------------------------------------------------------


def test_volumes_of_an_earlier_run_are_removed_and_nothing_else(tmp_path):
    for name in ("proof.pdf", "proof-9.pdf", "proof-a.pdf", "proof-1.pdf.txt", "other.pdf"):
        (tmp_path / name).write_bytes(b"old")
    (tmp_path / "sent").mkdir()
    (tmp_path / "sent" / "proof-9.pdf").write_bytes(b"sent")
    run = builders.outcome(PEOPLE)
    written = write_proofs(run, folder(), tmp_path)
    assert written == ("proof-1.pdf", "proof-2.pdf", "proof-3.pdf")
    assert {p.name for p in tmp_path.iterdir()} == {*written, "proof-a.pdf", "proof-1.pdf.txt", "other.pdf", "sent"}
    assert (tmp_path / "sent" / "proof-9.pdf").read_bytes() == b"sent"
    assert write_proofs(run, folder(9), tmp_path) == ("proof.pdf",)
    assert not list(tmp_path.glob("proof-[0-9].pdf"))


def test_a_later_revision_has_only_the_volumes_with_open_questions(tmp_path):
    """The name in the second volume was corrected: it stays there, as volume 2 of 3."""
    corrected = builders.plaque(9, "Flora Vane-Tempest")
    people = tuple(corrected if p.recipient.row == 9 else p for p in PEOPLE if p.state != "stopped")
    was = PEOPLE[4]
    earlier = EarlierPlaque(revision="A", fingerprint=was.fingerprint, text=was.text, rows=(9,))
    signed = tuple((mark, "R. Petrel, 3 December") for mark in MARKS if mark != was.fingerprint)
    mark = corrected.fingerprint
    revision = Revision(letter="B", asks=frozenset({mark}), signed=signed, earlier=((mark, earlier),))
    run, stood = builders.outcome(people), assign_volumes(MARKS, LIMIT)
    (file,) = write_proof_files(run, folder(), revision, earlier=stood)
    assert file.name == "proof-2.pdf"
    told, text = identity(file.data), pages(file.data)
    assert (told.volume, told.revision, [d.fingerprint for d in told.designs]) == (2, "B", [mark])
    assert "Proof B, volume 2 of 3" in text[0]
    (listed,) = [page for page in text if "Answered earlier" in page and "R. Petrel, 3 December" in page]
    assert "Edwin Marrow" in listed and "Ada Kittiwake" not in listed


def test_when_nothing_is_open_the_first_volume_says_so():
    revision = Revision(letter="B", asks=frozenset(), signed=tuple((mark, "R. Petrel") for mark in MARKS))
    people = tuple(p for p in PEOPLE if p.state != "stopped")
    (file,) = write_proof_files(builders.outcome(people), folder(), revision)
    assert file.name == "proof-1.pdf" and identity(file.data).designs == ()


@pytest.mark.parametrize("volume", [0, -1])
def test_a_volume_has_at_least_one_design(volume):
    with pytest.raises(ValueError, match="volume"):
        ProofConfig(volume=volume)
