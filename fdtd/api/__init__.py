"""Everything that the command line does, as functions with the same defaults (docs/script.md).

    from fdtd import api

    scene = api.read_scene("room.toml")
    result = api.run(scene)
    api.save_run(result, scene, "room-results")

Nothing is printed. `save_...` and `animate` write the files of the commands; all else only computes. `progress`
is called with the share that is done, 0 to 1, and a few words; `device` is "cpu", "gpu" or "auto". Every error that
is meant for the user is an `fdtd.errors.FdtdError`.
"""

from fdtd.api.animation import animate
from fdtd.api.placement import place, save_placement
from fdtd.api.runs import read_result, report, run, save_run
from fdtd.api.studies import partitions, save_partitions, save_sources, seats, sources
from fdtd.listening.study import listen
from fdtd.scene.read import read_scene, read_scene_text
from fdtd.study.whole_placement import advised_run
from fdtd.workflow import check, damped_modes, modes

__all__ = [
    "advised_run",
    "animate",
    "check",
    "damped_modes",
    "listen",
    "modes",
    "partitions",
    "place",
    "read_result",
    "read_scene",
    "read_scene_text",
    "report",
    "run",
    "save_partitions",
    "save_placement",
    "save_run",
    "save_sources",
    "seats",
    "sources",
]
