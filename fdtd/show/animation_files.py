"""Write an animation picture by picture: GIF and animated WebP (Pillow), MP4 and WebM (an encoder of its own), single
PNGs.

Pictures are made one at a time and handed on at once; none of the writers holds more than a few of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from PIL import GifImagePlugin, Image, ImageColor

from fdtd.results.files import replaced_file, replaced_folder
from fdtd.show.animation_stage import Stage
from fdtd.show.animation_video import VIDEO, write_video
from fdtd.show.png import png_bytes

FORMATS = ("mp4", "webm", "gif", "webp", "png")
SHADES = 170
"""Of the 256 colours of a GIF, those for the colour scale."""
NEAR = 12
"""Difference of colours, of 255, below which one stands for both."""
SHORTEST_DELAY = 2
"""Hundredths of a second; many programs show GIF pictures that follow faster than this much more slowly."""

Report = Callable[[int], None]
"""Called with the number of pictures that are done."""


def write_animation(
    stage: Stage, folder: Path, stem: str, kind: str, report: Report | None = None, sound: Path | None = None
) -> Path:
    """Write the animation as `folder`/`stem`.`kind` ("png": a folder of pictures) and return its path.

    sound : WAV file to go with MP4 or WebM. Complete or not at all.
    Raises FdtdError if a video is wanted and there is no encoder, or if it fails; UnwritableError.
    """
    tell = report or (lambda done: None)
    if kind == "png":
        return _pictures(stage, folder / f"{stem}-pictures", tell)
    path = folder / f"{stem}.{kind}"
    with replaced_file(path) as temporary:
        if kind in VIDEO:
            _video(stage, temporary, kind, tell, sound)
        elif kind == "gif":
            with open(temporary, "wb") as stream:
                _gif(stage, stream, tell)
        else:
            _webp(stage, temporary, tell)
    return path


def _pictures(stage: Stage, folder: Path, tell: Report) -> Path:
    """A folder of PNGs, numbered from 1; an older one of that name is replaced when all are there."""
    digits = max(4, len(str(len(stage))))
    with replaced_folder(folder) as made:
        for k, picture in enumerate(stage):
            (made / f"{k + 1:0{digits}d}.png").write_bytes(png_bytes(picture, compress_level=3))
            tell(k + 1)
    return folder


def _video(stage: Stage, path: Path, kind: str, tell: Report, sound: Path | None) -> None:
    def pictures() -> Iterator[bytes]:
        for k, picture in enumerate(stage):
            yield picture.tobytes()
            tell(k + 1)

    write_video(pictures(), stage.layout.pixels, stage.animation.timing.rate, path, kind, sound)


def _gif(stage: Stage, stream: BinaryIO, tell: Report) -> None:
    """Pillow's own way of saving a GIF keeps all pictures until the end; its parts are used one by one instead."""
    palette = _palette(stage)
    rate, shown, before = stage.animation.timing.rate, 0, None
    for k, picture in enumerate(stage):
        one = picture.quantize(palette=palette, dither=Image.Dither.NONE)
        # Delays count in hundredths of a second: rounded so that the animation keeps its length.
        delay = max(SHORTEST_DELAY, round(100.0 * (k + 1) / rate) - shown)
        shown += delay
        if before is None:
            stream.writelines(GifImagePlugin.getheader(one, info={"loop": 0, "duration": 10 * delay})[0])
            box: tuple[int, int, int, int] = (0, 0, *one.size)
        else:
            changed = np.asarray(one) != np.asarray(before)
            box = _bounds(changed)
        stream.writelines(GifImagePlugin.getdata(one.crop(box), box[:2], duration=10 * delay))
        before = one
        tell(k + 1)
    stream.write(b";")


def _bounds(changed: Any) -> tuple[int, int, int, int]:
    """Smallest box around all True; one pixel if there is none."""
    rows, columns = np.flatnonzero(changed.any(axis=1)), np.flatnonzero(changed.any(axis=0))
    if len(rows) == 0:
        return 0, 0, 1, 1
    return int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1


def _palette(stage: Stage) -> Image.Image:
    """256 colours for all pictures: those of the paper and the ink, of the colour scale and of what stands still."""
    plain = [value for name in (stage.paper, stage.ink, stage.muted, stage.grid) for value in ImageColor.getrgb(name)]
    shades = stage.table[np.linspace(0, len(stage.table) - 1, SHADES).astype(int)].ravel().tolist()
    room = 256 - SHADES - len(plain) // 3
    still = stage.full.quantize(room, dither=Image.Dither.NONE).getpalette() or []
    # Colours next to those of the paper and the ink would be taken for them, because Pillow looks up rounded colours.
    near = np.abs(np.reshape(still, (-1, 1, 3)) - np.reshape(plain, (1, -1, 3))).max(axis=2).min(axis=1) < NEAR
    colours = (plain + shades + np.reshape(still, (-1, 3))[~near].ravel().tolist())[:768]
    palette = Image.new("P", (1, 1))
    palette.putpalette(colours + plain[:3] * (256 - len(colours) // 3))
    return palette


class _Later(Image.Image):
    """All pictures but the first, made when the writer asks for them."""

    def __init__(self, stage: Stage, tell: Report) -> None:
        first = stage.picture(0)
        super().__init__()
        self.im, self._mode, self._size = first.im, first.mode, first.size
        self.stage, self.report = stage, tell
        self.n_frames = len(stage) - 1

    def seek(self, frame: int) -> None:
        self.im = self.stage.picture(frame + 1).im
        self.report(frame + 2)

    def tell(self) -> int:
        return 0


def _webp(stage: Stage, path: Path, tell: Report) -> None:
    count, rate = len(stage), stage.animation.timing.rate
    ends = [round(1e3 * (k + 1) / rate) for k in range(count)]
    lengths = [b - a for a, b in zip([0, *ends[:-1]], ends, strict=True)]
    stage.picture(0).save(
        path,
        format="WEBP",
        save_all=True,
        append_images=[_Later(stage, tell)],
        duration=lengths,
        loop=0,
        quality=80,
        method=0,
        kmin=0,
        kmax=10_000,
    )
