"""Two themes anyone can read."""

import pytest

from qcledger.screens.themes import THEMES


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.1, W3C Recommendation 2018; from memory)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, WCAG 2.1, 'contrast ratio'."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_of_black_on_white_is_21():
    """The formula gives 21:1 for black on white, as WCAG 2.1 says."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
@pytest.mark.parametrize("ink", ["foreground", "primary", "warning", "error", "faint"])
@pytest.mark.parametrize("ground", ["background", "surface", "panel"])
def test_every_ink_is_legible_on_every_ground(theme, ink, ground):
    """Text has a contrast of at least 4.5:1 (WCAG 2.1, success criterion 1.4.3, level AA)."""
    colour = theme.variables.get(ink) or getattr(theme, ink)
    assert contrast(colour, getattr(theme, ground)) >= 4.5
