"""The folder of cut files: only this order's, only current ones, nobody else's touched, whole files after any kill."""

import hashlib
import shutil
import subprocess

import pytest

from pipeline.core.catalogue import format_message
from pipeline.core.errors import CannotRun
from pipeline.core.units import MM
from pipeline.outputs.cut_files.cut_files import CutFiles
from pipeline.outputs.cut_files.manifest import FILE_NAME, Manifest
from tests import builders

MARK = "4CKXH7RW9P"


@pytest.fixture
def manifest(tmp_path):
    made = Manifest(tmp_path / "cut", "NK7N3H", "Wardens of the Shore 2026")
    made.begin()
    return made


def test_files_of_an_earlier_run_are_removed(manifest):
    manifest.add("ada.dxf", b"1")
    manifest.add("ben.dxf", b"2")
    manifest.finish(["ada.dxf", "ben.dxf"])
    again = Manifest(manifest.folder, "NK7N3H", "Wardens")
    again.begin()
    again.add("ada.dxf", b"3")
    cleared = again.finish(["ada.dxf"])
    assert cleared.removed == ("ben.dxf",)
    assert {p.name for p in manifest.folder.iterdir()} == {"ada.dxf", FILE_NAME}


def test_a_folder_left_empty_is_removed_but_not_with_other_files_in_it(manifest):
    manifest.add("ada.dxf", b"1")
    manifest.finish(["ada.dxf"])
    manifest.dissolve()
    assert (manifest.folder / FILE_NAME).exists() and (manifest.folder / "ada.dxf").exists()
    (manifest.folder / "jig.dxf").write_bytes(b"the user's own")
    manifest.finish([])
    manifest.dissolve()
    assert [p.name for p in manifest.folder.iterdir()] == ["jig.dxf"]
    (manifest.folder / "jig.dxf").unlink()
    manifest.begin()
    manifest.finish([])
    Manifest(manifest.folder, "ANOTHR", "Another order").dissolve()
    assert (manifest.folder / FILE_NAME).exists()
    manifest.dissolve()
    assert not manifest.folder.exists()


def test_a_users_files_are_left_alone(manifest):
    manifest.add("ada.dxf", b"1")
    manifest.finish(["ada.dxf"])
    (manifest.folder / "ada.dxf").write_bytes(b"changed by hand")
    (manifest.folder / "jig.dxf").write_bytes(b"the user's own")
    (manifest.folder / ".jig.dxf.99.part").write_bytes(b"the user's own")
    assert manifest.begin() == (("ada.dxf", "ada.dxf.changed"),)
    manifest.add("ada.dxf", b"2")
    (manifest.folder / "ada.dxf").write_bytes(b"changed again")
    assert manifest.begin() == (("ada.dxf", "ada.dxf.changed-2"),)
    assert manifest.finish([]).removed == ()
    assert (manifest.folder / "ada.dxf.changed").read_bytes() == b"changed by hand"
    assert (manifest.folder / "ada.dxf.changed-2").read_bytes() == b"changed again"
    assert (manifest.folder / "jig.dxf").exists()
    assert (manifest.folder / ".jig.dxf.99.part").exists()


@pytest.mark.parametrize("first", ["# cut files of order XXXXXX “Another”\n", "something else\n"])
def test_another_orders_folder_is_refused(tmp_path, first):
    folder = tmp_path / "cut"
    folder.mkdir()
    (folder / FILE_NAME).write_text(first, encoding="utf-8")
    with pytest.raises(CannotRun, match="another order"):
        Manifest(folder, "NK7N3H", "Wardens").begin()


def test_two_orders_of_one_client_are_distinguished(tmp_path):
    folder = builders.folder()
    CutFiles(folder, builders.slanted_blank(), tmp_path, "0.1.0").finish()
    CutFiles(folder, builders.slanted_blank(), tmp_path, "0.2.0").finish()  # the same order is accepted
    with pytest.raises(CannotRun) as refused:
        CutFiles(builders.folder(title="Wardens of the Shore 2027"), builders.slanted_blank(), tmp_path, "0.1.0")
    assert "--out" in str(refused.value)


def test_a_folder_that_cannot_be_made_is_one_clear_message(tmp_path):
    (tmp_path / "cut").write_text("a file where the folder should be")
    with pytest.raises(CannotRun, match="cannot be written"):
        Manifest(tmp_path / "cut", "NK7N3H", "Wardens").begin()


def test_a_list_truncated_by_a_kill_is_continued(manifest):
    manifest.add("ada.dxf", b"1")
    with (manifest.folder / FILE_NAME).open("ab") as out:
        out.write(b"0123abc")
    manifest.begin()
    manifest.add("ben.dxf", b"2")
    assert manifest.finish([]).removed == ("ada.dxf", "ben.dxf")


def test_unfinished_files_of_a_killed_run_are_removed(manifest):
    dead = subprocess.Popen(["true"])
    dead.wait()
    part = manifest.folder / f".ada-kittiwake-{MARK}.dxf.{dead.pid}.part"
    part.write_bytes(b"half a fi")
    manifest.begin()
    assert not part.exists()


def test_the_list_never_reaches_outside_its_folder(manifest, tmp_path):
    outside = tmp_path / "precious.txt"
    outside.write_bytes(b"precious")
    digest = hashlib.sha256(b"precious").hexdigest()
    with (manifest.folder / FILE_NAME).open("a") as out:
        out.write(f"{digest}  ../precious.txt\n{digest}  {outside}\n")
    manifest.finish([])
    assert outside.exists()


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="GNU coreutils are not here")
def test_sha256sum_can_check_the_list(manifest):
    manifest.add("ada.dxf", b"1")
    manifest.finish(["ada.dxf"])
    check = ["sha256sum", "-c", FILE_NAME]
    done = subprocess.run(check, cwd=manifest.folder, capture_output=True, text=True, check=False)
    assert done.returncode == 0
    assert "ada.dxf: OK" in done.stdout


def test_a_stopped_plaque_leaves_no_file_of_an_earlier_run(tmp_path):
    ready = builders.plaque(5, "Ada Kittiwake")
    files = CutFiles(builders.folder(), builders.slanted_blank(), tmp_path, "0.1.0")
    made = files.make(ready)
    assert files.finish() == ()
    stopped = builders.plaque(5, "Ada Kittiwake", findings=(builders.too_long(5, "Ada Kittiwake"),))
    again = CutFiles(builders.folder(), builders.slanted_blank(), tmp_path, "0.1.0")
    assert again.make(stopped).cut_file == ""
    assert again.finish() == (made.cut_file,)
    assert not (tmp_path / made.cut_file).exists()


def test_a_cut_file_changed_by_hand_is_kept_and_reported(tmp_path):
    ready = builders.plaque(5, "Ada Kittiwake", stem="NotoSans")
    made = CutFiles(builders.folder(), builders.slanted_blank(), tmp_path, "0.1.0").make(ready)
    file = tmp_path / made.cut_file
    good = file.read_bytes()
    file.write_bytes(good.replace(b"ENGRAVE", b"BY_HAND"))
    again = CutFiles(builders.folder(), builders.slanted_blank(), tmp_path, "0.1.0")
    assert again.make(ready).cut_file == made.cut_file
    assert file.read_bytes() == good
    assert b"BY_HAND" in file.with_name(file.name + ".changed").read_bytes()
    (finding,) = again.findings
    assert finding.code == "file.not-ours"
    told = format_message(finding, MM)
    assert told == f"{made.cut_file} was changed after this tool wrote it; it is kept as {made.cut_file}.changed"
    assert again.finish() == ()
