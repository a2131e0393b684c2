"""Faces read back: the visible text of a page, its rows and its tags."""

import re
from dataclasses import dataclass, field
from html.parser import HTMLParser

_SILENT = ("style", "script", "svg", "title")
_INLINE = ("a", "b", "bdi", "q", "small", "span")
_VOID = ("meta", "input", "img", "br", "link")


@dataclass
class Tag:
    """One element of a page with what stands in it."""

    name: str
    attributes: dict[str, str | None]
    text: str = ""


@dataclass
class ReadPage(HTMLParser):
    """A page taken apart: every tag in order with its own and inner text."""

    source: str
    tags: list[Tag] = field(default_factory=list)
    _open: list[Tag] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.feed(self.source)
        self.close()

    def handle_starttag(self, tag, attrs):
        """Keep an element."""
        found = Tag(tag, dict(attrs))
        self.tags.append(found)
        if tag not in _VOID:
            self._open.append(found)

    def handle_endtag(self, tag):
        """Close an element; what follows it is another word, unless it marks a few words of a sentence."""
        if tag not in _INLINE:
            self.handle_data(" ")
        while self._open:
            if self._open.pop().name == tag:
                return

    def handle_data(self, data):
        """Give a text to every element that it stands in, but for styles, scripts and drawings."""
        if not any(one.name in _SILENT for one in self._open):
            for one in self._open:
                one.text += data

    def named(self, name: str) -> list[Tag]:
        """Return the elements of a name."""
        return [one for one in self.tags if one.name == name]

    def by_id(self, id_: str) -> Tag:
        """Return the one element with an id."""
        (found,) = [one for one in self.tags if one.attributes.get("id") == id_]
        return found

    @property
    def text(self) -> str:
        """The visible text, on one line."""
        return flat(self.named("body")[0].text)

    @property
    def shape(self) -> list[tuple[str, tuple[str, ...]]]:
        """The elements in order with the names of their attributes."""
        return [(one.name, tuple(sorted(one.attributes))) for one in self.tags]


def flat(text: str) -> str:
    """Return a text with its blanks made one."""
    return " ".join(text.split())


def numbers(text: str) -> set[str]:
    """Return the numbers in a text, without signs of thousands and without noughts that say nothing."""
    found = re.findall(r"\d[\d,]*(?:\.\d+)?", text)
    plain = (one.rstrip(",").replace(",", "") for one in found)
    return {one.rstrip("0").rstrip(".") if "." in one else one.lstrip("0") or "0" for one in plain}
