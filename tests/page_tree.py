"""A page read back: a tree of elements, and what is wrong with its markup."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"meta", "input", "br", "hr", "link", "img"}


@dataclass
class Node:
    """One element: name, attributes, what is inside it."""

    name: str
    attributes: dict[str, str | None]
    parent: Node | None = None
    inside: list[Node | str] = field(default_factory=list)

    def walk(self) -> Iterator[Node]:
        """Yield this element and all within it."""
        yield self
        for part in self.inside:
            if isinstance(part, Node):
                yield from part.walk()

    def all(self, name: str = "", /, **attributes: str) -> list[Node]:
        """Return all elements of a name with these attributes; class_ is one of the classes."""
        found = []
        for node in self.walk():
            if name and node.name != name:
                continue
            if all(node._has(key, value) for key, value in attributes.items()):
                found.append(node)
        return found

    def _has(self, key: str, value: str) -> bool:
        if key == "class_":
            return value in (self.attributes.get("class") or "").split()
        return self.attributes.get(key.rstrip("_")) == value

    @property
    def text(self) -> str:
        """All words within."""
        return "".join(p if isinstance(p, str) else p.text for p in self.inside)

    @property
    def ancestors(self) -> Iterator[Node]:
        """Yield all elements around it."""
        node = self.parent
        while node is not None:
            yield node
            node = node.parent

    def shown_in(self) -> set[str]:
        """Return the gases it is shown in; empty where it is always shown."""
        keys = set()
        for node in (self, *self.ancestors):
            for word in (node.attributes.get("class") or "").split():
                if word.startswith("in-"):
                    keys.add(word[3:])
        return keys


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Node("", {})
        self.at = self.root
        self.faults: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        if len(names) != len(set(names)):
            self.faults.append(f"<{tag}> has an attribute twice: {names}")
        node = Node(tag, dict(attrs), self.at)
        self.at.inside.append(node)
        if tag not in VOID:
            self.at = node

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.at.inside.append(Node(tag, dict(attrs), self.at))

    def handle_endtag(self, tag: str) -> None:
        if self.at.name != tag:
            self.faults.append(f"</{tag}> closes <{self.at.name}>")
            return
        assert self.at.parent is not None
        self.at = self.at.parent

    def handle_data(self, data: str) -> None:
        self.at.inside.append(data.replace("\u00a0", " "))  # a blank to whoever reads


def read_page(page: str) -> Node:
    """Return the tree of a page; AssertionError where its markup is not balanced."""
    reader = _Reader()
    reader.feed(page)
    reader.close()
    assert reader.faults == []
    assert reader.at is reader.root, f"<{reader.at.name}> is not closed"
    return reader.root
