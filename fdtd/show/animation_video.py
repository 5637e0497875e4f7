"""An animation as MP4 or WebM, by the video encoder that comes with an optional package.

The encoder is run here and not by that package, which passes over what it says at its end: that the disk is full.
"""

from __future__ import annotations

import errno
import os
import subprocess
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import Any

from fdtd.errors import FdtdError, visible

VIDEO = ("mp4", "webm")
MISSING = (
    "{formats} needs the video encoder, which is not installed. Install it with:  pip install '.[video]'  "
    "(or: pip install imageio-ffmpeg). Without it, take --formats gif, webp or png."
)
NOT_STARTED = (
    "the video encoder {program} cannot be started ({cause}). Install it again with:  pip install --force-reinstall "
    "imageio-ffmpeg  Without it, take --formats gif, webp or png."
)
CODECS = {"mp4": "libx264", "webm": "libvpx-vp9"}
OPTIONS = {
    "mp4": ["-movflags", "+faststart", "-preset", "fast", "-crf", "18"],
    "webm": ["-deadline", "realtime", "-cpu-used", "6", "-row-mt", "1", "-crf", "28", "-b:v", "0"],
}
"""Good to look at, and quick."""
AUDIO = {"mp4": "aac", "webm": "libopus"}
_NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
_TEXT = 200
"""Characters of what the encoder says."""


def encoder() -> Any:
    """The video encoder's module, or None if it is not installed."""
    try:
        import imageio_ffmpeg
    except ImportError:
        return None
    return imageio_ffmpeg


def missing_encoder(formats: tuple[str, ...]) -> str:
    """What to say if one of `formats` needs an encoder that is not there; empty if all is well."""
    wanted = [one.upper() for one in formats if one in VIDEO]
    return MISSING.format(formats=" and ".join(wanted)) if wanted and encoder() is None else ""


def write_video(
    pictures: Iterable[bytes], size: tuple[int, int], rate: float, path: Path, kind: str, sound: Path | None
) -> None:
    """Write `pictures` (8-bit RGB, `rate` a second) and `sound`, a WAV file, to `path`.

    Raises FdtdError without an encoder, if it can't be started or refuses, OSError if the disk is full.
    """
    module = encoder()
    if module is None:
        raise FdtdError(MISSING.format(formats=kind.upper()))
    audible = ["-an"] if sound is None else ["-i", str(sound), "-acodec", AUDIO[kind], "-shortest"]
    command = [
        module.get_ffmpeg_exe(),
        "-y",
        "-v",
        "error",
        "-f",
        "rawvideo",
        "-pix_fmt",
        "rgb24",
        "-s",
        f"{size[0]}x{size[1]}",
        "-r",
        f"{rate:g}",
        "-i",
        "-",
        *audible,
        "-vcodec",
        CODECS[kind],
        "-pix_fmt",
        "yuv420p",
        *OPTIONS[kind],
        str(path.absolute()),
    ]
    # Signals as they are here: a limit on the size of files is to be told, not to kill.
    pipe = subprocess.PIPE
    try:
        started = subprocess.Popen(command, stdin=pipe, stderr=pipe, restore_signals=False)
    except OSError as error:
        raise FdtdError(NOT_STARTED.format(program=visible(command[0]), cause=error.strerror or error)) from error
    with started as process:
        assert process.stdin is not None
        try:
            for picture in pictures:
                process.stdin.write(picture)
        except BrokenPipeError:
            pass  # it has stopped, and says why
        except BaseException:
            process.kill()
            with suppress(OSError):
                process.stdin.close()
            raise
        said = process.communicate()[1].decode(errors="replace")
    for number in _NO_ROOM:
        if os.strerror(number) in said:
            raise OSError(number, os.strerror(number))
    if process.returncode != 0:
        reason = " ".join(said.split())[-_TEXT:] or f"it ended with {process.returncode}"
        raise FdtdError(f"the video encoder could not write {kind.upper()}: {reason}")
