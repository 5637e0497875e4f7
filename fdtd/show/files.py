"""Write figures to files: PNG for looking at, SVG for documents, their captions beside them."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from matplotlib.cm import ScalarMappable
from matplotlib.figure import Figure

from fdtd import __version__
from fdtd.results.files import replaced_file
from fdtd.results.result import RunResult
from fdtd.results.store import read_result
from fdtd.scene.read import read_scene_text
from fdtd.scene.schema import Scene
from fdtd.show.drawing import Drawing
from fdtd.show.png import png_of
from fdtd.show.style import DARK, LIGHT, figure_style
from fdtd.show.svg import svg_of
from fdtd.show.text import paragraph

# Commands that look for it here find it here.
from fdtd.show.text import safe_file_name as safe_file_name

if TYPE_CHECKING:
    from fdtd.listening.study import Listening

CAPTIONS = "captions.txt"


def save_figure(
    figure: Figure, folder: str | Path, stem: str, *, title: str = "", caption: str = "", alternative: str = ""
) -> list[Path]:
    """Write `figure` as `folder`/`stem`.png (300 dots an inch) and .svg, each complete or not at all.

    title : heading; alternative : what is seen, for somebody who can't see it; caption : used where that is missing
    They stand in the files: as text tiles Title, Description and Comment of the PNG, as <title> and <desc> of the SVG.

    Raises UnwritableError if a file cannot be written.
    """
    sentence = {"Title": title, "Description": alternative or caption, "Comment": caption if alternative else ""}
    metadata = {key: paragraph(text) for key, text in sentence.items() if text} | {"Software": f"fdtd {__version__}"}
    written = []
    for suffix in (".png", ".svg"):
        path = Path(folder) / f"{stem}{suffix}"
        with figure_style(), replaced_file(path) as temporary:
            if suffix == ".png":
                temporary.write_bytes(png_of(figure, metadata))
            else:
                text = svg_of(figure, safe_file_name(stem, 200), title, alternative or caption)
                temporary.write_text(f'<?xml version="1.0" encoding="utf-8"?>\n{text}\n', encoding="utf-8")
        written.append(path)
    return written


def save_drawings(
    drawings: Sequence[Drawing], folder: str | Path, theme: str = "light", captions: str | None = CAPTIONS
) -> list[Path]:
    """Draw and write all of `drawings`, and their captions and alternative texts as a text; returns the files.

    Captions that another command left in the same folder stay, as long as their figures do.

    theme : "light" or "dark"; captions : file name of the text; None: without, they only stand in the figures
    """
    written: list[Path] = []
    for one in drawings:
        with figure_style(theme):
            written += save_figure(
                one.draw(), folder, one.stem, title=one.title, caption=one.caption, alternative=one.alternative
            )
    if drawings and captions is not None:
        written.append(_write_captions(drawings, Path(folder) / captions))
    return written


def _write_captions(drawings: Sequence[Drawing], path: Path) -> Path:
    blocks = _other_captions(path, {one.stem for one in drawings})
    for one in drawings:
        lines = [f"{one.stem}.png, {one.stem}.svg", f"Title: {one.title}", f"Caption: {one.caption}"]
        lines.append(f"Alternative text: {one.alternative}")
        blocks.append("\n".join(textwrap.fill(paragraph(line), 110, subsequent_indent="    ") for line in lines))
    with replaced_file(path) as temporary:
        temporary.write_text("\n\n".join(blocks) + "\n", encoding="utf-8")
    return path


def _other_captions(path: Path, stems: set[str]) -> list[str]:
    """What the text of captions says of figures that are still there and not drawn anew."""
    try:
        blocks = path.read_text(encoding="utf-8").strip().split("\n\n")
    except (OSError, UnicodeDecodeError):
        return []
    kept = []
    for block in blocks:
        picture, found, _ = block.partition(".png, ")
        if found and picture not in stems and (path.parent / f"{picture}.png").is_file():
            kept.append(block)
    return kept


def svg_texts(drawing: Drawing) -> tuple[str, str]:
    """`drawing` as SVG text to stand in an HTML page: vector, ids begin with its stem, no style sheet, no links.

    Twice: in light colours; with the rasters in the colours of the dark theme, the same text if it has none of them.
    """
    with figure_style("light"):
        figure = drawing.draw()
        light = svg_of(figure, drawing.stem, drawing.title, drawing.alternative)
        coloured = (one for one in figure.findobj() if isinstance(one, ScalarMappable))
        signed = [one for one in coloured if one.get_cmap().name == LIGHT.signed_colours]
        if "<image" not in light or not signed:
            return light, light
        figure.set_layout_engine("none")  # everything has its place now
        for one in signed:
            one.set_cmap(DARK.signed_colours)
        return light, svg_of(figure, drawing.stem, drawing.title, drawing.alternative)


def save_figures(
    result: RunResult,
    scene: Scene,
    folder: str | Path,
    listening: Listening | None = None,
    smoothing: float | None = None,
    theme: str = "light",
    width: str | float | None = None,
) -> list[Path]:
    """Write the plan of every variant, the responses of every seat and all maps to `folder`; returns the files.

    listening : what `listen` made of the same result, to draw resonances, decays, tails and delays as well
    smoothing : n, responses are smoothed over 1/n octave; theme : "light" or "dark"; width : see `run_drawings`
    """
    from fdtd.show.drawings import run_drawings  # loads much of SciPy, which other drawings do not need

    return save_drawings(run_drawings(result, scene, listening, smoothing, width), folder, theme)


def redraw(result_path: str | Path, folder: str | Path) -> list[Path]:
    """Draw all figures again from a result file alone; returns the files.

    Raises ResultFileError if it cannot be read, SceneError if its scene is not one that this version reads.
    """
    result = read_result(result_path)
    return save_figures(result, read_scene_text(result.scene_text, str(result_path)), folder)
