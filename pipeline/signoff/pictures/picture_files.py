"""Opening foreign pictures: scans, photographs, and pages of PDFs rendered as pictures. For use behind the door."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from io import BytesIO
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.core.errors import CannotRun, Fault

MOST_MB = 256
MOST_MEGAPIXELS = 120
"""Most megapixels of one picture: an A4 page at 600 dpi has 35, a large camera 100."""
MOST_PAGES = 500
LONGEST_SIDE = 5_000
"""Pixels that are kept: 400 dpi of an A4 page. More shows nothing more of a pen's stroke."""
FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "BMP", "GIF")
"""Formats that Pillow may open; scans need no others. Pictures of two views (MPO) are opened as JPEG."""
ONE_WAY = (1.5, 3.0)
"""How much finer a fax is across than down where its rows have to be repeated."""
ON_ITS_SIDE = (5, 6, 7, 8)
"""Orientations of Exif (CIPA DC-008) with which rows and columns change places."""
PDF_DPI = 200
WHAT = "a scan or photograph of a page (.jpg, .png, .tif, .pdf)"
_STARTS = (b"\xff\xd8\xff", b"\x89PNG\r\n", b"II*\0", b"MM\0*", b"BM", b"GIF8")

Pixels = NDArray[np.uint8]
"""Rows from the top, columns, then red, green, blue."""


def is_picture(start: bytes) -> bool:
    """Return whether a file with these first bytes is a readable picture."""
    return start.startswith(_STARTS) or _is_phone_format(start) or (start[:4] == b"RIFF" and start[8:12] == b"WEBP")


def _is_phone_format(start: bytes) -> bool:
    """Return whether it is a picture in a video container (ISO/IEC 23008-12), as phones save them."""
    return start[4:8] == b"ftyp" and start[8:12] in (b"heic", b"heix", b"heim", b"heis", b"mif1", b"msf1", b"avif")


def read_pages(data: bytes, file: str) -> Iterator[Pixels]:
    """Read the pictures in a file, one after the other. CannotRun for a file that isn't a picture, or is too large."""
    if _is_phone_format(data[:12]):
        raise _report_refused(file, "it is in a form that cannot be read here (HEIC or AVIF): save or send it as JPEG")
    yield from _draw_pdf_pages(data, file) if b"%PDF-" in data[:1024] else _read_frames(data, file)


def _read_frames(data: bytes, file: str) -> Iterator[Pixels]:
    from PIL import Image, ImageOps, ImageSequence
    from PIL.ExifTags import Base

    Image.MAX_IMAGE_PIXELS = MOST_MEGAPIXELS * 10**6
    with warnings.catch_warnings():
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        try:
            with Image.open(BytesIO(data), formats=FORMATS) as opened:
                for number, frame in enumerate(ImageSequence.Iterator(opened), 1):
                    if number > MOST_PAGES:
                        raise _report_refused(file, f"it holds more than {MOST_PAGES} pictures")
                    if opened.format == "MPO" and number > 1:
                        break  # a second view of the same picture
                    turned = frame.getexif().get(Base.Orientation) in ON_ITS_SIDE  # before it is loaded, and turned
                    yield _flatten_image(_square_dots(ImageOps.exif_transpose(frame), turned=turned))
        except (Image.DecompressionBombWarning, Image.DecompressionBombError) as error:
            raise _report_refused(file, f"a picture in it is larger than {MOST_MEGAPIXELS} megapixels") from error
        except (OSError, SyntaxError, ValueError, EOFError) as error:
            raise _report_refused(
                file, f"it is not a readable picture ({' '.join(str(error).split())[:80]})"
            ) from error


def _square_dots(image: Any, *, turned: bool) -> Any:
    """Repeat the rows of a fax of standard resolution (204 × 98 dots to an inch, ITU-T T.4, from memory), that its dots
    become as high as they are wide. turned: rows and columns have changed places since its resolution was stated."""
    across, down = (float(v) for v in image.info.get("dpi", (1, 1)))
    if not (down > 0 and ONE_WAY[0] <= across / down <= ONE_WAY[1]):
        return image
    wide, high = image.size
    more = across / down
    return image.resize((round(wide * more), high) if turned else (wide, round(high * more)))


def _flatten_image(image: Any) -> Pixels:
    """Put an image on white, no larger than needed."""
    from PIL import Image

    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        clear = image.convert("RGBA")
        image = Image.new("RGB", clear.size, "white")
        image.paste(clear, mask=clear.getchannel("A"))
    if image.mode in ("I;16", "I;16B", "I", "F"):
        values = np.asarray(image, dtype=np.float64)
        most = max(float(values.max(initial=1.0)), 1.0)
        image = Image.fromarray((values / most * 255).astype(np.uint8))
    if max(image.size) > LONGEST_SIDE:
        image = image.convert("RGB" if image.mode != "1" else "L")
        image.thumbnail((LONGEST_SIDE, LONGEST_SIDE), Image.Resampling.BOX)
    return np.asarray(image.convert("RGB"))


def _draw_pdf_pages(data: bytes, file: str) -> Iterator[Pixels]:
    """Draw pages with their notes and fields, as a viewer shows them."""
    import pypdfium2

    try:
        pdf = pypdfium2.PdfDocument(data)
    except pypdfium2.PdfiumError as error:
        raise _report_refused(file, "it is not a readable PDF") from error
    if len(pdf) > MOST_PAGES:
        raise _report_refused(file, f"it has more than {MOST_PAGES} pages")
    pdf.init_forms()
    for page in pdf:
        longest = max(page.get_size())
        scale = min(PDF_DPI / 72, LONGEST_SIDE / max(longest, 1.0))
        yield np.asarray(page.render(scale=scale, may_draw_forms=True).to_pil().convert("RGB"))
        page.close()


def _report_refused(file: str, found: str) -> CannotRun:
    remedy = "ask for the pages as a scan or photograph in a common form"
    return CannotRun(Fault(where=file, found=found, expected=WHAT, remedy=remedy))
