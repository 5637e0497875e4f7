"""PNG of a figure or picture, made in memory: Pillow tells nothing of the cause when it can't write to a file."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image
from PIL.PngImagePlugin import PngInfo

DOTS_PER_INCH = 300
"""What journals ask for."""
PACKED = 4
"""How hard figures are compressed: 6 takes twice as long for a few per cent."""


def png_of(figure: Figure, sentence: dict[str, str]) -> bytes:
    """`figure` as a PNG with `words` as text tiles.

    Not `savefig`, which draws everything twice and stores a fourth channel that is opaque everywhere.
    """
    before = figure.dpi
    figure.set_dpi(DOTS_PER_INCH)
    try:
        canvas = FigureCanvasAgg(figure)
        canvas.draw()
        figure.set_layout_engine("none")  # everything has its place now: no need to work it out again
        tiles = PngInfo()
        for key, text in sentence.items():
            tiles.add_itxt(key, text) if not text.isascii() else tiles.add_text(key, text)
        picture = Image.fromarray(np.ascontiguousarray(np.asarray(canvas.buffer_rgba())[..., :3]))
        return png_bytes(picture, dpi=(DOTS_PER_INCH, DOTS_PER_INCH), pnginfo=tiles, compress_level=PACKED)
    finally:
        figure.set_dpi(before)


def png_bytes(picture: Image.Image, **options: Any) -> bytes:
    """`picture` as a PNG; options : of Pillow's PNG writer."""
    buffer = io.BytesIO()
    picture.save(buffer, "PNG", **options)
    return buffer.getvalue()
