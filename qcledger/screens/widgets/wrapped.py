"""Words in as many lines as there is room for."""

from textwrap import wrap

from textual.content import Content
from textual.geometry import Size
from textual.widget import Widget

from qcledger.text import one_line


class Wrapped(Widget):
    """Words in as many lines as they need, up to a limit; hidden when there are none."""

    DEFAULT_CSS = """
    Wrapped { height: auto; }
    Wrapped.-none { display: none; }
    """

    def __init__(self, most: int, *, id: str) -> None:  # noqa: A002
        super().__init__(id=id)
        self._most = most
        self._text = ""

    def show(self, text: str) -> None:
        """Show other words."""
        self._text = one_line(text)
        self.set_class(not self._text, "-none")
        self.refresh(layout=True)

    def _lines(self, width: int, most: int) -> list[str]:
        return wrap(self._text, max(width, 4), max_lines=max(most, 1), placeholder=" …")

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return the lines the words take."""
        return len(self._lines(width, self._most))

    def render(self) -> Content:
        """Return the words."""
        return Content("\n".join(self._lines(self.size.width, self.size.height)))
