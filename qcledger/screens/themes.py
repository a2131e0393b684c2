"""Two themes of our own: daylight, warm white and ink, and lamplight, dark with little glare."""

from typing import Final

from textual.theme import Theme

_QUIET: Final = {"footer-background": "transparent", "block-cursor-text-style": "bold", "border-blurred": "#8d8577"}

DAYLIGHT: Final = Theme(
    name="daylight",
    dark=False,
    background="#fbf7ee",
    surface="#f4eee0",
    panel="#e8dfcb",
    foreground="#1c2530",
    primary="#1f4466",
    secondary="#4b4636",
    accent="#1f4466",
    warning="#7a4300",
    error="#8f1d14",
    success="#1f4466",
    text_alpha=1.0,
    variables={**_QUIET, "ink": "#1f4466", "faint": "#665f50", "block-cursor-background": "#1f4466",
               "block-cursor-foreground": "#fbf7ee"},
)  # fmt: skip
LAMPLIGHT: Final = Theme(
    name="lamplight",
    dark=True,
    background="#17130e",
    surface="#201b15",
    panel="#2c251c",
    foreground="#d6c8b0",
    primary="#c9a066",
    secondary="#b3a48a",
    accent="#c9a066",
    warning="#d9a441",
    error="#e08a78",
    success="#c9a066",
    text_alpha=1.0,
    variables={**_QUIET, "ink": "#c9a066", "faint": "#9a8c74", "block-cursor-background": "#c9a066",
               "block-cursor-foreground": "#17130e"},
)  # fmt: skip
THEMES: Final = (DAYLIGHT, LAMPLIGHT)
