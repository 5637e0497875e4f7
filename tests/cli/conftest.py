"""Stand-ins for the solver, the reader and the drawings, so that the command line is tested alone and quickly."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from types import ModuleType, SimpleNamespace

import numpy as np
import pytest
import typer

from fdtd.listening.study import Listening
from fdtd.results.result import CellGrid, RunResult, VariantResult
from fdtd.scene.schema import Absorber, Air, Rectangle, Room, RunSettings, Scene, Seat, Source, Variant
from fdtd.show.drawings import Drawing
from fdtd.wording.names import END, NAME, TYPED

FREQUENCY = np.arange(10.0, 200.5, 0.5)
SAMPLES = 2000
"""Of the impulse responses, in the 2 s that go with steps of 0.5 Hz."""
BOX_CELLS = CellGrid(
    edges=(np.array([0.0, 1.0, 2.0]), np.array([0.0, 1.0]), np.array([0.0, 1.0])),
    index=np.array([[0, 0, 0], [1, 0, 0]], dtype=np.int32),
    volume=np.ones(2),
)


def variant(name: str, absorbers: tuple[Absorber, ...] = (), changes: str = "") -> Variant:
    """A variant with one source and two seats."""
    return Variant(
        name,
        (),
        (),
        (),
        (),
        (Source("sub", (0.5, 0.5, 0.5)),),
        (Seat("sofa", (1.0, 0.5, 0.5)), Seat("desk", (1.5, 0.5, 0.5))),
        absorbers,
        (),
        (),
        changes,
    )


def make_scene() -> Scene:
    """Two variants; the second one has an absorber."""
    unit = Absorber("unit", "device", "floor", Rectangle((0.0, 0.0), (0.2, 0.2)))
    room = Room(((0.0, 0.0), (2.0, 0.0), (2.0, 1.0), (0.0, 1.0)), ((1.0, 0.0, 0.0),))
    variants = (variant("bare", changes="without unit"), variant("fitted", (unit,)))
    return Scene("Test room", Air(343.0, 1.2), room, (), variants, RunSettings(), text="scene = 1\n")


def resonance(frequency: float, damping: float) -> np.ndarray:
    """A single resonance of unit height times the free-field pressure, so that its peak is 0 dB plus the gain."""
    free = 2 * np.pi * FREQUENCY * 1.2 / (4 * np.pi)
    shape = damping / (damping + 1j * (FREQUENCY / frequency - frequency / FREQUENCY))
    return free * (0.1 + shape)


def make_result() -> RunResult:
    """Resonance at 40 Hz, 6 dB lower in the second variant, which also lacks the second seat."""

    def one(name: str, gain: float, seats: int) -> VariantResult:
        transfer = np.full((1, 2, FREQUENCY.size), np.nan + 1j * np.nan)
        transfer[0, :seats] = gain * resonance(40.0, 0.05)
        bins = np.zeros((1, 2, SAMPLES // 2 + 1), dtype=complex)
        bins[..., 20 : 20 + FREQUENCY.size] = transfer
        impulse = np.fft.irfft(bins, SAMPLES) * SAMPLES * 0.5
        one_source = np.zeros(1)
        return VariantResult(
            name,
            transfer,
            impulse,
            np.zeros((1, 1, 2), dtype=np.complex64),
            BOX_CELLS,
            one_source,
            one_source,
            np.ones(1),
            np.ones((1, FREQUENCY.size), complex),
            np.ones((1, 1), complex),
            "quiet",
            1.0,
            1000,
        )

    return RunResult(
        "Test room",
        "scene = 1\n",
        "0.1.0",
        "2026-01-01",
        "0" * 64,
        343.0,
        1.2,
        1e-4,
        0.1,
        200.0,
        "single",
        ("sub",),
        ("sofa", "desk"),
        FREQUENCY,
        np.arange(SAMPLES) * 2.0 / SAMPLES,
        np.array([40.0]),
        (one("bare", 1.0, 2), one("fitted", 0.5, 1)),
    )


FACTS = SimpleNamespace(
    volume=12.3456,
    floor_area=5.0,
    surface_area=40.0,
    mean_absorption=0.1234,
    schroeder_frequency=312.4,
    shortest_wavelength=1.715,
    largest_cell=0.1,
    smallest_cell=0.08,
    box_modes=(24.5, 30.1),
    cells=12345,
    time_step=1.5e-4,
    steps=10000,
    memory=42_000_000,
    seconds=83.2,
    warnings=("a thin sliver",),
)


@pytest.fixture
def run_result() -> RunResult:
    """The result that the stand-in for the solver gives."""
    return make_result()


@pytest.fixture
def stand_in(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """`stand_in("fdtd.workflow", run=f)`: for this test the module `fdtd.workflow` holds just `run`."""

    def install(name: str, **contents: object) -> None:
        module = ModuleType(name)
        module.__dict__.update(contents)
        monkeypatch.setitem(sys.modules, name, module)
        parent, _, child = name.rpartition(".")
        monkeypatch.setattr(importlib.import_module(parent), child, module, raising=False)

    return install


@pytest.fixture
def calls(
    stand_in: Callable[..., None], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> list[tuple[str, dict[str, object]]]:
    """Replaces everything below the command line, starts in an empty folder, and returns the list of calls made."""
    made: list[tuple[str, dict[str, object]]] = []

    def workflow_call(name: str, answer: object) -> Callable[..., object]:
        def call(scene: Scene, **options: object) -> object:
            made.append((name, options))
            return answer

        return call

    def save_drawings(
        drawings: list[SimpleNamespace], folder: Path, theme: str = "light", captions: str | None = "captions.txt"
    ) -> list[Path]:
        (one,) = drawings
        made.append(("save_drawings", {"figure": one.what, "folder": folder, "stem": one.stem}))
        files = [folder / f"{one.stem}.png", folder / f"{one.stem}.svg"]
        return files if captions is None else [*files, folder / captions]

    def save_figures(
        result: RunResult,
        scene: Scene,
        folder: Path,
        listening: Listening | None,
        smoothing: float | None = None,
        theme: str = "light",
        width: str | None = None,
    ) -> list[Path]:
        made.append(("save_figures", {"folder": folder, "scene": scene, "listening": listening}))
        return [folder / "response.png"]

    found = SimpleNamespace(frequency=np.array([1e-4, 24.5, 49.01]), shape=np.zeros((3, 2)), cells=BOX_CELLS)
    stand_in(
        "fdtd.workflow",
        check=workflow_call("check", FACTS),
        run=workflow_call("run", make_result()),
        modes=workflow_call("modes", found),
    )
    stand_in("fdtd.scene.read", read_scene=lambda path: make_scene(), read_scene_text=lambda text, path: make_scene())
    stand_in("fdtd.show.files", save_drawings=save_drawings, save_figures=save_figures)
    stand_in(
        "fdtd.show.scene_drawings",
        plan_drawing=lambda scene, variant_index, stem, width: SimpleNamespace(stem=stem, what=f"plan {variant_index}"),
        modes_drawing=lambda *a, variant_index, stem, **options: SimpleNamespace(
            stem=stem, what=f"modes of variant {variant_index}"
        ),
    )
    monkeypatch.chdir(tmp_path)
    return made


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pictures and captions are files with nothing in them: for tests whose drawings another test has drawn."""

    def save_drawings(
        drawings: Sequence[Drawing], folder: str | Path, theme: str = "light", captions: str | None = "captions.txt"
    ) -> list[Path]:
        names = [f"{one.stem}{suffix}" for one in drawings for suffix in (".png", ".svg")]
        files = [Path(folder) / name for name in (*names, *([captions] if captions else []))]
        Path(folder).mkdir(parents=True, exist_ok=True)
        for path in files:
            path.touch()
        return files

    monkeypatch.setattr("fdtd.show.files.save_drawings", save_drawings)


@pytest.fixture(autouse=True)
def unmarked(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is printed with the marks that names have inside the program."""
    echo = typer.echo

    def checked(message: object = None, *rest: object, **options: object) -> None:
        assert not any(mark in str(message) for mark in (NAME, TYPED, END)), repr(message)
        echo(message, *rest, **options)  # type: ignore[arg-type]

    monkeypatch.setattr(typer, "echo", checked)


@pytest.fixture
def fdtd(monkeypatch: pytest.MonkeyPatch) -> Callable[..., int]:
    """`fdtd("run", "room.toml")` runs the command in this process and returns its exit code."""
    from fdtd.cli.app import main

    def command(*arguments: str) -> int:
        monkeypatch.setattr(sys, "argv", ["fdtd", *arguments])
        with pytest.raises(SystemExit) as stop:
            main()
        return int(stop.value.code or 0)

    return command
