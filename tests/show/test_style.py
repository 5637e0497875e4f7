"""The house style: sizes, themes that reach every drawing, colours that can be told apart, whoever looks."""

from __future__ import annotations

import re

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.colors import to_rgb

from fdtd.show.drawings import run_drawings
from fdtd.show.layout import legend_columns, mark_runaways
from fdtd.show.responses import DEEPEST, draw_responses
from fdtd.show.style import COLUMN_WIDTH, DARK, FULL_WIDTH, LIGHT, Look, figure_style, look, new_figure
from fdtd.show.svg import svg_of
from show.synthetic import make_cells, make_result, make_scene

THEMES = (LIGHT, DARK)
# Machado, Oliveira and Fernandes, IEEE Trans. Vis. Comput. Graphics 15, 2009, table 1, severity 1, linear RGB.
DEFICIENT = {
    "red-blind": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "green-blind": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
}


def linear(colour: object) -> np.ndarray:
    """Linear RGB of a colour (IEC 61966-2-1)."""
    value = np.array(to_rgb(colour))  # type: ignore[arg-type]
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def lab(rgb: np.ndarray) -> np.ndarray:
    """CIE L*a*b* (ISO/CIE 11664-4) of linear RGB, white of D65."""
    matrix = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    x = np.clip(matrix @ rgb, 0.0, None) / matrix.sum(axis=1)
    f = np.where(x > (6 / 29) ** 3, np.cbrt(x), x / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def contrast(one: str, other: str) -> float:
    """Contrast ratio of WCAG 2.1."""
    a, b = (float(linear(c) @ [0.2126, 0.7152, 0.0722]) for c in (one, other))
    return (max(a, b) + 0.05) / (min(a, b) + 0.05)


def test_widths_are_those_of_a_page() -> None:
    assert COLUMN_WIDTH * 2.54 == pytest.approx(8.5) and FULL_WIDTH * 2.54 == pytest.approx(17.5)


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.theme)
def test_colours_are_distinct_and_stand_out(theme: Look) -> None:
    tokens = theme.tokens
    assert len(set(tokens.values())) == len(tokens) and all(re.fullmatch("#[0-9a-f]{6}", c) for c in tokens.values())
    assert "#000000" not in tokens.values()  # SVG leaves black out, so that it could not be coloured anew
    assert contrast(theme.ink, theme.paper) > 10.0 and contrast(theme.muted, theme.paper) > 4.5  # WCAG 2.1, text
    for colour in theme.line_colours[:4]:
        assert contrast(colour, theme.paper) > 3.0  # WCAG 2.1, graphics


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.theme)
@pytest.mark.parametrize("sight", DEFICIENT)
def test_the_first_lines_differ_for_colour_blind_readers(theme: Look, sight: str) -> None:
    seen = [lab(np.array(DEFICIENT[sight]) @ linear(colour)) for colour in theme.line_colours[:4]]
    for k, one in enumerate(seen):
        for other in seen[:k]:
            assert np.linalg.norm(one - other) > 18.0  # CIE 1976 colour difference; about 2.3 is just noticeable


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.theme)
def test_maps_are_chosen_for_what_they_show(theme: Look) -> None:
    """Levels: lightness rises all along. Changes: the middle is the paper, both arms leave it alike, hues differ."""
    place = np.linspace(0.0, 1.0, 41)
    level = np.array([lab(linear(mpl.colormaps[theme.level_colours](x)))[0] for x in place])
    assert (np.diff(level) > 0.0).all()
    signed = np.array([lab(linear(mpl.colormaps[theme.signed_colours](x))) for x in place])
    away = np.abs(signed[:, 0] - signed[20, 0])
    assert np.linalg.norm(signed[20] - lab(linear(theme.paper))) < 4.0
    assert (np.diff(away[20:]) > 0.0).all() and (np.diff(away[20::-1]) > 0.0).all()
    np.testing.assert_allclose(away[20:], away[20::-1], atol=8.0)
    for sight in DEFICIENT.values():
        arms = [lab(np.array(sight) @ linear(mpl.colormaps[theme.signed_colours](x))) for x in (0.2, 0.8)]
        assert np.linalg.norm(arms[0] - arms[1]) > 40.0


def test_a_theme_holds_for_what_is_drawn_inside_and_ends_with_it() -> None:
    assert look() is LIGHT
    with figure_style("dark"):
        with figure_style():
            assert look() is DARK
        with figure_style("light"):
            assert look() is LIGHT
        assert look() is DARK
    assert look() is LIGHT
    with pytest.raises(KeyError), figure_style("pink"):
        pass
    assert look() is LIGHT


def test_no_colour_of_one_theme_is_left_in_the_other() -> None:
    scene = make_scene()
    result = make_result(scene, make_cells(scene, (12, 10, 5)))
    own = {"response", "map"}
    for drawing in [d for d in run_drawings(result, scene, None) if d.kind in own][1:3]:
        texts = []
        for theme in ("light", "dark"):
            with figure_style(theme):
                texts.append(svg_of(drawing.draw(), drawing.stem))
        light, dark = texts
        assert LIGHT.ink in light and LIGHT.paper in light and DARK.ink in dark and DARK.paper in dark
        for token in ("ink", "grid", "muted"):
            assert DARK.tokens[token] not in light and LIGHT.tokens[token] not in dark, token


def test_a_legend_has_as_many_columns_as_fit() -> None:
    assert legend_columns(["off", "on"], COLUMN_WIDTH) == 2
    assert legend_columns(["x" * 60, "y" * 60], COLUMN_WIDTH) == 1
    assert legend_columns([], COLUMN_WIDTH) == 1


def test_what_leaves_a_picture_is_marked() -> None:
    with figure_style():
        axes = new_figure(3.0, 2.0).subplots()
        axes.set_xlim(0.0, 10.0)
        axes.set_ylim(-1.0, 1.0)
        x = np.arange(11.0)
        y = np.array([0, 0, -2, -3, -2, 0, 5, 0, 0, np.nan, 0.0])
        mark_runaways(axes, x, y, LIGHT.ink)
    below, above = axes.lines
    assert list(below.get_xdata()) == [3.0] and list(below.get_ydata()) == [0.0]
    assert list(above.get_xdata()) == [6.0] and list(above.get_ydata()) == [1.0]


def test_seats_of_a_run_share_one_scale() -> None:
    scene = make_scene()
    result = make_result(scene, make_cells(scene, (12, 10, 5)))
    first, second = (draw_responses(result, seat) for seat in (0, 1))
    for one, other in zip(first.axes, second.axes, strict=True):
        assert one.get_ylim() == other.get_ylim()
    low, high = first.axes[0].get_ylim()
    assert high - low <= DEEPEST
    shown = np.concatenate(
        [line.get_ydata() for f in (first, second) for line in f.axes[0].lines if len(line.get_xdata()) > 50]
    )
    assert high > np.max(shown)
