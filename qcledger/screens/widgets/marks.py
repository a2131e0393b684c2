"""Short texts side by side, the one at work in square brackets."""

from textual.content import Content
from textual.widgets import Static

from qcledger.screens.shown import shown_line
from qcledger.text import one_line


class Marks(Static):
    """What stands for each criterion, as many side by side as fit; the one at work in square brackets."""

    def __init__(self) -> None:
        super().__init__("", markup=False)
        self._texts: list[str] = []
        self._at = 0

    def show(self, texts: list[str], at: int) -> None:
        """Show other marks."""
        self._texts, self._at = [one_line(text) for text in texts], at
        self._draw()

    def on_resize(self) -> None:
        """Fit the marks into the new width."""
        self._draw()

    def _draw(self) -> None:
        lines: list[list[Content]] = [[]]
        left = width = max(self.size.width, 1)
        for n, text in enumerate(self._texts):
            if lines[-1] and len(text) + 2 > left:
                lines.append([])
                left = width
            left -= len(text) + 5
            lines[-1].append(shown_line(f"[{text}]", "bold $ink") if n == self._at else shown_line(text))
        self.update(Content("\n").join(Content("   ").join(line) for line in lines))
