"""Rule note-disagrees: what the words of a drawing say, against the job and what is drawn.

Words are evidence and never obeyed: a conflict is named, no option is changed.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass

from analyzer.drawing.dimensions import UNIT_FACTORS
from analyzer.drawing.drawing import Dimension, Dimensions
from analyzer.rules.rule import Draft, Place, Rule
from analyzer.rules.scene import Scene
from analyzer.rules.wording import capital, size
from analyzer.units import counted

MM_PER_INCH = 25.4
LONGEST = 500  # of a text so much is read; what is longer is no note on a part [characters]
THICKNESSES = (0.3, 40.0)  # what a sheet may be thick, so that "300mm" is no thickness [mm]

# "t=8", "thk 8", "thickness: 8 mm", "8 mm thick", "s = 8"; a lone letter needs its sign
# and a fraction is one of an inch.
_NUMBER = r"(?:\d+[ -])?\d+/\d+|\d*[.,]?\d+"
_THICK = re.compile(
    r"(?:\b[ts]\s*[=:]\s*"
    r"|\b(?:thk|thick|thickness|dicke|staerke|stärke)\b\.?\s*[=:]?\s*)"
    rf"({_NUMBER})\s*(mm|in|\")?"
    rf"|(?<![\d.,/])({_NUMBER})\s*(mm|in|\")\s*(?:thk|thick|plate|sheet|dick|blech)\b",
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
_COUNT = re.compile(
    r"\b(\d{1,5})\s*-?\s*(?:off|pcs|pces|pieces|stk|stück|stueck)\b"
    r"|\b(?:qty|quantity|anzahl|menge|stk|stück|stueck|stückzahl)\b\.?\s*[:=]?\s*(\d{1,5})\b",
    re.IGNORECASE,
)
_BARE_COUNT = re.compile(r"\s*(?:(\d{1,5})\s*[x×]|[x×]\s*(\d{1,5}))\s*", re.IGNORECASE)
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
            yield Words(text.text[:LONGEST], "text", (text.x, text.y))
    stem = drawing.file.rsplit(".", 1)[0] if "." in drawing.file else drawing.file
    yield Words(stem, "file name", None)
    layers = {text.layer for text in drawing.texts}
    layers |= {entity.layer for sources in drawing.cut_sources for entity in sources}
    for layer in sorted(layers):
        yield Words(layer, "layer name", None)


def notes_disagree(scene: Scene) -> Iterator[Draft]:
    """Conflicts between the words and the job, one line for every sort of conflict."""
    words = list(all_words(scene))
    for conflict in (
        _thickness, _material, _quantity, _scale, _mirror, _tolerance, _next_step,
    ):  # fmt: skip
        draft = conflict(scene, words)
        if draft is not None:
            yield draft
    yield from _dimensions(scene.parts.drawing.dimensions)


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
        inches = "/" in number or (unit or "").lower() in ("in", '"')
        found.append((match[0].strip(), _value(number) * (MM_PER_INCH if inches else 1.0)))
    if words.source != "text":
        for token in re.split(r"[_\s\-]+", words.text):
            whole = _MM_TOKEN.fullmatch(token)
            if whole is not None:
                found.append((token, float(whole[1].replace(",", "."))))
    return [(said, mm) for said, mm in found if THICKNESSES[0] <= mm <= THICKNESSES[1]]


def _value(number: str) -> float:
    """Return a number with a point, a comma or a fraction as a float; 0 of what is none."""
    whole, over, under = re.fullmatch(r"(?:(\d+)[ -])?(?:(\d+)/(\d+))?.*", number).groups()  # type: ignore[union-attr]
    if over is None:
        return float(number.replace(",", "."))
    return float(whole or 0) + (int(over) / int(under) if int(under) else 0.0)


def _thickness(scene: Scene, words: list[Words]) -> Draft | None:
    said = [(w, found, mm) for w in words for found, mm in thicknesses_said(w)]
    t = scene.thickness
    # "t=0.375" in a drawing in inches may be either
    units = (1.0, MM_PER_INCH) if scene.parts.drawing.units.name == "in" else (1.0,)
    if not said or any(abs(mm * one - t) <= 0.02 * t for _, _, mm in said for one in units):
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


def counts_said(words: Words) -> list[tuple[str, int]]:
    """Return how many a text, file or layer name asks for, as (words, number).

    "4x" counts only where it stands alone: "4x M6" counts holes.

    Examples
    --------
    >>> counts_said(Words("qty: 4", "text", None)), counts_said(Words("4x", "text", None))
    ([('qty: 4', 4)], [('4x', 4)])
    >>> counts_said(Words("3mm_2x_sieve", "file name", None))
    [('2x', 2)]
    >>> counts_said(Words("4x M6", "text", None))
    []
    """
    found = [(m[0], m[1] or m[2]) for m in _COUNT.finditer(words.text.replace("_", " "))]
    tokens = [words.text] if words.source == "text" else re.split(r"[_\s\-.]+", words.text)
    for token in tokens:
        whole = _BARE_COUNT.fullmatch(token)
        if whole is not None:
            found.append((token, whole[1] or whole[2]))
    return [(said.strip(), int(number)) for said, number in found if int(number) > 0]


def _quantity(scene: Scene, words: list[Words]) -> Draft | None:
    """A number of pieces that is not drawn; with several parts it may be of any of them."""
    parts = scene.parts.parts
    said = [(w, found, number) for w in words for found, number in counts_said(w)]
    drawn = [part.count for part in parts]
    if not drawn or not said or any(number in (*drawn, sum(drawn)) for _, _, number in said):
        return None
    w, found, number = said[0]
    there = f"{drawn[0]} drawn" if len(parts) == 1 else f"no part is drawn {number} times"
    return _note(
        w, number, max(drawn), "off", f"{_quote(w, found)}, {there}; minutes and money are for "
        "what is drawn.", "How many to cut is yours to say.",
    )  # fmt: skip


def _dimensions(said: Dimensions) -> Iterator[Draft]:
    """Dimensions that show another scale, and those that say another size than is drawn."""
    for times, number in said.scales:
        if times in UNIT_FACTORS:
            continue  # told as a doubt of the unit, or told nothing else than it
        who = "Dimensions" if number == said.count else counted(number, "dimension")
        yield Draft(
            "note", None, (), 1.0 / times, 1.0, "scale",
            f"{who} show{'s' if number == 1 else ''} {times:.4g} times what is drawn, so a view "
            f"at {_as_scale(times)}; sizes are taken as drawn.",
            "Ask for the part at 1:1.", number,
        )  # fmt: skip
    if not said.disputed:
        return
    worst = max(said.disputed, key=lambda d: abs(math.log(d.said / d.drawn)) if d.said else 99.0)
    more = len(said.disputed) - 1
    told = size(worst.said)
    in_mm = "" if told in worst.text.replace(",", ".") else f" ({told} mm)"
    yield Draft(
        "note", None, tuple((d.x, d.y) for d in (worst, *_without(said.disputed, worst))),
        worst.drawn, worst.said, "mm",
        f"Dimension says {worst.text.strip()}{in_mm} where {size(worst.drawn)} mm is drawn"
        + (f", and {more} more disagree" if more else "") + "; what is drawn is cut.",
        "Ask the customer which size is meant.", more + 1,
    )  # fmt: skip


def _without(all_of: tuple[Dimension, ...], one: Dimension) -> list[Dimension]:
    return [d for d in all_of if d is not one]


def _as_scale(times: float) -> str:
    return f"1:{times:.4g}" if times >= 1.0 else f"{1.0 / times:.4g}:1"


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
        question="Do the words of the drawing agree with the job and with what is drawn?",
        why=(
            "Thickness, material, number, scale, hand, tolerance and finish stand in texts, layer "
            "and file names, and sizes in dimensions. Where they differ from what you typed or "
            "what is drawn, one of both is wrong. Words are never obeyed in silence."
        ),
        remedy="Ask the customer which is meant.",
        example="Text says t=8, you said 10 mm thick.",
        asks_change=True,
        on_drawing=notes_disagree,
    ),
)
