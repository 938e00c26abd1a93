"""Rule note-disagrees: what the words of a drawing say, against what the job says.

Words are evidence and never obeyed: a conflict is named, no option is changed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from analyzer.rules.rule import Draft, Place, Rule
from analyzer.rules.scene import Scene
from analyzer.rules.wording import capital, size

MM_PER_INCH = 25.4
THICKNESSES = (0.3, 40.0)  # what a sheet may be thick, so that "300mm" is no thickness [mm]

# "t=8", "thk 8", "thickness: 8 mm", "8 mm thick", "s = 8"; a lone letter needs its sign
_THICK = re.compile(
    r"(?:\b[ts]\s*[=:]\s*"
    r"|\b(?:thk|thick|thickness|dicke|staerke|stärke)\b\.?\s*[=:]?\s*)"
    r"(\d+(?:[.,]\d+)?)\s*(mm|in|\")?"
    r"|(\d+(?:[.,]\d+)?)\s*(mm|in|\")\s*(?:thk|thick|plate|sheet|dick|blech)\b",
    re.IGNORECASE,
)
_MM_TOKEN = re.compile(r"(\d+(?:[.,]\d+)?)mm", re.IGNORECASE)
_MATERIALS = {
    "mild-steel": r"S(?:235|275|355|420|460|690|700)(?:J[R02]|MC|N|M)?\+?\w*|DC0[1-6]|DD1[1-4]|"
    r"ST\s?(?:37|52)(?:-\d)?|Q235|A36|1\.0\d{3}|MILD STEEL",
    "stainless": r"1\.4\d{3}|(?:AISI|SS)\s?-?(?:304|316|321|430)L?|(?:304|316)L|V[24]A|"
    r"X5CRNI\w*|STAINLESS|INOX|EDELSTAHL",
    "aluminium": r"AL\s?MG\s?\d\w*|(?:EN\s?)?AW-?\s?[5-7]\d{3}|ALUMINI?UM|ALU",
    "no metal this tool knows": r"WOOD|PLYWOOD|MDF|ACRYLIC|PLEXI(?:GLASS?)?|PMMA|POLYCARBONATE|"
    r"DELRIN|CARDBOARD",
}
_MATERIAL = {
    name: re.compile(rf"(?<![A-Z0-9])(?:{words})(?![A-Z0-9])", re.IGNORECASE)
    for name, words in _MATERIALS.items()
}
_SCALE = re.compile(
    r"(?:\bscale\b|\bma(?:ss|ß)stab\b|\bm\b)\s*[:=]?\s*(\d+)\s*:\s*(\d+)", re.IGNORECASE
)
_BARE_SCALE = re.compile(r"\s*(\d+)\s*:\s*(\d+)\s*")
_MIRROR = re.compile(
    r"\b(?:mirror(?:ed|ing)?|opposite hand|other hand|gespiegelt|spiegelbild\w*|"
    r"L\.?H\.?\s*[/&+]\s*R\.?H\.?|R\.?H\.?\s*[/&+]\s*L\.?H\.?|left and right)\b",
    re.IGNORECASE,
)
_TOLERANCE = re.compile(r"\b2768(?:-1)?\s*[- ]?\s*([fmcv])[HKL]?\b", re.IGNORECASE)
_NEXT = {
    "powder": re.compile(r"powder[ -]?coat|pulverbesch", re.IGNORECASE),
    "galvanise": re.compile(r"galvani[sz]|feuerverzink", re.IGNORECASE),
    "paint": re.compile(r"\bpaint(?:ed)?\b|lackier", re.IGNORECASE),
}


@dataclass(frozen=True)
class Words:
    """Words in or about a drawing: what they are, and where they stand if they do. [mm]"""

    text: str
    source: str  # "text", "file name" or "layer name"
    place: Place | None


def all_words(scene: Scene) -> Iterator[Words]:
    """Yield the texts of the drawing, its file name and its layer names, each once."""
    drawing = scene.parts.drawing
    seen = set()
    for text in drawing.texts:
        if text.kind != "dimension" and text.text not in seen:
            seen.add(text.text)
            yield Words(text.text, "text", (text.x, text.y))
    stem = drawing.file.rsplit(".", 1)[0] if "." in drawing.file else drawing.file
    yield Words(stem, "file name", None)
    layers = {text.layer for text in drawing.texts}
    layers |= {entity.layer for sources in drawing.cut_sources for entity in sources}
    for layer in sorted(layers):
        yield Words(layer, "layer name", None)


def notes_disagree(scene: Scene) -> Iterator[Draft]:
    """Conflicts between the words and the job, one line for every sort of conflict."""
    words = list(all_words(scene))
    for conflict in (_thickness, _material, _scale, _mirror, _tolerance, _next_step):
        draft = conflict(scene, words)
        if draft is not None:
            yield draft


def _note(words: Words, measured: float, limit: float, unit: str, say: str, cure: str) -> Draft:
    places = (words.place,) if words.place is not None else ()
    return Draft("note", None, places, measured, limit, unit, say, cure)


def _quote(words: Words, found: str) -> str:
    return capital(f"{words.source} says {found.strip()}")


def thicknesses_said(words: Words) -> list[tuple[str, float]]:
    """Return every thickness a text, file or layer name tells, as (words, mm).

    Examples
    --------
    >>> thicknesses_said(Words("PL t=8 S355", "text", None))
    [('t=8', 8.0)]
    >>> thicknesses_said(Words("plate_6mm_2x", "file name", None))
    [('6mm', 6.0)]
    >>> thicknesses_said(Words("slot 80mm", "text", None))
    []
    """
    found = []
    for match in _THICK.finditer(words.text):
        number, unit = match[1] or match[3], match[2] or match[4]
        value = float(number.replace(",", "."))
        found.append((match[0].strip(), value * (MM_PER_INCH if unit in ("in", '"') else 1.0)))
    if words.source != "text":
        for token in re.split(r"[_\s\-]+", words.text):
            whole = _MM_TOKEN.fullmatch(token)
            if whole is not None:
                found.append((token, float(whole[1].replace(",", "."))))
    return [(said, mm) for said, mm in found if THICKNESSES[0] <= mm <= THICKNESSES[1]]


def _thickness(scene: Scene, words: list[Words]) -> Draft | None:
    said = [(w, found, mm) for w in words for found, mm in thicknesses_said(w)]
    t = scene.thickness
    if not said or any(abs(mm - t) <= 0.02 * t for _, _, mm in said):
        return None
    w, found, mm = said[0]
    return _note(
        w, mm, t, "mm", f"{_quote(w, found)}, you said {size(t)} mm thick.",
        "Ask the customer which thickness is meant.",
    )  # fmt: skip


def _material(scene: Scene, words: list[Words]) -> Draft | None:
    said = [
        (w, match[0], name)
        for w in words
        for name, pattern in _MATERIAL.items()
        if (match := pattern.search(w.text.replace("_", " ")))
    ]
    job = scene.job.material
    if not said or any(name == job for _, _, name in said):
        return None
    w, found, name = said[0]
    return _note(
        w, 1.0, 0.0, "conflicts", f"{_quote(w, found)} ({_plain(name)}), you said {_plain(job)}.",
        "Ask the customer which material is meant.",
    )  # fmt: skip


def _plain(name: str) -> str:
    return name.replace("-", " ")


def _scale(scene: Scene, words: list[Words]) -> Draft | None:
    for w in words:
        bare = _BARE_SCALE.fullmatch(w.text) if w.source == "text" else None
        match = _SCALE.search(w.text) or bare
        if match is None:
            continue
        above, below = int(match[1]), int(match[2])
        if above != below and 1 in (above, below) and 0 < above * below <= 1000:
            return _note(
                w, above / below, 1.0, "scale",
                f"{_quote(w, f'{above}:{below}')}; sizes are taken as drawn, 1:1.",
                "Check one size against the print.",
            )  # fmt: skip
    return None


def _mirror(scene: Scene, words: list[Words]) -> Draft | None:
    if any(part.other_hand_of for part in scene.parts.parts):
        return None
    for w in words:
        if w.source == "text" and (match := _MIRROR.search(w.text)):
            return _note(
                w, 1.0, 0.0, "conflicts",
                f"{_quote(w, match[0])}, but only one hand is drawn.",
                "Ask the customer for the other hand, and how many of each.",
            )  # fmt: skip
    return None


def _tolerance(scene: Scene, words: list[Words]) -> Draft | None:
    job = scene.job.tolerance
    for w in words:
        match = _TOLERANCE.search(w.text)
        if match is None or (job is not None and match[1].lower() in job.lower()):
            continue
        said = f"ISO 2768-{match[1].lower()}"
        yours = "you told no tolerance" if job is None else f"you said {job}"
        return _note(
            w, 1.0, 0.0, "conflicts", f"{_quote(w, said)}, {yours}; sizes are not checked by it.",
            f"Give --tolerance 2768-{match[1].lower()} if it holds for the cut edges.",
        )  # fmt: skip
    return None


def _next_step(scene: Scene, words: list[Words]) -> Draft | None:
    job = scene.job.next_step
    for w in words:
        for step, pattern in _NEXT.items():
            match = pattern.search(w.text) if w.source == "text" else None
            if match and job != step:
                yours = "you told no next step" if job is None else f"you said next {job}"
                return _note(
                    w, 1.0, 0.0, "conflicts", f"{_quote(w, match[0])}, {yours}.",
                    f"Give --next {step} if it is meant: it can decide the gas.",
                )  # fmt: skip
    return None


RULES = (
    Rule(
        name="note-disagrees",
        group="drawing",
        kind="drawing",
        question="Do the words of the drawing agree with the job?",
        why=(
            "Thickness, material, scale, hand, tolerance and finish stand in texts, layer and "
            "file names. Where they differ from what you typed, one of both is wrong. Words "
            "are never obeyed in silence."
        ),
        remedy="Ask the customer which is meant.",
        example="Text says t=8, you said 10 mm thick.",
        asks_change=True,
        on_drawing=notes_disagree,
    ),
)
