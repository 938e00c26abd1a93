"""Take along what the pages in docs/ link to outside docs/, so that no link of the site breaks.

Four texts become pages of the site; every other file linked to is copied below `files/`.
"""

import os
import re
from pathlib import Path
from typing import Any

from mkdocs.structure.files import File, Files
from mkdocs.structure.pages import Page

ROOT = Path(__file__).resolve().parents[1]
PAGES = {
    "README.md": "readme.md",
    "DEVELOPERS.md": "developers.md",
    "CHANGELOG.md": "changelog.md",
    "sample_drawings/README.md": "samples.md",
}
HOMES = {new: old for old, new in PAGES.items()}
LINK = re.compile(r"(!?\[[^\]]*\]\()([^)\s#]+)(#[^)\s]*)?\)")
FENCE = re.compile(r"^```.*?^```$", re.S | re.M)


def targets(text: str, home: Path) -> list[Path]:
    """Return the files of this repository that a text in folder `home` links to."""
    found = []
    for match in LINK.finditer(FENCE.sub("", text)):
        if not re.match(r"[a-z]+:", match[2]):
            found.append((home / match[2]).resolve())
    return [path for path in found if path.is_file()]


def new_place(path: Path) -> str:
    """Return where a file of the repository lies in the site."""
    name = path.relative_to(ROOT).as_posix()
    if name in PAGES:
        return PAGES[name]
    return name.removeprefix("docs/") if name.startswith("docs/") else f"files/{name}"


def on_files(files: Files, config: Any) -> Files:
    """Add the pages and files that lie outside docs/."""
    texts = {ROOT / old: ROOT for old in PAGES} | {
        p: p.parent for p in (ROOT / "docs").glob("*.md")
    }
    for old, new in PAGES.items():
        files.append(File.generated(config, new, abs_src_path=str(ROOT / old)))
    wanted = {t for path in texts for t in targets(path.read_text("utf-8"), path.parent)}
    for path in sorted(wanted):
        place = new_place(path)
        if place.startswith("files/"):
            files.append(File.generated(config, place, abs_src_path=str(path)))
    return files


def on_page_markdown(markdown: str, page: Page, **_: Any) -> str:
    """Write every link anew, as seen from the page's place in the site."""
    here = page.file.src_uri
    home = (ROOT / HOMES[here]).parent if here in HOMES else ROOT / "docs"

    def moved(match: re.Match[str]) -> str:
        if re.match(r"[a-z]+:", match[2]):
            return match[0]
        path = (home / match[2]).resolve()
        if not path.is_file():
            return match[0]  # strict mode names it
        place = os.path.relpath(new_place(path), os.path.dirname(here) or ".")
        return f"{match[1]}{place}{match[3] or ''})"

    return "".join(
        piece if piece.startswith("```") else LINK.sub(moved, piece)
        for piece in re.split(r"(^```.*?^```$)", markdown, flags=re.S | re.M)
    )
