"""The sound in the room as a moving picture: what is asked for, and the files made of it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from fdtd.errors import FdtdError, OptionError
from fdtd.listening.animation_audible import audible, write_audible
from fdtd.listening.animation_make import Animation, make_animation, make_steady
from fdtd.listening.animation_signals import Signal, pulse_signal, read_sound, sound_signal, tone_signal
from fdtd.listening.animation_times import PULSE_SLOW, Timing, even_times, loop_times, stroboscope_times
from fdtd.ports.units import active_absorbers
from fdtd.report.loading import scene_of_run
from fdtd.results.result import RunResult
from fdtd.results.store import read_result
from fdtd.scene.read import read_scene
from fdtd.scene.schema import Scene, Variant
from fdtd.scene.text import one_line
from fdtd.settings import LOWEST_FREQUENCY, checked_grid, checked_theme
from fdtd.show.animation_files import FORMATS, write_animation
from fdtd.show.animation_stage import Stage
from fdtd.show.animation_video import encoder, missing_encoder
from fdtd.show.geometry import outlines, plan_view, scene_section
from fdtd.show.text import safe_file_name
from fdtd.study.animation import animation_fields, stored_fields

SECONDS, LOOP_SECONDS = 10.0, 4.0
ON_SHARE = 0.5
HDF5 = b"\x89HDF\r\n\x1a\n"
"""How a result file begins."""
LIMIT = 4
"""Variants side by side, at most."""


@dataclass(frozen=True)
class Given:
    """variants : of the scene, to be shown; cuts : (axis, m) of plan and section; result : None for a scene file."""

    scene: Scene
    variants: tuple[Variant, ...]
    cuts: tuple[tuple[int, float], ...]
    result: RunResult | None


@dataclass(frozen=True)
class AnimationRequest:
    """What is played and shown: a pulse if none of tone, sound and steady is given.

    tone : Hz, switched on, and off after `on` s; sound : WAV file; steady : Hz, from a pressure map of a result
    seconds : length of the animation; rate : pictures a second; slow : times slower than in the room
    show : "pressure" or "level", None: level for a sound, else pressure; grid : m
    """

    tone: float | None = None
    sound: Path | None = None
    steady: float | None = None
    seconds: float | None = None
    rate: float = 30.0
    slow: float | None = None
    on: float | None = None
    show: str | None = None
    grid: float | None = None

    @property
    def level(self) -> bool:
        """Whether the running level is shown."""
        return self.show == "level" or (self.show is None and self.sound is not None)


@dataclass(frozen=True, eq=False)
class AnimationFiles:
    """animation : what is shown; pictures : how many; pixels : width and height; files, sounds : written"""

    animation: Animation
    pictures: int
    pixels: tuple[int, int]
    files: tuple[Path, ...]
    sounds: tuple[Path, ...]


def animate(
    source: str | Path,
    folder: str | Path,
    asked: AnimationRequest | None = None,
    *,
    variants: str | None = None,
    height: float | None = None,
    section: str | None = None,
    formats: tuple[str, ...] | None = None,
    size: tuple[int, int | None] | None = None,
    theme: str = "light",
    progress: Callable[[float, str], None] | None = None,
) -> AnimationFiles:
    """Write moving pictures of the sound in the plan and a section of the room to `folder`.

    source : a scene file, or the result file of a run; variants : names, such as "off,on" (default: the first two)
    height : m, of the plan; section : such as "y=1.5"; formats : any of mp4, webm, gif, webp, png (default: mp4 if its
    encoder is installed, else webp); size : pixels, even numbers
    Raises OptionError for what does not go together or is out of range.
    """
    asked = asked or AnimationRequest()
    check_asked(asked)
    checked_theme(theme)
    kinds = checked_formats(formats)
    given = read_input(Path(source), variants, height, section, asked.steady is not None)
    check_tone(asked, given.scene)
    report = progress or (lambda done, message: None)
    return animate_given(given, asked, Path(folder), kinds, size, theme, report)


def animate_given(
    given: Given,
    asked: AnimationRequest,
    folder: Path,
    formats: tuple[str, ...],
    size: tuple[int, int | None] | None,
    theme: str,
    progress: Callable[[float, str], None],
) -> AnimationFiles:
    """Simulate, draw and write everything."""
    simulated = 0.0 if asked.steady is not None else 0.5
    animation, sounds, stem = animation_of(given, asked, folder, lambda d, m: progress(simulated * d, m))
    stage = Stage(animation, given.scene, given.variants, theme, size)
    files = []
    for k, kind in enumerate(formats):

        def tell(done: int, k: int = k, kind: str = kind) -> None:
            share = (k + done / len(stage)) / len(formats)
            progress(simulated + (1.0 - simulated) * share, f"{kind}: picture {done} of {len(stage)}")

        audible_first = sounds[0] if sounds and animation.timing.real else None
        files.append(write_animation(stage, folder, stem, kind, tell, audible_first))
    return AnimationFiles(animation, len(stage), stage.layout.pixels, tuple(files), tuple(sounds))


def check_asked(asked: AnimationRequest) -> None:
    """Raises OptionError for options that don't go together, or numbers out of range."""
    if sum(value is not None for value in (asked.tone, asked.sound, asked.steady)) > 1:
        raise OptionError("--tone, --sound and --steady: found several, expected one of them, or none for a pulse.")
    if asked.show not in (None, "pressure", "level"):
        raise OptionError(f"--show: found '{asked.show}', expected pressure or level.")
    if asked.steady is not None and asked.show == "level":
        raise OptionError("--show level: the level of a steady tone does not change; 'fdtd run' draws it as a map.")
    if asked.steady is not None and asked.grid is not None:
        raise OptionError("--grid: does not go with --steady; a map has the cells of its run ('fdtd run --grid').")
    checked_grid(asked.grid)
    if asked.on is not None and asked.tone is None:
        raise OptionError("--on: tells when --tone is switched off; there is no --tone.")
    for value, option, low, high, unit in (
        (asked.seconds, "--seconds", 0.1, 120.0, "s"),
        (asked.rate, "--rate", 1.0, 60.0, "pictures a second"),
        (asked.slow, "--slow", 0.1, 10000.0, "times slower"),
        (asked.on, "--on", 0.01, 60.0, "s"),
    ):
        if value is not None and not low <= value <= high:
            raise OptionError(f"{option}: found {value:g}, expected {low:g} to {high:g} {unit}.")


def check_tone(asked: AnimationRequest, scene: Scene) -> None:
    """Raises OptionError for a tone that the scene cannot show."""
    top = 0.9 * scene.run.max_frequency
    if asked.tone is not None and not LOWEST_FREQUENCY <= asked.tone <= top:
        raise OptionError(
            f"--tone: found {asked.tone:g} Hz, expected {LOWEST_FREQUENCY:g} to {top:g} Hz "
            "(the upper end is 0.9 of max_frequency under [run] in the scene)."
        )


def checked_formats(formats: tuple[str, ...] | None) -> tuple[str, ...]:
    """Wanted formats in the order given; raises OptionError for another one, or if there is no encoder for it."""
    if formats is None:
        return ("mp4",) if encoder() is not None else ("webp",)
    text = tuple(dict.fromkeys(formats))
    unknown = [word for word in text if word not in FORMATS]
    if unknown or not text:
        found = f"'{unknown[0]}'" if unknown else "nothing"
        raise OptionError(f"--formats: found {found}, expected any of {', '.join(FORMATS)}.")
    if reason := missing_encoder(text):
        raise OptionError(f"--formats: {reason}")
    return text


def read_input(source: Path, variants: str | None, height: float | None, section: str | None, steady: bool) -> Given:
    """Scene or result, the variants that are meant and the planes; raises FdtdError for what is not there."""
    try:
        with open(source, "rb") as stream:
            stored = stream.read(len(HDF5)) == HDF5
    except OSError:
        stored = False  # the reader of scenes says what is wrong
    result = read_result(source) if stored else None
    if steady and result is None:
        raise OptionError(
            f"--steady: needs the result of a run, found the scene {source}. Run it with 'fdtd run {source} "
            "--frequencies HZ' first, then give its result.h5."
        )
    # The run of a study's advice has variants that its scene does not: they are rebuilt.
    scene = read_scene(source) if result is None else scene_of_run(source, result)
    chosen = _chosen(scene, variants)
    plan = plan_view(chosen[0], height)
    cut = scene_section(scene) if section is None else None
    axis, position = (cut.normal, cut.position) if cut is not None else parse_section(section or "")
    corners = np.vstack(outlines(scene.room, plan))
    tallest = max(float(min(a + b * x + c * y for a, b, c in scene.room.ceiling)) for x, y in corners)
    if not 0.0 <= plan.position <= tallest:
        raise OptionError(f"--height: found {plan.position:g} m, expected 0 to {tallest:g} m.")
    low, high = corners[:, axis].min(), corners[:, axis].max()
    if not low <= position <= high:
        raise OptionError(f"--section: found {'xy'[axis]} = {position:g} m, expected {low:g} to {high:g} m.")
    return Given(scene, chosen, ((2, plan.position), (axis, position)), result)


def parse_section(text: str) -> tuple[int, float]:
    """Axis and position in m of 'x=2.5' or 'y=1.5'; raises OptionError for anything else."""
    name, _, number = text.replace(" ", "").partition("=")
    try:
        value = float(number)
    except ValueError:
        value = math.nan
    if name not in ("x", "y") or not math.isfinite(value):
        raise OptionError(f"--section: found '{text}', expected x or y and a position in metres, such as \"y=1.5\".")
    return "xy".index(name), value


def unchecked_units(given: Given) -> list[str]:
    """What to say about active units of a scene that no run has found stable."""
    if given.result is not None or not any(active_absorbers(v) for v in given.variants):
        return []
    return ["whether the active units are stable in this room is not checked here; 'fdtd run' does that"]


def _chosen(scene: Scene, names: str | None) -> tuple[Variant, ...]:
    if names is None:
        return scene.variants[:2]
    # A name may hold a comma: the whole text counts first.
    wanted = [names] if any(v.name == names for v in scene.variants) else [n.strip() for n in names.split(",")]
    there = {v.name: v for v in scene.variants}
    for name in wanted:
        if name not in there:
            listed = ", ".join(f"'{n}'" for n in there)
            raise OptionError(f"--variants: there is no variant '{name}'; the scene has {listed}.")
    if len(wanted) > LIMIT:
        raise OptionError(f"--variants: found {len(wanted)}, expected at most {LIMIT} side by side.")
    return tuple(there[name] for name in dict.fromkeys(wanted))


def animation_of(
    given: Given, asked: AnimationRequest, folder: Path, progress: Callable[[float, str], None]
) -> tuple[Animation, list[Path], str]:
    """The animation, the WAV files that were written for it, and the beginning of its file name."""
    seats = [[seat.name for seat in variant.seats] for variant in given.variants]
    if asked.steady is not None:
        assert given.result is not None
        names = [v.name for v in given.result.variants]
        numbers = [names.index(v.name) for v in given.variants]
        fields, tone = stored_fields(given.result, numbers, given.cuts, asked.steady)
        timing = loop_times(asked.seconds or LOOP_SECONDS, asked.rate, tone, asked.slow)
        everyone = [list(given.result.seats)] * len(fields)
        return make_steady(fields, everyone, tone, timing), [], f"animation-steady-{tone:.1f}hz"
    signal, timing, stem = _plan(given.scene, asked)
    grid = asked.grid or (given.result.grid if given.result is not None else None)
    found, frequency, spacing = animation_fields(
        given.scene,
        given.variants,
        given.cuts,
        signal,
        timing.length,
        grid=grid,
        progress=progress,
    )
    top = given.scene.run.max_frequency
    animation = make_animation(found, seats, signal, frequency, spacing, timing, top, asked.level)
    if signal.kind != "sound":
        return animation, [], stem
    paths = [
        [
            folder / f"{stem}-{k + 1}-{safe_file_name(seat, 24)}-{n + 1}-{safe_file_name(variant.name, 24)}.wav"
            for k, seat in enumerate(seats[n])
        ]
        for n, variant in enumerate(given.variants)
    ]
    length = max(timing.length, signal.length)
    return animation, write_audible(audible(found, signal, frequency, spacing, length), paths), stem


def _plan(scene: Scene, asked: AnimationRequest) -> tuple[Signal, Timing, str]:
    """What is played and which moments are shown."""
    top = scene.run.max_frequency
    seconds = asked.seconds or SECONDS
    if asked.tone is not None:
        if asked.slow is None and not asked.level:
            timing = stroboscope_times(seconds, asked.rate, asked.tone)
        else:  # a level has no wave to be followed
            timing = even_times(seconds, asked.rate, asked.slow or 1.0)
        on = asked.on or ON_SHARE * timing.length
        return tone_signal(asked.tone, on), timing, f"animation-tone-{asked.tone:g}hz"
    if asked.sound is not None:
        slow = asked.slow or 1.0
        samples, rate = read_sound(asked.sound, seconds / slow)
        signal = sound_signal(samples, rate, top, one_line(asked.sound.name))
        if asked.seconds is None:
            seconds = min(seconds, (signal.length + 1.0) * slow)
        if signal.length < 0.05:
            raise FdtdError(f"--sound: {asked.sound} lasts {1e3 * signal.length:.0f} ms, too short to show.")
        return signal, even_times(seconds, asked.rate, slow), "animation-sound"
    return pulse_signal(top), even_times(seconds, asked.rate, asked.slow or PULSE_SLOW), "animation-pulse"
