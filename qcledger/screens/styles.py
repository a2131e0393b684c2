"""The style sheet of the pages: what was parsed once is not parsed again."""

from textual.css.stylesheet import Stylesheet


class ParsedOnce(Stylesheet):
    """A style sheet that keeps what it has parsed until a colour changes.

    Textual parses every source anew whenever a page brings one of its own or the theme is applied, three times at
    each start; most of them are those of its own widgets, and the same as before.
    """

    def set_variables(self, variables: dict[str, str]) -> None:
        """Set the variables; what was parsed with the same ones still holds."""
        if variables != self._variables:
            super().set_variables(variables)

    def reparse(self) -> None:
        """Take in every source; only what is new is parsed. Rules that cannot be read leave the old ones in force."""
        self.parse()
