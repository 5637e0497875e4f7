"""Results to report on: a small room whose names are as bad as names can be, its study and the run of its advice."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest
from placement_scene import SCENE

from fdtd.api.placement import advised_run, save_files, save_winner
from fdtd.report.figures import figure
from fdtd.report.loading import Subject, load
from fdtd.report.markup import Markup, escaped
from fdtd.report.page import make_page
from fdtd.scene.read import read_scene_text
from fdtd.show.drawings import Drawing
from fdtd.study.finished import finished
from fdtd.study.place import place
from fdtd.study.robust import robustness

SCRIPT = "</title></style></svg><script>document.title='owned';window.owned=1</script>"
STOOL = "<img src=x onerror='window.owned=1'> ]]> --> \\\" onload=\\\"window.owned=1"
BENCH = "right שלום to left 🛋 javascript:alert(1)"
DEVICE = "low & <b>'bold'</b>"

HOSTILE = (
    SCENE.replace('title = "Small room"', f'title = "{SCRIPT}{"x" * 100}"')
    .replace('name = "stool"', f'name = "{STOOL}"')
    .replace('name = "bench"', f'name = "{BENCH}"')
    .replace("[devices.low]", f'[devices."{DEVICE}"]')
    .replace('["low", "high"]', f'["{DEVICE}", "high"]')
)


@dataclass(frozen=True)
class Results:
    """placement, winner : result files of a study and of the run of its advice; scene_text : of both"""

    placement: Path
    winner: Path
    scene_text: str


@pytest.fixture(scope="session")
def results(tmp_path_factory: pytest.TempPathFactory) -> Results:
    folder = tmp_path_factory.mktemp("study")
    scene = read_scene_text(HOSTILE, "hostile")
    study = place(scene)
    robust = robustness(study, perturbed_rooms=2, spacing=0.45)
    done = finished(study, "single", robust)
    file = save_files(done, folder)[0]
    made = advised_run(done, precision="single", frequencies=(57.0,))
    assert made is not None
    save_winner(*made, folder, figures=False)
    return Results(file, folder / "winner" / "result.h5", HOSTILE)


def page_about(subject: Subject, folder: Path) -> Path:
    """The page about a study or a run; of each kind of drawing the first is drawn, for a desk and for a telephone."""
    drawn: set[str] = set()

    def first_of_kind(drawing: Drawing, prefix: str = "", narrow: Drawing | None = None) -> Markup:
        if drawing.kind in drawn:
            return Markup(f"<figure><figcaption>{escaped(drawing.caption)}</figcaption></figure>")
        drawn.add(drawing.kind)
        return figure(drawing, prefix, narrow)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("fdtd.report.sections.figure", first_of_kind)
        text = make_page([subject])
    page = folder / "report.html"
    page.write_text(text, encoding="utf-8")
    return page


def advice_run(results: Results) -> Subject:
    """The run of the study's advice, as if it were one of a scene of its own."""
    (study,) = load([results.placement])
    assert study.run is not None
    return Subject(study.run.scene, None, study.run, files=("result.h5",))


@pytest.fixture(scope="session")
def page_file(results: Results, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page about the study."""
    return page_about(load([results.placement])[0], tmp_path_factory.mktemp("page"))


@pytest.fixture(scope="session")
def run_page_file(results: Results, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page about the run of its advice."""
    return page_about(advice_run(results), tmp_path_factory.mktemp("run-page"))
