"""docs/schemas.md, made from the schema files: python .ci/schema_page.py > docs/schemas.md."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).resolve().parents[1] / "docs" / "schemas"

HEAD = """# JSON schemas

Made by `python .ci/schema_page.py > docs/schemas.md` from the files beside it; a test holds it to
that, and other tests hold every answer to its schema.

`--format json` writes one object. Its first key, `schema`, names form and version: a change that
would break a reader gets a new number. JSON is strict (every number finite), mm to 1e-6, s to 1e-4,
keys in the order shown here. Machines should read the schema files (JSON Schema 2020-12); this page
is for people.
"""


def kind(rule: dict[str, Any]) -> str:
    """Return what a value may be, in few words."""
    if "$ref" in rule:
        return rule["$ref"].rpartition("/")[2] or "object"
    if "const" in rule:
        return f'"{rule["const"]}"'
    if "enum" in rule:
        return ", ".join("null" if v is None else f'"{v}"' for v in rule["enum"])
    for several in ("anyOf", "oneOf"):
        if several in rule:
            return " or ".join(kind(inner) for inner in rule[several])
    types = rule.get("type", "any")
    types = [types] if isinstance(types, str) else types
    words = []
    for name in types:
        if name == "array" and isinstance(rule.get("items"), dict):
            words.append(f"list of {kind(rule['items'])}")
        else:
            words.append(name)
    return " or ".join(words)


def rows(rule: dict[str, Any], at: str = "") -> Iterator[str]:
    """Yield a table row for every key, with those of objects inside."""
    needed = set(rule.get("required", ()))
    for key, inner in rule.get("properties", {}).items():
        place = f"{at}.{key}" if at else key
        always = "" if key in needed else "not always"
        said = inner.get("description", "").replace("|", "/").replace("\n", " ")
        yield f"| `{place}` | {kind(inner)} | {always} | {said} |"
        yield from rows(inner, place)
        if isinstance(inner.get("items"), dict):
            yield from rows(inner["items"], f"{place}[]")


def page() -> str:
    """Return docs/schemas.md as text."""
    blocks = [HEAD]
    for path in sorted(FOLDER.glob("*.json")):
        schema = json.loads(path.read_text(encoding="utf-8"))
        # "burrcast.tables-check-1" is burrcast.tables-check/1: only the last dash is a slash
        name = "/".join(path.stem.rsplit("-", 1))
        blocks.append(f"## {name}\n")
        title = schema.get("title", "")
        said = schema.get("description", "")
        blocks.append(f"{title}. {said} File: [{path.name}](schemas/{path.name}).\n".lstrip(". "))
        blocks.append("| key | value | | |\n|---|---|---|---|")
        blocks.append("\n".join(rows(schema)) + "\n")
        for part in ("$defs", "definitions"):
            for inner_name, inner in schema.get(part, {}).items():
                inside = "\n".join(rows(inner))
                if inside:
                    blocks.append(f"**{inner_name}**\n\n| key | value | | |\n|---|---|---|---|")
                    blocks.append(inside + "\n")
    return "\n".join(blocks).replace("  File:", " File:")


if __name__ == "__main__":
    print(page(), end="")
