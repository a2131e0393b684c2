"""Texts that have broken terminals, markup readers, databases and spreadsheets, for every place that shows text."""

from typing import Final

MARKUP: Final = (
    "[@click=app.quit]x", "x[/]", "[/]", "[", "]", "[]", "[[", "]]", "[bold", "[bold]x", "[b]x[/b]", "100% [tube]",
    "[link=https://example.org]x[/link]", "[red on blue]x", "[@click=app.bell]x[/]", "\\[x]", "[/bold]",
    "[$primary]x", "[not a tag]", "[#ff0000]x", "[u][i]x", "{x}", "{0}", "%s", "$x", "${HOME}", ":warning:",
    "[dim]x[/dim]",
)  # fmt: skip
STEERING: Final = (
    "\x1b[31mred", "\x1b[2Jgone", "\x1b]52;c;aGVsbG8=\x07", "\x1b]0;title\x07", "\x1bPq\x1b\\", "\x9b31m",
    "\x9d52;c;x\x9c",
    "a\x00b", "a\x07b", "a\x08b", "a\x7fb", "a\rb", "a\tb", "a\x0bb", "a\x0cb", "a\x85b", "a\u2028b", "a\u2029b",
    "\u202egnp.exe", "\u2066x\u2069", "\u200fx", "\u061cx", "\ufeffx", "\U000e0041\U000e0042", "\x1b[?1049l", "\x1bc",
)  # fmt: skip
FORMULAS: Final = ("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", '=HYPERLINK("x")', "\uff1d1+1", "=cmd|' /C calc'!A0")
WEB: Final = (
    "<script>alert(1)</script>",
    "</script>",
    "<img src=x onerror=alert(1)>",
    "&amp;",
    "javascript:alert(1)",
)
SHAPES: Final = (
    "", " ", "\u00a0", "👩‍🎨 studio", "漆器の赤", "e\u0301", "ﷺ", "Z̸̢̛a̴l̶g̷o̶",
    "a" * 5000, "'; DROP TABLE maker; --", "../../etc",
)  # fmt: skip
HOSTILE: Final = (*MARKUP, *STEERING, *FORMULAS, *WEB, *SHAPES)
"""Seventy-eight of them."""
