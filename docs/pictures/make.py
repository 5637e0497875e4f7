"""Make the pictures of the documents again, with the commands that the walk-throughs show.

    python docs/pictures/make.py FOLDER [--only-take]

runs the commands in FOLDER (new ones take a quarter of an hour on two cores) and puts their pictures here, as
wide as a page shows them. --only-take leaves the commands out and takes what is there. The picture of a
report's first screen needs Chromium.
"""

from __future__ import annotations

import shlex
import shutil
import subprocess
import sys
from pathlib import Path

from PIL import Image

HERE = Path(__file__).resolve().parent
SCENES = HERE.parents[1] / "scenes"
L_SHAPED, DIVIDED = "scenes/l-shaped-living-room.toml", "scenes/divided-ground-floor.toml"

COMMANDS = (
    f"check {L_SHAPED} --out spots",
    f"run {L_SHAPED} --out l-shaped",
    f"place {L_SHAPED} --grid 0.15 --out spots",
    "report spots/placement.h5",
    f"check {DIVIDED} --out divider",
    f'partitions {DIVIDED} --sheet "shelf divider" --grid 0.15 --out divider',
    f"animate {L_SHAPED} --seconds 4 --rate 10 --size 720 --grid 0.15 --formats png --out animation",
    f"animate {L_SHAPED} --tone 24.2 --on 3 --seconds 6 --rate 10 --size 720 --grid 0.15 --formats webp,png --out "
    "animation",
    "animate l-shaped/result.h5 --steady 24.2 --rate 12 --size 720 --formats webp --out animation",
    f"modes {L_SHAPED} --mode-shapes 4 --count 12 --grid 0.15 --out l-shaped",
)

PICTURES = {
    "l-shaped-response.png": ("l-shaped/response-1-sofa.png", 720),
    "l-shaped-tail.png": ("l-shaped/tail-1-sofa.png", 1000),
    "spots-plan.png": ("spots/plan.png", 900),
    "spots-candidates.png": ("spots/spots.png", 1000),
    "spots-best-places.png": ("spots/placement-plan.png", 1000),
    "spots-count.png": ("spots/placement-count.png", 720),
    "spots-report.png": ("spots/report-first-screen.png", 1000),
    "partition-plan.png": ("divider/plan.png", 900),
    "partition-strip.png": ("divider/partitions.png", 1000),
    "partition-responses.png": ("divider/partitions-2-sofa.png", 1000),
    "pulse.png": ("animation/animation-pulse-pictures/0014.png", 720),
    "tone-after.png": ("animation/animation-tone-24.2hz-pictures/0041.png", 720),
    "mode-shape.png": ("l-shaped/mode-shapes-1-off/mode-shape-2-37.9hz.png", 1000),
}
"""Name here -> what is taken, and its width in pixels."""
ANIMATIONS = {"steady.webp": "animation/animation-steady-24.2hz.webp"}
LARGEST = 190_000
"""Bytes of a picture in true colours."""


def screen(page: Path, picture: Path) -> None:
    """The first screen of a report, as it opens on a desk."""
    browser = next(found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name)))
    subprocess.run(
        [
            browser,
            "--headless",
            "--no-sandbox",
            "--hide-scrollbars",
            "--window-size=1200,900",
            f"--screenshot={picture.resolve()}",
            page.resolve().as_uri(),
        ],
        check=True,
        stderr=subprocess.DEVNULL,
    )


def take(source: Path, name: str, width: int) -> None:
    """Put a picture here, at most `width` pixels wide; one of more than LARGEST bytes gets 256 colours."""
    with Image.open(source) as whole:
        picture = whole.convert("RGB")
    if picture.width > width:
        height = round(picture.height * width / picture.width)
        picture = picture.resize((width, height), Image.Resampling.LANCZOS)
    picture.save(HERE / name, optimize=True)
    if (HERE / name).stat().st_size > LARGEST:
        # The palette that holds packed colours too, a mark or a line; dither, so that maps don't fall into bands.
        palette = picture.quantize(256, method=Image.Quantize.MAXCOVERAGE)
        picture.quantize(palette=palette, dither=Image.Dither.FLOYDSTEINBERG).save(HERE / name, optimize=True)
    print(f"{name}: {(HERE / name).stat().st_size / 1000:.0f} kB")


def main(folder: Path, run: bool) -> None:
    folder.mkdir(exist_ok=True)
    if run:
        if not (folder / "scenes").exists():
            shutil.copytree(SCENES, folder / "scenes")
        for command in COMMANDS:
            print("fdtd", command, flush=True)
            subprocess.run([sys.executable, "-m", "fdtd", *shlex.split(command)], cwd=folder, check=True)
    screen(folder / "spots" / "report.html", folder / "spots" / "report-first-screen.png")
    for name, (source, width) in PICTURES.items():
        take(folder / source, name, width)
    for name, source in ANIMATIONS.items():
        shutil.copyfile(folder / source, HERE / name)


if __name__ == "__main__":
    main(Path(sys.argv[1]), "--only-take" not in sys.argv)
