"""`fdtd report`: what it writes and where, and what it refuses before it starts."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

Command = Callable[..., int]


@pytest.fixture
def written(stand_in: Callable[..., None], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[tuple]:
    """Calls of the page's writer, which writes nearly nothing."""
    made: list[tuple] = []

    def write_report(paths: list[Path], target: Path, progress: object) -> Path:
        made.append(([str(p) for p in paths], str(target)))
        target.write_text("page")
        return target

    stand_in("fdtd.report.page", write_report=write_report)
    monkeypatch.chdir(tmp_path)
    return made


def test_the_page_stands_beside_the_first_result(
    fdtd: Command, written: list[tuple], capsys: pytest.CaptureFixture[str]
) -> None:
    assert fdtd("report", "one/result.h5", "two/placement.h5") == 0
    assert fdtd("report", "one/result.h5", "--out", "pages/mine.HTML") == 0
    assert written == [
        (["one/result.h5", "two/placement.h5"], "one/report.html"),
        (["one/result.h5"], "pages/mine.HTML"),
    ]
    assert "one/report.html (0 kB): open it in any browser" in capsys.readouterr().out


def test_what_is_refused(fdtd: Command, written: list[tuple], capsys: pytest.CaptureFixture[str]) -> None:
    Path("folder.html").mkdir()
    for out, told in (("page.pdf", "expected a file name that ends in .html"), ("folder.html", "is a folder")):
        assert fdtd("report", "result.h5", "--out", out) == 2
        assert told in capsys.readouterr().err
    assert fdtd("report") == 2
    assert written == []


def test_a_result_that_is_not_there(
    fdtd: Command, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert fdtd("report", "result.h5") == 2
    assert "result.h5: there is no such file" in capsys.readouterr().err
    assert not (tmp_path / "report.html").exists()
