"""The documents hold together: links lead somewhere, dependencies are explained, words are ours."""

import re
import tomllib
from itertools import chain
from pathlib import Path

import pytest
from shared import ROOT

SKIP = {"build", "dist", "__pycache__"}


def tree(*suffixes: str) -> list[Path]:
    """Return our files with one of `suffixes`; folders of tools and environments left out."""
    found = []
    for path in sorted(ROOT.rglob("*")):
        parts = path.relative_to(ROOT).parts
        hidden = any(p.startswith(".") and p != ".ci" for p in parts)
        if hidden or SKIP & set(parts) or any(p.endswith(".egg-info") for p in parts):
            continue
        if path.is_file() and (not suffixes or path.suffix in suffixes):
            found.append(path)
    return found


DOCUMENTS = tree(".md")
LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)\)")


def headings(path: Path) -> set[str]:
    """Return the anchors of a document's headings, as code hosts make them."""
    lines = re.sub(r"^```.*?^```", "", path.read_text(encoding="utf-8"), flags=re.S | re.M)
    return {
        re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-")
        for title in re.findall(r"^#+ +(.+?)\s*$", lines, flags=re.M)
    }


def broken_links(path: Path, text: str) -> list[str]:
    """Return the links of a document that lead nowhere in the tree."""
    broken = []
    for link in LINK.findall(re.sub(r"^```.*?^```", "", text, flags=re.S | re.M)):
        if re.match(r"[a-z]+:", link):
            continue  # another site: not checked
        name, _, anchor = link.partition("#")
        target = (path.parent / name).resolve() if name else path
        if not target.exists() or (anchor and anchor not in headings(target)):
            broken.append(link)
    return broken


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_links_lead_somewhere(path: Path) -> None:
    assert broken_links(path, path.read_text(encoding="utf-8")) == []


def test_a_broken_link_is_found() -> None:
    text = "[a](nowhere.md) [b](README.md#no-such-heading) [c](https://example.org) [d](README.md)"
    assert broken_links(ROOT / "README.md", text) == ["nowhere.md", "README.md#no-such-heading"]


def test_every_document_can_be_reached_from_the_readme() -> None:
    reached: set[Path] = set()
    waiting = [ROOT / "README.md"]
    while waiting:
        path = waiting.pop()
        if path in reached or path.suffix != ".md":
            continue
        reached.add(path)
        for link in LINK.findall(path.read_text(encoding="utf-8")):
            if not re.match(r"[a-z]+:", link):
                waiting.append((path.parent / link.partition("#")[0]).resolve())
    assert [p.relative_to(ROOT).as_posix() for p in DOCUMENTS if p not in reached] == []


def test_every_dependency_says_what_it_is_for() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted = [*project["dependencies"], *chain(*project["optional-dependencies"].values())]
    names = {re.split(r"[><=~! ]", line)[0] for line in wanted}
    text = (ROOT / "docs" / "dependencies.md").read_text(encoding="utf-8")
    told = {
        name.strip()
        for row in re.findall(r"^\| (.+?) \|", text, flags=re.M)
        for name in row.split(",")
    }
    assert names - told == set()


# Written so that this file does not hold what it looks for.
UNWANTED = re.compile(
    r"/wor[k]/|/tm[p]/|/far[m]/|/roo[t]/|/hom[e]/"  # paths of one machine
    r"|pypi\.or[g]|registry\.npmj[s]|pythonhoste[d]"  # registry hosts
    r"|transcrip[t]|seed documen[t]"
    r"|\bTOD[O]\b|\bFIXM[E]\b|NotImplemente[d]"
)
TEXTS = [*tree(".py", ".md", ".toml", ".json", ".html", ".dxf", ".csv"), ROOT / ".ci" / "run"]


def test_no_machine_path_registry_or_stub_stands_in_the_tree() -> None:
    found = []
    for path in TEXTS:
        text = path.read_text(encoding="utf-8", errors="replace")
        for match in UNWANTED.finditer(text):
            line = text.count("\n", 0, match.start()) + 1
            found.append(f"{path.relative_to(ROOT)}:{line}: {match[0]}")
    assert found == []


def test_unwanted_words_are_found() -> None:
    assert UNWANTED.search("see /" + "work/main")
    assert UNWANTED.search("# TO" + "DO: later")
    assert not UNWANTED.search("a framework/main idea")


STANDARD = re.compile(
    r"\b(?:EN ISO|ISO|EN|DIN|NFPA|API|IEC|Doc|ASTM|ASME|CFR)[ -]([A-Z]?\d[\d.]*(?:-\d+)*)"
)
LISTED = "docs/sources.md"


def standards(text: str) -> set[str]:
    """Return the standards a text names, by number and part."""
    return {number.rstrip(".-") for number in STANDARD.findall(text)}


def test_every_standard_named_is_among_the_sources() -> None:
    """A number stands in the list of sources wherever in the manual or the code it is called up."""
    listed = (ROOT / LISTED).read_text(encoding="utf-8")
    known = standards(listed)
    bare = {number.partition("-")[0] for number in known}  # "ISO 128" for all its parts
    for path in tree(".md", ".py", ".toml"):
        where = path.relative_to(ROOT).as_posix()
        if where.startswith(("docs/", "analyzer/")) or where == "README.md":
            named = standards(path.read_text(encoding="utf-8"))
            missing = {n for n in named if n not in known | bare}
            assert not missing, f"{where} names {missing}, which {LISTED} does not list"


def test_a_standard_that_is_not_listed_is_found() -> None:
    text = "by ISO 9013:2017 and EN 1993-1-2, 29 CFR 1910.146(b); ISO-10303; ASME Y14.1"
    assert standards(text) == {"9013", "1993-1-2", "1910.146", "10303", "Y14.1"}


def other_words() -> list[str]:
    """Return the words the glossary leaves to others."""
    text = (ROOT / "docs/glossary.md").read_text(encoding="utf-8")
    rows = text.partition("| not | but |")[2].splitlines()[2:]
    return [word.strip() for row in rows if row for word in row.split("|")[1].split(",")]


def test_each_thing_has_one_word() -> None:
    """Code, answers and manual keep to the words of the glossary."""
    words = other_words()
    assert len(words) > 8
    said = re.compile(rf"\b(?:{'|'.join(map(re.escape, words))})s?\b", re.I)
    for path in tree(".md", ".py", ".toml"):
        where = path.relative_to(ROOT).as_posix()
        if where.startswith(("docs/", "analyzer/")) and path.name != "glossary.md":
            assert not said.findall(path.read_text(encoding="utf-8")), where


def test_the_glossary_explains_each_word_once_in_order() -> None:
    text = (ROOT / "docs/glossary.md").read_text(encoding="utf-8")
    words = [word.lower() for word in re.findall(r"^\| \*\*(.+?)\*\* \|", text, re.M)]
    assert words == sorted(set(words))
