"""Write figures to files: PNG for looking at, SVG for documents."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterator
from functools import partial
from itertools import chain
from pathlib import Path

from matplotlib.figure import Figure

from fdtd.errors import FdtdError
from fdtd.listening.study import Listening
from fdtd.results.files import replaced_file
from fdtd.results.result import RunResult
from fdtd.results.store import read_result
from fdtd.scene.read import read_scene_text
from fdtd.scene.schema import Scene
from fdtd.show.maps import draw_plan_maps, draw_section_maps
from fdtd.show.plan import draw_plan
from fdtd.show.resonances import draw_band_decay, draw_resonances
from fdtd.show.responses import draw_responses
from fdtd.show.style import figure_style
from fdtd.show.tails import draw_tail
from fdtd.show.time_frequency import draw_group_delay, draw_short_time

DOTS_PER_INCH = 200


def safe_file_name(text: str, limit: int = 40) -> str:
    """`text` as part of a file name on any system: letters, digits, '-' and '.', at most `limit` characters."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.sub(r"[^A-Za-z0-9.]+", "-", plain)[:limit].strip("-.").lower()


def save_figure(figure: Figure, folder: str | Path, stem: str) -> list[Path]:
    """Write `figure` as `folder`/`stem`.png (200 dots an inch) and .svg, each complete or not at all.

    Raises FdtdError if a file cannot be written.
    """
    written = []
    for suffix in (".png", ".svg"):
        path = Path(folder) / f"{stem}{suffix}"
        metadata = {"Date": None} if suffix == ".svg" else {}
        try:
            with figure_style(), replaced_file(path) as temporary:
                figure.savefig(temporary, format=suffix[1:], dpi=DOTS_PER_INCH, metadata=metadata)
        except OSError as error:
            raise FdtdError(
                f"{path}: the figure could not be written ({error}); "
                "check that the folder may be written to and that the disk has room"
            ) from error
        written.append(path)
    return written


def save_figures(
    result: RunResult,
    scene: Scene,
    folder: str | Path,
    listening: Listening | None = None,
    smoothing: float | None = None,
) -> list[Path]:
    """Write the plan of every variant, the responses of every seat and all maps to `folder`; returns the files.

    listening : what `listen` made of the same result, to draw resonances, decays, tails and delays as well
    smoothing : n, responses are smoothed over 1/n octave
    """
    written: list[Path] = []
    for stem, draw in chain(_figures(result, scene, smoothing), _listening_figures(result, listening)):
        written += save_figure(draw(), folder, stem)
    return written


def redraw(result_path: str | Path, folder: str | Path) -> list[Path]:
    """Draw all figures again from a result file alone; returns the files.

    Raises ResultFileError if it cannot be read, SceneError if its scene is not one that this version reads.
    """
    result = read_result(result_path)
    return save_figures(result, read_scene_text(result.scene_text, str(result_path)), folder)


def _figures(result: RunResult, scene: Scene, smoothing: float | None) -> Iterator[tuple[str, Callable[[], Figure]]]:
    """(file stem, how to draw it); numbers in the stems keep them apart whatever the names are."""
    for k, variant in enumerate(scene.variants):
        yield _stem("room", k + 1, variant.name), lambda k=k: draw_plan(scene, k)  # type: ignore[misc]
    for k, seat in enumerate(result.seats):
        yield _stem("response", k + 1, seat), lambda k=k: draw_responses(result, k, smoothing=smoothing)  # type: ignore[misc]
    for k, frequency in enumerate(result.map_frequency):
        name = f"{frequency:.1f}hz"
        yield _stem("map-plan", k + 1, name), lambda k=k: draw_plan_maps(result, scene, k)  # type: ignore[misc]
        yield _stem("map-section", k + 1, name), lambda k=k: draw_section_maps(result, scene, k)  # type: ignore[misc]


def _listening_figures(result: RunResult, heard: Listening | None) -> Iterator[tuple[str, Callable[[], Figure]]]:
    """The pictures over frequency and time compare two variants each: the first one with every other."""
    if heard is None:
        return
    yield "resonances", partial(draw_resonances, heard)
    for k, seat in enumerate(heard.seats):
        yield _stem("decay", k + 1, seat), partial(draw_band_decay, heard, k)
        yield _stem("group-delay", k + 1, seat), partial(draw_group_delay, result, heard, k)
        for other in range(1, len(heard.variants)) or [0]:
            # The other variant's number stands before the names, which may be cut short.
            number = f"{k + 1}-{other + 1}" if len(heard.variants) > 2 else str(k + 1)
            name = f"{seat} {heard.variants[other].name}" if len(heard.variants) > 2 else seat
            yield _stem("tail", number, name), partial(draw_tail, result, heard, k, other)
            yield _stem("short-time", number, name), partial(draw_short_time, result, heard, k, other)


def _stem(kind: str, number: int | str, name: str) -> str:
    return "-".join(part for part in (kind, str(number), safe_file_name(name)) if part)
