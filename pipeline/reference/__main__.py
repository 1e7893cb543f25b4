"""`python -m pipeline.reference`: write the reference pages anew."""

from __future__ import annotations

from pipeline.core.storage.files import write_whole
from pipeline.reference.pages import FOLDER, build_pages


def write_reference() -> None:
    """Write every page whose text has changed, and say which."""
    for name, text in build_pages().items():
        file = FOLDER / name
        if not file.exists() or file.read_text(encoding="utf-8") != text:
            write_whole(file, text.encode("utf-8"))
            print(f"written: {file}")


if __name__ == "__main__":
    write_reference()
