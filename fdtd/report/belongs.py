"""Do the names in a file go with the scene that is stored in it?"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from fdtd.errors import ResultFileError
from fdtd.results.placement_record import PlacementFile
from fdtd.results.result import RunResult
from fdtd.scene.schema import Scene

AGAIN = "the file is damaged: copy it again from where it was made, or make it again"


def check_belongs(path: str | Path, result: RunResult, scene: Scene) -> None:
    """Raise ResultFileError unless `result`, read from `path`, is about the sources and seats of `scene`."""
    sources = dict.fromkeys(s.name for variant in scene.variants for s in variant.sources)
    _check_names(path, "sources", result.sources, tuple(sources))
    _check_names(path, "seats", result.seats, [seat.name for seat in scene.variants[0].seats])


def check_study_belongs(path: str | Path, study: PlacementFile, scene: Scene) -> None:
    """The same for a placement study; a scene without [spots] is found out by its places."""
    if scene.spots is not None:
        _check_names(path, "sources", study.sources, [s.name for s in scene.spots.start.sources])
        _check_names(path, "seats", study.seats, [s.name for s in scene.spots.start.seats])
        _check_names(path, "devices", study.devices, [d.name for d in scene.spots.devices])


def _check_names(path: str | Path, what: str, found: Sequence[str], wanted: Sequence[str]) -> None:
    if tuple(found) != tuple(wanted):
        text = [", ".join(f"'{name}'" for name in some) or "none" for some in (found, wanted)]
        raise ResultFileError(f"{path}: found the {what} {text[0]}; expected {text[1]}, as in its scene; {AGAIN}")
