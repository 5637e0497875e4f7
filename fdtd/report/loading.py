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


def _winner_of(path: Path) -> Path | None:
    """The result file of the study whose advice was run into `path`, if it is there."""
    study = path.parent.parent / "placement.h5"
    return study if path.parts[-2:] == WINNER.parts and is_placement(study) else None


def _run(path: Path) -> Subject:
    if study := _winner_of(path):
        return _study(study)
    result = read_result(path)
    scene = _own_scene(path, result)
    return Subject(scene, None, _audible(result, scene), files=(path.name,))


def scene_of_run(path: str | Path, result: RunResult) -> Scene:
    """The scene of the run in `path`, `result` read, with its variants; that of a study's advice is rebuilt.

    Raises ResultFileError if the variants are not those of the scene and no study beside it tells of them, or if its
    sources and seats are not, SceneError if the scene is not one that this version reads.
    """
    path = Path(path)
    if (study := _winner_of(path.resolve())) and (run := _study(study).run) is not None:
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
    check_belongs(path, result, scene.variants)
    return scene


def _study(path: Path) -> Subject:
    placement = read_placement(path)
    scene = read_scene_text(placement.scene_text, f"scene in {path.name}")
    spots = scene.spots
    places = candidates(scene) if spots is not None else ()
    if spots is None or [(p.number, p.on) for p in places] != [(p.number, p.on) for p in placement.places]:
        raise ResultFileError(
            f"{path}: its {len(placement.places)} places are not the {len(places)} that this version finds in its "
            f"scene (written by version {placement.program_version}); run 'fdtd place' again"
        )
    check_belongs(path, placement, (spots.start,))
    _check_names(path, "devices", placement.devices, [device.name for device in spots.devices])
    run, winner, files = None, path.parent / WINNER, [path.name]
    if winner.is_file():
        run = _advice_run(winner, placement, scene, places)
        files.append(str(WINNER) if run is not None else f"{WINNER} (left out: it is not of what this study advises)")
    return Subject(scene, placement, run, places, tuple(files))


def _advice_run(path: Path, placement: PlacementFile, scene: Scene, places: tuple[Candidate, ...]) -> Audible | None:
    """The run of the advice, None if it belongs to another study. Raises ResultFileError if it can't be read."""
    result = read_result(path)
    if result.scene_text != placement.scene_text or len(result.variants) != 2:
        return None
    assert scene.spots is not None
    wanted = [placement.answer.units] if placement.answer is not None else []
    wanted += [trial.units for trial in placement.trials if trial.kind == "built"]
    before, after = result.variants
    if after.placed not in wanted:
        return None
    start = replace(scene.spots.start, name=before.name)
    variants = (start, built_in(start, placed(scene.spots, places, after.placed), after.name))
    check_belongs(path, result, variants)
    return replace(_audible(result, replace(scene, variants=variants)), shown=after.placed)


def _audible(result: RunResult, scene: Scene) -> Audible:
    try:
        return Audible(result, scene, listen(result))
    except ListeningError as error:
        return Audible(result, scene, None, str(error))


def check_belongs(path: str | Path, found: RunResult | PlacementFile, variants: Sequence[Variant]) -> None:
    """Raise ResultFileError unless what was read from `path` is about the sources and seats of `variants`."""
    sources = dict.fromkeys(source.name for variant in variants for source in variant.sources)
    _check_names(path, "sources", found.sources, tuple(sources))
    _check_names(path, "seats", found.seats, [seat.name for seat in variants[0].seats])


def _check_names(path: str | Path, what: str, found: Sequence[str], wanted: Sequence[str]) -> None:
    if tuple(found) != tuple(wanted):
        text = [", ".join(f"'{name}'" for name in some) or "none" for some in (found, wanted)]
        raise ResultFileError(f"{path}: found the {what} {text[0]}; expected {text[1]}, as in its scene; {AGAIN}")
