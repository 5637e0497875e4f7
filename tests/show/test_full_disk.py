"""Figures, captions and animations on a full disk: one error, nothing left over, earlier files as they were."""

from __future__ import annotations

import functools
import sys
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest
from limited import check_full_disk, contents
from matplotlib.figure import Figure

from fdtd.errors import FdtdError, UnwritableError
from fdtd.show import animation_video
from fdtd.show.animation_files import write_animation
from fdtd.show.animation_stage import Stage
from fdtd.show.drawings import Drawing
from fdtd.show.files import save_drawings

from .test_animation import stage, steady

ENCODER = f"""#!{sys.executable}
import sys
open(sys.argv[-1], "wb").write(sys.stdin.buffer.read(READ))
print("[out] Error writing trailer: SAID", file=sys.stderr)
sys.exit(1)
"""


def drawing() -> Drawing:
    return Drawing("plan", "room", "Plan", lambda: Figure((2.0, 1.0)), "A caption. " * 40, "Nothing to see. " * 40)


@functools.cache
def short_animation() -> Stage:
    """Three pictures."""
    return stage(steady(seconds=0.1), size=(320, None))


WRITERS: dict[str, Callable[[Path], object]] = {
    "figure": lambda folder: save_drawings([drawing()], folder),
    **{
        kind: lambda folder, kind=kind: write_animation(short_animation(), folder, "animation", kind)  # type: ignore[misc]
        for kind in ("gif", "webp", "png")
    },
}


@pytest.mark.parametrize("kind", WRITERS)
def test_a_full_disk_is_said_and_harms_nothing(kind: str, tmp_path: Path) -> None:
    check_full_disk(WRITERS[kind], tmp_path / "files", points=5)


def test_an_encoder_that_cannot_be_started_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is not the animation that has no such file, and the disk is not at fault."""
    (tmp_path / "encoder").write_text("no program")
    for name, cause in (("gone", "No such file or directory"), ("encoder", "Permission denied")):
        module = SimpleNamespace(get_ffmpeg_exe=lambda name=name: str(tmp_path / name))
        monkeypatch.setattr(animation_video, "encoder", lambda module=module: module)
        with pytest.raises(FdtdError, match=rf"^the video encoder \S+/{name} cannot be started \({cause}\)\. Install"):
            write_animation(short_animation(), tmp_path / "animations", "animation", "mp4")
    assert contents(tmp_path / "animations") == {}


@pytest.mark.parametrize("read", ["-1", "10"])  # at the end, or while pictures still come
@pytest.mark.parametrize(
    ("said", "kind", "told"),
    [
        ("No space left on device", UnwritableError, r"animation\.mp4: cannot be written: the disk is full"),
        ("no such\\ncodec", FdtdError, r"could not write MP4: \[out\] Error writing trailer: no such codec$"),
    ],
)
def test_a_video_that_its_encoder_could_not_finish(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, read: str, said: str, kind: type[Exception], told: str
) -> None:
    program = tmp_path / "encoder"
    program.write_text(ENCODER.replace("READ", read).replace("SAID", said))
    program.chmod(0o755)
    monkeypatch.setattr(animation_video, "encoder", lambda: SimpleNamespace(get_ffmpeg_exe=lambda: str(program)))
    folder = tmp_path / "animations"
    folder.mkdir()
    (folder / "animation.mp4").write_text("an earlier animation")
    with pytest.raises(kind, match=told):
        write_animation(short_animation(), folder, "animation", "mp4")
    assert contents(folder) == {"animation.mp4": b"an earlier animation"}
