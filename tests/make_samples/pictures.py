"""Create the pictures of the README from a run of `sample_orders/seabird-trust`: a page of the proof and a cut file.

Run from the project's root: `python tests/make_samples/pictures.py`. Each picture contains the fingerprint of the
plaque it shows, which a test compares with the order's.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

import ezdxf
import matplotlib.pyplot as plt
import pypdfium2
from ezdxf.addons.drawing import Frontend, RenderContext
from ezdxf.addons.drawing.config import BackgroundPolicy, ColorPolicy, Configuration, LineweightPolicy
from ezdxf.addons.drawing.matplotlib import MatplotlibBackend
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from pipeline.run import run_order

ORDER = Path(__file__).resolve().parents[2] / "sample_orders" / "seabird-trust"
TARGET = ORDER / "pictures"
ROW = 5
SHADES = 64
"""Colours of a picture: enough for two flat drawings, and a quarter of the size."""
WIDTH = 700
KEY = "Fingerprint"


def main() -> None:
    """Run the order in a temporary folder and write both pictures."""
    with tempfile.TemporaryDirectory() as name:
        folder = shutil.copytree(ORDER, Path(name) / "order", ignore=shutil.ignore_patterns("out", "signoff.sqlite*"))
        done = run_order(folder)
        plaque = next(p for p in done.report["plaques"] if p["row"] == ROW)
        out = folder / "out"
        TARGET.mkdir(exist_ok=True)
        save(proof_page(out / "proof.pdf", plaque["fingerprint"]), "proof-page.png", plaque["fingerprint"])
        save(cut_file(out / plaque["cut_file"], Path(name)), "cut-file.png", plaque["fingerprint"])


def proof_page(proof: Path, fingerprint: str) -> Image.Image:
    """Return the page of the proof that shows the plaque."""
    pages = pypdfium2.PdfDocument(proof)
    page = next(page for page in pages if fingerprint in page.get_textpage().get_text_range())
    return page.render(scale=WIDTH / page.get_width(), may_draw_forms=True).to_pil()


def cut_file(path: Path, scratch: Path) -> Image.Image:
    """Return the cut file as another program draws it, black on white."""
    document = ezdxf.readfile(path)
    figure = plt.figure(figsize=(7, 8.2))
    axes = figure.add_axes((0.02, 0.02, 0.96, 0.96))
    settings = Configuration(
        background_policy=BackgroundPolicy.WHITE,
        color_policy=ColorPolicy.COLOR,
        lineweight_policy=LineweightPolicy.RELATIVE_FIXED,
        lineweight_scaling=0.7,
    )
    Frontend(RenderContext(document), MatplotlibBackend(axes), config=settings).draw_layout(document.modelspace())
    figure.savefig(scratch / "cut.png", dpi=170)
    plt.close(figure)
    return Image.open(scratch / "cut.png")


def save(picture: Image.Image, name: str, fingerprint: str) -> None:
    """Write a small PNG that contains the fingerprint of what it shows."""
    said = PngInfo()
    said.add_text(KEY, fingerprint)
    picture.convert("RGB").quantize(SHADES).save(TARGET / name, optimize=True, pnginfo=said)
    print(f"{TARGET / name}: {(TARGET / name).stat().st_size // 1000} kB")


if __name__ == "__main__":
    main()
