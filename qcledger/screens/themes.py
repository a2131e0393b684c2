"""Two themes of our own: daylight, a neutral paper and blue-black ink, and lamplight, a dark slate and straw."""

from typing import Final

from textual.theme import Theme

_QUIET: Final = {"footer-background": "transparent", "block-cursor-text-style": "bold", "border-blurred": "#83888f"}

DAYLIGHT: Final = Theme(
    name="daylight",
    dark=False,
    background="#f6f6f3",
    surface="#eeeeea",
    panel="#e0e0db",
    foreground="#17212c",
    primary="#1e3a59",
    secondary="#434850",
    accent="#1e3a59",
    warning="#7a4300",
    error="#8f1d14",
    success="#1e3a59",
    text_alpha=1.0,
    variables={**_QUIET, "ink": "#1e3a59", "faint": "#5a5f66", "block-cursor-background": "#1e3a59",
               "block-cursor-foreground": "#f6f6f3"},
)  # fmt: skip
LAMPLIGHT: Final = Theme(
    name="lamplight",
    dark=True,
    background="#15191e",
    surface="#1c2127",
    panel="#272d35",
    foreground="#c9ccd1",
    primary="#c8aa7c",
    secondary="#a6abb3",
    accent="#c8aa7c",
    warning="#d9a441",
    error="#e08a78",
    success="#c8aa7c",
    text_alpha=1.0,
    variables={**_QUIET, "ink": "#c8aa7c", "faint": "#9298a1", "block-cursor-background": "#c8aa7c",
               "block-cursor-foreground": "#15191e"},
)  # fmt: skip
THEMES: Final = (DAYLIGHT, LAMPLIGHT)
