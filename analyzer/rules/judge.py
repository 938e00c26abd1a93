"""Findings of every gas: rules run, equal features grouped, marks given."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from analyzer.drawing.drawing import Fact
from analyzer.effects.evidence import Evidence
from analyzer.job import Job
from analyzer.parts.part import PartSet
from analyzer.process.setting import Setting
from analyzer.rules.limits import Limits
from analyzer.rules.registry import RANK, RULES
from analyzer.rules.rule import LEVELS, Draft, Finding, Place
from analyzer.rules.scene import Case, Scene

Key = tuple[str, str | None, tuple[Place, ...], int]


@dataclass(frozen=True)
class _Found:
    """A draft with its rule, and its number among those at the same places."""

    rule: str
    draft: Draft
    twin: int

    @property
    def key(self) -> Key:
        """What has one mark under every gas."""
        return self.rule, self.draft.part, self.draft.places, self.twin


def judge(
    parts: PartSet,
    job: Job,
    evidence: Sequence[Sequence[Evidence]],
    loose: Sequence[Evidence | None],
    settings: Sequence[Setting],
    limits: Limits,
) -> tuple[tuple[Finding, ...], ...]:
    """Return the findings of every gas, worst first.

    Parameters
    ----------
    parts : PartSet
        The parts of the drawing.
    job : Job
        Material, thickness, power, plate, next step.
    evidence : sequence of sequence of Evidence
        By gas, then by distinct part in the order of `parts.parts`.
    loose : sequence of (Evidence or None)
        Open cut lines outside every part, by gas.
    settings : sequence of Setting
        One a gas.
    limits : Limits
        Limits in force.

    Returns
    -------
    tuple of tuple of Finding
        In the order of `settings`.  Drawing rules are judged once and appear under
        every gas.  The same places of one rule and part have the same mark; marks run
        from 1, the worst level under any gas first, then in the order of the rules.

    Raises
    ------
    InputError
        If the job's tolerance is not known.
    """
    scene = Scene(parts, job, limits)
    once = _on_drawing(scene)
    per_gas = [
        once + _on_gas(Case(scene, setting, of_gas, lines))
        for setting, of_gas, lines in zip(settings, evidence, loose, strict=True)
    ]
    marks = _marks(parts, per_gas)
    return tuple(
        tuple(sorted((_finding(one, marks[one.key]) for one in found), key=_worst_first))
        for found in per_gas
    )


def drawing_findings(parts: PartSet, job: Job, limits: Limits) -> tuple[Finding, ...]:
    """Return the findings of the drawing rules alone, for a drawing no gas is judged for."""
    found = _on_drawing(Scene(parts, job, limits))
    marks = _marks(parts, [found])
    return tuple(sorted((_finding(one, marks[one.key]) for one in found), key=_worst_first))


def facts_of(parts: PartSet, findings: Iterable[Finding]) -> tuple[Fact, ...]:
    """Return the facts of a drawing, with one for every drawing finding no station has told.

    Parameters
    ----------
    findings : iterable of Finding
        Those of any one gas.
    """
    facts = tuple(dict.fromkeys((*parts.drawing.facts, *parts.facts)))
    told = {fact.kind for fact in facts}
    on_drawing = {rule.name for rule in RULES if rule.kind == "drawing"}
    more = tuple(
        Fact(f.rule, f.message, f.x, f.y, f.count)
        for f in findings
        if f.rule in on_drawing and f.rule not in told
    )
    return facts + more


def _on_drawing(scene: Scene) -> list[_Found]:
    return _numbered(
        (rule.name, draft)
        for rule in RULES
        if rule.on_drawing is not None
        for draft in rule.on_drawing(scene)
    )


def _on_gas(case: Case) -> list[_Found]:
    return _numbered(
        (rule.name, draft)
        for rule in RULES
        if rule.on_gas is not None
        for draft in rule.on_gas(case)
    )


def _numbered(drafts: Iterable[tuple[str, Draft]]) -> list[_Found]:
    """Tell apart drafts of one rule at the same places (two rows of a table, two notes)."""
    seen: dict[Key, int] = {}
    found = []
    for rule, draft in drafts:
        key = (rule, draft.part, draft.places, 0)
        seen[key] = seen.get(key, -1) + 1
        found.append(_Found(rule, draft, seen[key]))
    return found


def _marks(parts: PartSet, per_gas: Sequence[Sequence[_Found]]) -> dict[Key, int]:
    """Return the mark of every key: worst level under any gas, rule, part, as found."""
    rank_of_part = {part.id: rank for rank, part in enumerate(parts.parts)}
    worst: dict[Key, int] = {}
    for found in per_gas:
        for one in found:
            level = LEVELS.index(one.draft.level)
            worst[one.key] = max(worst.get(one.key, 0), level)

    def order(key: Key) -> tuple[int, int, int]:
        return -worst[key], RANK[key[0]], rank_of_part.get(key[1] or "", -1)

    # sorted is stable, so keys of one rule and part stay in the order found
    return {key: mark for mark, key in enumerate(sorted(worst, key=order), start=1)}


def _worst_first(finding: Finding) -> tuple[int, int]:
    return -LEVELS.index(finding.level), finding.mark


def _finding(one: _Found, mark: int) -> Finding:
    draft = one.draft
    return Finding(
        mark, one.rule, draft.level, draft.part, draft.count, draft.places,
        draft.measured, draft.limit, draft.unit, draft.message, draft.remedy,
        draft.wants_mm, draft.sort,
    )  # fmt: skip
