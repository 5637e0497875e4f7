"""The public functions, docs/script.md: check, run, listen, place, sources, seats, arrange, partitions, modes, animate,
report.

    from fdtd import api

    scene = api.read_scene("room.toml")
    result = api.run(scene)
    api.save_run(result, scene, "room-results")

Nothing is printed. `save_...`, `animate` and `report` write the files of the commands, all else only computes; defaults
are those of the commands, and variants, sources and seats are given by name. `progress` is called with the share that
is done, 0 to 1, and a few words; `device` is "cpu", "gpu" or "auto". Errors that are meant for a person are
`fdtd.errors.FdtdError`; those of a setting name the option of the command that it belongs to, such as --grid.
"""

from fdtd.api.animation import AnimationRequest, animate
from fdtd.api.placement import advised_run, place, save_placement, save_winner
from fdtd.api.rooms import check, damped_modes, modes
from fdtd.api.runs import read_result, report, run, save_run
from fdtd.api.studies import (
    arrange,
    partitions,
    save_arrangement,
    save_partitions,
    save_sources,
    seats,
    sources,
)
from fdtd.listening.study import listen
from fdtd.scene.read import read_scene, read_scene_text
from fdtd.study.partitions import PartitionRequest

__all__ = [
    "AnimationRequest",
    "PartitionRequest",
    "advised_run",
    "animate",
    "arrange",
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
    "save_arrangement",
    "save_partitions",
    "save_placement",
    "save_run",
    "save_sources",
    "save_winner",
    "seats",
    "sources",
]
