"""What a page is about: result files read, the run of a study's advice put beside the study, its room rebuilt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from fdtd.errors import ResultFileError
from fdtd.listening.study import Listening, ListeningError, listen
from fdtd.results.placement_reader import is_placement, read_placement
from fdtd.results.placement_record import PlacementFile, Unit
from fdtd.results.result import RunResult
from fdtd.results.store import read_result
from fdtd.scene.read import read_scene_text
from fdtd.scene.schema import Scene, Spots, Variant
from fdtd.scene.spots import Candidate, candidates
from fdtd.study.place import built_in
from fdtd.study.place_answer import placed

WINNER = Path("winner") / "result.h5"
"""Where `fdtd place` puts the run of its advice, from its result file."""
AGAIN = "the file is damaged: copy it again from where it was made, or make it again"


@dataclass(frozen=True, eq=False)
class Audible:
    """A run and what is heard in it: `listening`, or None and why in `reason`; scene : with the variants of the run
    shown : the units of its second variant, of a run of a study's advice, else None"""

    result: RunResult
    scene: Scene
    listening: Listening | None
    reason: str = ""
    shown: tuple[Unit, ...] | None = None


@dataclass(frozen=True, eq=False)
class Subject:
    """One part of the page: a run, or a placement study with the run of its advice, if there is one.

    places : the candidates of the study; files : names of what was read
    """

    scene: Scene
    placement: PlacementFile | None
    run: Audible | None
    places: tuple[Candidate, ...] = ()
    files: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        """Of the scene."""
        return self.scene.title or "Room"

    @property
    def study(self) -> PlacementFile:
        """The study of a part that has one."""
        assert self.placement is not None
        return self.placement

    @property
    def spots(self) -> Spots:
        """What its scene asks a study to try."""
        assert self.scene.spots is not None
        return self.scene.spots


def load(paths: Sequence[str | Path]) -> list[Subject]:
    """Everything in `paths`, in that order; a run of a study's advice belongs to the study, given or not.

    Raises ResultFileError for a file that can't be read, SceneError if its scene is not one that this version reads.
    """
    given = list(dict.fromkeys(Path(path).resolve() for path in paths))
    studies = [path for path in given if is_placement(path)]
    beside = {study.parent / WINNER for study in studies}
    subjects = []
    for path in given:
        if path in studies:
            subjects.append(_study(path))
        elif path not in beside:
            subjects.append(_run(path))
    return subjects


def _study_of(path: Path) -> Path:
    """Where the study would be whose advice was run into `path`."""
    return path.parent.parent / "placement.h5"


def _run(path: Path) -> Subject:
    if path.parts[-2:] == WINNER.parts and is_placement(_study_of(path)):
        return _study(_study_of(path))
    result = read_result(path)
    scene = _own_scene(path, result)
    return Subject(scene, None, _audible(result, scene), files=(path.name,))


def scene_of_run(path: str | Path, result: RunResult) -> Scene:
    """The scene of the run in `path`, `result` read, with its variants; that of a study's advice is rebuilt.

    Raises ResultFileError if the variants are not those of the scene and no study beside it tells of them, SceneError
    if the scene is not one that this version reads.
    """
    path = Path(path).resolve()
    if path.parts[-2:] == WINNER.parts and is_placement(_study_of(path)):
        run = _study(_study_of(path)).run
        if run is not None:
            return run.scene
    return _own_scene(path, result)


def _own_scene(path: Path, result: RunResult) -> Scene:
    """The scene of a run in whose variants it was made."""
    scene = read_scene_text(result.scene_text, f"scene in {path.name}")
    names = tuple(v.name for v in result.variants)
    if tuple(v.name for v in scene.variants) != names:
        raise ResultFileError(
            f"{path}: its variants ({', '.join(names)}) are not those of its scene; if it is the run of what a "
            f"placement study advises, leave it in its folder, {WINNER.parent}, beside the placement.h5 of that study, "
            "or run 'fdtd place' again"
        )
    check_belongs(path, result, scene)
    return scene


def _study(path: Path) -> Subject:
    placement = read_placement(path)
    scene = read_scene_text(placement.scene_text, f"scene in {path.name}")
    places = candidates(scene) if scene.spots is not None else ()
    if [(p.number, p.on) for p in places] != [(p.number, p.on) for p in placement.places]:
        raise ResultFileError(
            f"{path}: its {len(placement.places)} places are not the {len(places)} that this version finds in its "
            f"scene (written by version {placement.program_version}); run 'fdtd place' again"
        )
    check_study_belongs(path, placement, scene)
    run, winner = None, path.parent / WINNER
    if winner.is_file():
        run = _advice_run(winner, placement, scene, places)
    files: tuple[str, ...] = (path.name,)
    if winner.is_file():
        files += (str(WINNER) if run is not None else f"{WINNER} (left out: it is not of what this study advises)",)
    return Subject(scene, placement, run, places, files)


def _advice_run(path: Path, placement: PlacementFile, scene: Scene, places: tuple[Candidate, ...]) -> Audible | None:
    """The run of the advice, None if it belongs to another study. Raises ResultFileError if it can't be read."""
    result = read_result(path)
    if result.scene_text != placement.scene_text or len(result.variants) != 2:
        return None
    assert scene.spots is not None
    wanted = [placement.answer.units] if placement.answer is not None else []
    wanted += [trial.units for trial in placement.trials if trial.kind == "built"]
    for units in wanted:
        if units == result.variants[1].placed:
            standing = placed(scene.spots, places, units)
            before, after = (v.name for v in result.variants)
            start: Variant = replace(scene.spots.start, name=before)
            rebuilt = replace(scene, variants=(start, built_in(start, standing, after)))
            check_belongs(path, result, rebuilt)
            return replace(_audible(result, rebuilt), shown=units)
    return None


def _audible(result: RunResult, scene: Scene) -> Audible:
    try:
        return Audible(result, scene, listen(result))
    except ListeningError as error:
        return Audible(result, scene, None, str(error))


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
