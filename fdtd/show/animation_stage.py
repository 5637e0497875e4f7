"""The pictures of an animation: everything that stands still is drawn once, every picture then adds colours and
time."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from matplotlib import colormaps, get_data_path
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from fdtd.listening.animation import Plane
from fdtd.listening.animation_make import Animation
from fdtd.scene.schema import Scene, Variant
from fdtd.show.animation_layout import EDGE, Box, Layout, animation_layout
from fdtd.show.animation_still import draw_still
from fdtd.show.geometry import View
from fdtd.show.plane_field import Air, Picture, plane_air
from fdtd.show.style import figure_style, look

CLOCK_SIZE = 9.0
"""Points."""
LINE = 0.012
"""Inches, width of the line that marks the time."""
SHADES = 256
PROGRESS = 0.03
"""Inches, height of the bar along the lower edge."""


def shades(name: str) -> NDArray[np.uint8]:
    """(256, 3) colours of the map `name`."""
    return (255.0 * colormaps[name](np.linspace(0.0, 1.0, SHADES))[:, :3] + 0.5).astype(np.uint8)


class PlanePixels:
    """The pixels of one panel: values stand at the middles of the cells and run smoothly between them."""

    def __init__(
        self, plane: Plane, air: Air, limits: tuple[float, float, float, float], size: tuple[int, int]
    ) -> None:
        """limits : left, right, bottom, top of the panel, m; size : its width and height, pixels."""
        left, right, bottom, top = limits
        wide, high = self.size = size
        across = left + (np.arange(wide) + 0.5) / wide * (right - left)
        up = bottom + (np.arange(high) + 0.5) / high * (top - bottom)
        self.plane, self.picture = plane, Picture(air, across, up)

    def colours(self, values: NDArray[np.float32], low: float, high: float, table: NDArray[np.uint8]) -> Any:
        """(height, width, 3) uint8 of `values` (cell,) on the scale from `low` to `high`."""
        shown = self.picture(self.plane.grid(values)).T[::-1]
        step = (shown - low) * (SHADES / (high - low))
        return table[np.clip(step, 0, SHADES - 1).astype(np.uint8)]


class Stage:
    """Makes the pictures of an animation, in any order; `picture(k)` is an RGB image of `layout.pixels`."""

    def __init__(
        self,
        animation: Animation,
        scene: Scene,
        variants: tuple[Variant, ...],
        theme: str = "light",
        size: tuple[int, int | None] | None = None,
    ) -> None:
        """variants : the scene's, one for each of the animation's."""
        self.animation = animation
        views = tuple(View(plane.axis, plane.position) for plane in animation.planes[0])
        self.layout = animation_layout(scene, views, len(animation.names), len(animation.seats), size)
        with figure_style(theme):
            self.table = shades(look().signed_colours if animation.signed else look().level_colours)
            self.paper, self.ink, self.muted, self.grid = look().paper, look().ink, look().muted, look().grid
            figure = Figure(figsize=self.layout.inches, dpi=self.layout.dots)
            canvas = FigureCanvasAgg(figure)
            traces, lines = draw_still(figure, animation, scene, variants, views, self.layout)
            paper = Image.new("RGBA", self.layout.pixels, look().paper)
            full = _render(canvas, self.layout)
            for line in lines:
                line.set_alpha(0.22)
            ghost = _render(canvas, self.layout)
            self.strips = [_strip(axes, self.layout) for axes in traces]
        self.full = Image.alpha_composite(paper, full).convert("RGB")
        self.base = self.full if animation.timing.loops else Image.alpha_composite(paper, ghost).convert("RGB")
        self._panels(ghost, scene, variants)
        name = f"{get_data_path()}/fonts/ttf/DejaVuSans.ttf"
        self.font = ImageFont.truetype(name, max(8, round(CLOCK_SIZE / 72.0 * self.layout.dots)))

    def _panels(self, still: Image.Image, scene: Scene, variants: tuple[Variant, ...]) -> None:
        """For each variant and view: where it is, its pixels, what is drawn over them, and its cells."""
        self.panels: list[tuple[int, tuple[int, int], PlanePixels, Image.Image, slice]] = []
        for k, boxes in enumerate(self.layout.panels):
            start = 0
            for plane, box, limits in zip(self.animation.planes[k], boxes, self.layout.limits, strict=True):
                left, upper, right, lower = _pixels(box, self.layout)
                there = np.isfinite(plane.grid(np.ones(len(plane.place), np.float32)))
                air = plane_air(plane.edges, there, scene, variants[k], View(plane.axis, plane.position))
                pixels = PlanePixels(plane, air, limits, (right - left, lower - upper))
                rows = slice(start, start + len(plane.place))
                start = rows.stop
                over = still.crop((left, upper, right, lower))
                self.panels.append((k, (left, upper), pixels, over, rows))

    def __len__(self) -> int:
        return len(self.animation.timing.times)

    def __iter__(self) -> Iterator[Image.Image]:
        return (self.picture(k) for k in range(len(self)))

    def picture(self, number: int) -> Image.Image:
        """Picture `number`; of an animation that loops they go round."""
        animation = self.animation
        number = number % len(self) if animation.timing.loops else number
        image = self.base.copy()
        for variant, place, pixels, over, rows in self.panels:
            colours = pixels.colours(animation.values[variant][number, rows], animation.low, animation.high, self.table)
            panel = Image.fromarray(colours)
            panel.paste(over, (0, 0), over)
            image.paste(panel, place)
        time = float(animation.timing.times[number])
        pen = ImageDraw.Draw(image)
        for left, upper, right, lower, scale in self.strips:
            now = min(left + round(time * scale), right)
            if not animation.timing.loops and now > left:
                image.paste(self.full.crop((left, upper, now, lower)), (left, upper))
            half = max(1, round(0.5 * LINE * self.layout.dots))
            pen.rectangle((now - half, upper, now + half - 1, lower - 1), fill=self.ink)
        self._time(pen, time, number)
        return image

    def _time(self, pen: ImageDraw.ImageDraw, time: float, number: int) -> None:
        """The clock, and the bar along the lower edge."""
        wide, tall = self.layout.pixels
        dots = self.layout.dots
        text = f"{1e3 * time:.1f} ms" if self.animation.timing.length < 1.0 else f"{time:.2f} s"
        pen.text((wide - EDGE * dots, 0.07 * dots), text, fill=self.ink, font=self.font, anchor="ra")
        high = max(2, round(PROGRESS * dots))
        done = round(wide * (number + 1) / len(self))
        pen.rectangle((0, tall - high, wide, tall), fill=self.grid)
        pen.rectangle((0, tall - high, done, tall), fill=self.muted)


def _pixels(box: Box, layout: Layout) -> tuple[int, int, int, int]:
    """left, upper, right, lower of a box in pixels from the upper left corner."""
    left, bottom, wide, high = (layout.dots * value for value in box)
    tall = layout.pixels[1]
    return round(left), round(tall - bottom - high), round(left + wide), round(tall - bottom)


def _render(canvas: FigureCanvasAgg, layout: Layout) -> Image.Image:
    canvas.draw()
    pixels: NDArray[np.uint8] = np.asarray(canvas.buffer_rgba()).copy()
    image = Image.fromarray(pixels)
    return image if image.size == layout.pixels else image.crop((0, 0, *layout.pixels))


def _strip(axes: Any, layout: Layout) -> tuple[int, int, int, int, float]:
    """Pixels of the inside of a trace's axes, and pixels a second."""
    frame = axes.get_window_extent()
    tall = layout.pixels[1]
    low, high = axes.get_xlim()
    return (
        round(frame.x0),
        round(tall - frame.y1),
        round(frame.x1),
        round(tall - frame.y0),
        frame.width / (high - low),
    )
