"""Malicious archives: nothing leaves the folder, nothing grows without limit."""

from __future__ import annotations

import io
import stat
import struct
import zipfile
from pathlib import Path

import pytest

from pipeline.core.errors import CannotRun
from pipeline.core.storage.safe_archive import pack_files, unpack_files


def packed(path: Path, *entries: tuple[zipfile.ZipInfo | str, bytes]) -> Path:
    """Create an archive with the standard library, entry by entry."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as out:
        for name, data in entries:
            out.writestr(name, data)
    return path


def link(name: str, to: str) -> tuple[zipfile.ZipInfo, bytes]:
    about = zipfile.ZipInfo(name)
    about.create_system = 3
    about.external_attr = (stat.S_IFLNK | 0o777) << 16
    return about, to.encode()


def test_files_are_unpacked_unchanged_and_equal_ones_give_equal_bytes(tmp_path):
    files = {"order/order.toml": b"title", "order/é list.csv": bytes(range(256)) * 40, "a": b""}
    data = pack_files(files)
    assert data == pack_files(dict(reversed(files.items())))
    (tmp_path / "a.zip").write_bytes(data)
    target = tmp_path / "into"
    names = {name for name, _ in unpack_files(tmp_path / "a.zip", target)}
    assert names == set(files) and all((target / name).read_bytes() == files[name] for name in names)
    with zipfile.ZipFile(io.BytesIO(data)) as other:  # the standard library finds nothing wrong with it
        assert other.testzip() is None


@pytest.mark.parametrize(
    "name",
    [
        "../out.txt",
        "order/../../out.txt",
        "/etc/out.txt",
        "C:/out.txt",
        "..\\out.txt",
        "order\\..\\..\\out.txt",
        "order/./x",
        "order//x",
        "order/",
        "nul",
        "order/COM1.txt",
        "ends with a dot.",
        "a" * 300,
        "hid\u202eden.txt",
        "line\nbreak",
    ],
)
def test_no_name_leads_out_of_the_folder_or_where_a_system_has_something_else(tmp_path, name):
    file = packed(tmp_path / "a.zip", ("good.txt", b"good"), (name, b"bad"))
    target = tmp_path / "into"
    target.mkdir()
    with pytest.raises(CannotRun, match="its entry"):
        unpack_files(file, target)
    assert list(target.iterdir()) == []
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.zip", "into"]


def test_links_names_twice_and_passwords_are_refused(tmp_path):
    for entries in (
        [link("order", "/etc"), ("order/passwd", b"x")],
        [("Order.toml", b"1"), ("order.TOML", b"2")],
        [("a", b"1"), ("a/b", b"2")],
        [("e\u0301.txt", b"1"), ("\u00e9.txt", b"2")],
    ):
        file = packed(tmp_path / "a.zip", *entries)
        with pytest.raises(CannotRun, match="its entry"):
            unpack_files(file, tmp_path / "into")
        assert not (tmp_path / "into").exists()
    data = bytearray(pack_files({"a.txt": b"secret"}))
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):  # APPNOTE.TXT 4.3: flag bit 0 says encrypted
        at = data.index(mark) + offset
        data[at : at + 2] = struct.pack("<H", struct.unpack_from("<H", data, at)[0] | 1)
    (tmp_path / "locked.zip").write_bytes(data)
    with pytest.raises(CannotRun, match="password"):
        unpack_files(tmp_path / "locked.zip", tmp_path / "into")


def test_a_bomb_is_stopped_by_its_stated_and_by_its_actual_size(tmp_path):
    big = packed(tmp_path / "big.zip", ("zeros", bytes(3 * 2**20)))
    assert big.stat().st_size < 10_000
    with pytest.raises(CannotRun, match="more than 1 MB"):
        unpack_files(big, tmp_path / "one", most_mb=1)
    data = bytearray(big.read_bytes())
    at = data.index(b"PK\x01\x02") + 24  # uncompressed size in the central directory, APPNOTE.TXT 4.3.12
    data[at : at + 4] = struct.pack("<I", 1000)
    (tmp_path / "lies.zip").write_bytes(data)
    with pytest.raises((CannotRun, zipfile.BadZipFile)):
        unpack_files(tmp_path / "lies.zip", tmp_path / "two", most_mb=1)
    assert sum(p.stat().st_size for p in (tmp_path / "two").rglob("*")) <= 2**20
    many = packed(tmp_path / "many.zip", *((f"{n}", b"") for n in range(20_001)))
    with pytest.raises(CannotRun, match="20001 entries"):
        unpack_files(many, tmp_path / "three")
