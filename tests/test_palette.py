"""The colours of charts stay apart for colour-blind readers, and stand out from the ground of both themes."""

import itertools
import re

import numpy as np
import pytest

from hilum.figure import PALETTE, ink_on, luminance
from hilum.study import SITE

# Machado G.M., Oliveira M.M., Fernandes L.A.F. (2009). IEEE Transactions on Visualization and Computer Graphics
# 15:1291–1298, table 1: their matrices at severity 1, for linear RGB; from memory
SEEN_BY = {
    "everyone": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritanopia": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
# Ottosson B. (2020), "A perceptual color space for image processing": linear RGB to cone responses, and their cube
# roots to OKLab; from memory
CONES = np.array(
    [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
)
OKLAB = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)
# of two colours, on a scale on which black and white lie 1 apart: twice what a trained eye tells apart side by side
# (about 0.02) would vanish between two thin lines; 0.12 was reached, the colours of Okabe and Ito reach 0.076
LEAST_APART = {"everyone": 0.15, "protanopia": 0.12, "deuteranopia": 0.12, "tritanopia": 0.12}
# the contrast that WCAG 2.2 asks of graphical objects (success criterion 1.4.11), and of text (1.4.3)
CONTRAST, TEXT = 3.0, 4.5


def _linear(colour):
    parts = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def _seen(colour, reader):
    return OKLAB @ np.cbrt(CONES @ np.clip(SEEN_BY[reader] @ _linear(colour), 0, 1))


def _contrast(one, other):
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def _grounds():
    style = (SITE / "assets/stylesheets/hilum.css").read_text(encoding="utf-8")
    return re.findall(r"--ground: (#\w{6})", style)


def test_the_matrices_leave_white_white_and_black_and_white_lie_1_apart():
    for reader, matrix in SEEN_BY.items():
        assert matrix.sum(1) == pytest.approx(np.ones(3), abs=2e-6), reader
        white, black = _seen("#ffffff", reader), _seen("#000000", reader)
        assert np.linalg.norm(white - black) == pytest.approx(1, abs=1e-3)


def _dark():
    """Return the colours that the style puts in the place of the palette's on the dark ground, for fills and for strokes."""
    style = (SITE / "assets/stylesheets/hilum.css").read_text(encoding="utf-8")
    rule = r'"slate"\] \.chart-live \[(fill|stroke)="(#\w{6})" i\] \{ \1: (#\w{6}); \}'
    found = {"fill": {}, "stroke": {}}
    for part, colour, lighter in re.findall(rule, style):
        found[part][colour] = lighter
    return found


@pytest.mark.parametrize(
    "colours", [PALETTE, tuple(_dark()["fill"].values())], ids=["light", "dark"]
)
@pytest.mark.parametrize("reader", SEEN_BY)
def test_colours_stay_apart(reader, colours):
    for one, other in itertools.combinations(colours, 2):
        apart = np.linalg.norm(_seen(one, reader) - _seen(other, reader))
        assert apart >= LEAST_APART[reader], f"{one} and {other}: {apart:.3f}"


def test_colours_stand_out_from_the_ground_of_both_themes():
    grounds = _grounds()
    assert len(grounds) == 2
    for colour, ground in itertools.product(PALETTE, grounds):
        assert _contrast(colour, ground) >= CONTRAST, f"{colour} on {ground}"


def test_each_colour_is_lighter_on_the_dark_ground():
    """At 3:1 thin lines and small marks nearly vanished there; the same ink is then right on all of them."""
    _, ground = _grounds()
    dark = _dark()
    assert tuple(dark["fill"]) == tuple(dark["stroke"]) == PALETTE
    assert dark["fill"] == dark["stroke"]
    for lighter in dark["fill"].values():
        assert _contrast(lighter, ground) >= 4, lighter
        assert ink_on(lighter) == "#000000"
        assert _contrast(lighter, "#000000") >= TEXT


def test_figures_on_a_filled_colour_can_be_read():
    for colour in (*PALETTE, "#8c8c8c"):
        assert _contrast(colour, ink_on(colour)) >= TEXT, colour
