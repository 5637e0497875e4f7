"""`fdtd surface`: the acoustic properties of a material, device or unit by itself."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fdtd.cli import surface_tables as tables
from fdtd.cli.options import Theme, Width, results_folder
from fdtd.cli.tables import print_files, print_warnings
from fdtd.errors import OptionError
from fdtd.settings import checked_theme, checked_width

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fdtd.scene.schema import Scene
    from fdtd.surface.lines import Subject
    from fdtd.surface.units import Unit

What = Annotated[
    str | None,
    typer.Argument(metavar="[NAME|SCENE]", help="Name of a library surface, or a scene file.", show_default=False),
]
PickedName = Annotated[
    str | None,
    typer.Option("--name", metavar="NAME", help="Show one material, device or absorber of the scene in full."),
]
ListAll = Annotated[bool, typer.Option("--list", help="List the library, as also happens without arguments.")]


@dataclass(frozen=True)
class Look:
    """Figure style: theme, and width or None for the default of each kind."""

    theme: str
    width: str | None


SurfaceFolder = Annotated[
    Path | None,
    typer.Option("--out", metavar="DIR", help="Output folder. Default: the name with '-results', here."),
]


def surface(
    what: What = None,
    name: PickedName = None,
    list_all: ListAll = False,
    out: SurfaceFolder = None,
    theme: Theme = "light",
    width: Width = None,
) -> None:
    """Show admittance, absorption and reflection of a library surface or of all surfaces and units in a scene."""
    look = Look(checked_theme(theme), checked_width(width))
    if list_all or what is None:
        if name is not None:
            raise OptionError(f"--name: found '{name}', expected a scene before it: fdtd surface SCENE --name NAME.")
        typer.echo(tables.library_list())
        return
    path = Path(what)
    if path.suffix.lower() == ".toml" or path.is_file():
        _scene(path, name, out, look)
        return
    if name is not None:
        raise OptionError(f"--name: found '{name}', which picks from a scene, but {what} is not a scene file.")
    _library(what, out, look)


def _library(name: str, out: Path | None, look: Look) -> None:
    from fdtd.library.surfaces import names

    if name not in names():
        from fdtd.scene.text import did_you_mean

        remedy = did_you_mean(name, names(), "library surfaces")
        raise OptionError(
            f"found '{name}', which is neither a surface of the library nor a file; {remedy} "
            "'fdtd surface --list' shows all of them; a scene file ends in .toml."
        )
    from fdtd.show.files import safe_file_name
    from fdtd.surface.subjects import library_subject

    subject = library_subject(name)
    folder = results_folder(Path(safe_file_name(name)), out)
    typer.echo(tables.subject_text(subject))
    _close([], [subject])
    _write([subject], [], folder, look, single=True)


def _scene(path: Path, name: str | None, out: Path | None, look: Look) -> None:
    from fdtd.scene.read import read_scene
    from fdtd.surface.units import scene_units

    scene = read_scene(path)
    folder = results_folder(path, out)
    print_warnings(scene.warnings)
    subjects, units = _subjects(scene), list(scene_units(scene))
    if name is not None:
        subjects, units = _picked(subjects, units, name)
    typer.echo(f"{scene.title or path.name}\n")
    if name is None:
        typer.echo(tables.overview_text(subjects))
    else:
        typer.echo("\n".join(tables.subject_text(subject) for subject in subjects))
    if units:
        typer.echo(tables.units_text(units))
    _close([s for s in subjects if s.kind == "device"], subjects)
    _write(subjects, units, folder, look, single=name is not None, ending=name or "")


def _close(devices: Sequence[Subject], subjects: Sequence[Subject]) -> None:
    text = tables.closing_text(devices, [s.design for s in subjects if s.design is not None])
    if text:
        typer.echo(text)


def _subjects(scene: Scene) -> list[Subject]:
    from fdtd.surface.subjects import device_subject, material_subject, scene_devices, scene_materials

    medium = scene.air.medium
    materials = [material_subject(m, medium) for m in scene_materials(scene)]
    return materials + [device_subject(d, medium) for d in scene_devices(scene)]


def _picked(subjects: list[Subject], units: list[Unit], name: str) -> tuple[list[Subject], list[Unit]]:
    """The subjects called `name` or that belong to the absorber of that name, and the units that have them."""
    own = [u for u in units if name in (u.name, u.plain_name, *u.others)]
    devices = {u.device.name for u in own}
    chosen = [s for s in subjects if s.name == name or (s.kind == "device" and s.name in devices)]
    if not chosen:
        from fdtd.scene.text import did_you_mean

        known = [*(s.name for s in subjects), *(n for u in units for n in (u.plain_name, *u.others))]
        remedy = did_you_mean(name, known, "materials, devices and absorbers that are used")
        raise OptionError(f"--name: found '{name}', which the scene does not use; {remedy}")
    return chosen, own or [u for u in units if u.device.name == name]


def _write(
    subjects: Sequence[Subject], units: Sequence[Unit], folder: Path, look: Look, single: bool, ending: str = ""
) -> None:
    """Tables and drawings, of all subjects together or, if `single`, one each; `ending` is added to the file names."""
    from fdtd.results.tables_csv import SURFACE_COLUMNS, UNIT_COLUMNS, write_rows
    from fdtd.show.files import safe_file_name, save_drawings
    from fdtd.show.surface_drawings import surface_drawings

    plain = safe_file_name(ending)
    tail = f"-{plain}" if plain else ""
    files = [write_rows(folder / f"surface{tail}.csv", SURFACE_COLUMNS, _surface_rows(subjects))]
    if units:
        files.append(write_rows(folder / f"units{tail}.csv", UNIT_COLUMNS, _unit_rows(units)))
    drawings = surface_drawings(subjects, units, single=single, tail=tail, width=look.width)
    print_files([*files, *save_drawings(drawings, folder, look.theme)])


def _surface_rows(subjects: Sequence[Subject]) -> Iterator[tuple[str | float, ...]]:
    from fdtd.surface.lines import FINE

    for subject in subjects:
        for line in subject.lines:
            beta = line.ratio(FINE)
            values = (beta.real, beta.imag, line.reflection(FINE), line.normal(FINE), line.random(FINE))
            for k, frequency in enumerate(FINE):
                yield (subject.name, line.label, float(frequency), *(float(v[k]) for v in values))


def _unit_rows(units: Sequence[Unit]) -> Iterator[tuple[str | float, ...]]:
    from fdtd.physics.radiation import largest_absorption_area
    from fdtd.surface.lines import FINE

    for unit in units:
        bound = largest_absorption_area(FINE, unit.medium)
        for off in (False, True) if unit.active else (False,):
            for corner in (False, True):
                area = unit.area(FINE, corner, off)
                state, place = "off" if off else "on", "corner" if corner else "wall"
                for k, frequency in enumerate(FINE):
                    yield unit.name, state, place, float(frequency), float(area[k]), float(bound[k])
