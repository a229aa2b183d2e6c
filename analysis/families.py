"""Which of many comparisons are clear: errors held at 5 % for one person, whatever is shown.

The questions asked first (named by the geometry, over all pairs of set-ups) are tested together by Holm; two of them
about one pair of set-ups (the two feet) by Hochberg, which is Holm but that two p values of at most 5 % are both clear
(Hochberg Y 1988, Biometrika 75:800-802; holds for two correlated normal figures whatever the correlation). Everything
else is tested by Holm over all of it, and counts only for pairs of set-ups whose first questions are all clear. So
where nothing differs, at most 5 % of people see anything clear; with two set-ups the 5 % also hold for what is beside
a true difference (Westfall PH, Krishen A 2001, J Stat Plan Inference 99:25-40, families in sequence; from memory).
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

from .small_samples import ALPHA, holm


@dataclass(frozen=True)
class Question:
    """One comparison as a test.

    pair: the set-ups. primary: asked first. p: None where it cannot be tested. same_as: index of an earlier question
    that is the same one seen from the other end of the joint; it shares that one's answer and adds nothing to a family.
    """

    pair: Hashable
    primary: bool
    p: float | None
    same_as: int | None = None


@dataclass(frozen=True)
class Answer:
    """p_holm: adjusted p; None where it was not tested. opened: whether the first questions of its pair are clear."""

    p_holm: float | None
    clear: bool
    opened: bool


@dataclass(frozen=True)
class Sizes:
    """How many comparisons each family holds, and whose correction the first one uses."""

    first: int
    rest: int
    first_by: str = "Holm"


def judge(questions: Sequence[Question]) -> tuple[list[Answer], Sizes]:
    """Answers in the order of the questions, and the sizes of both families."""
    adjusted: dict[int, float] = {}
    families: dict[bool, list[int]] = {True: [], False: []}
    for index, question in enumerate(questions):
        if question.p is not None and question.same_as is None:
            families[question.primary].append(index)
    for family in families.values():
        adjusted |= dict(zip(family, holm([questions[i].p or 0.0 for i in family]), strict=True))
    asked = families[True]
    two_feet = len(asked) == 2 and questions[asked[0]].pair == questions[asked[1]].pair
    if two_feet:
        larger = max(questions[index].p or 0.0 for index in asked)
        adjusted |= {index: min(adjusted[index], larger) for index in asked}
    first: dict[Hashable, list[bool]] = {}
    for index in asked:
        first.setdefault(questions[index].pair, []).append(adjusted[index] <= ALPHA)
    opened = {pair for pair, clear in first.items() if all(clear)}
    answers: list[Answer] = []
    for index, question in enumerate(questions):
        if question.same_as is not None:
            answers.append(answers[question.same_as])
            continue
        counts = question.primary or question.pair in opened
        p_holm = adjusted.get(index) if counts else None
        answers.append(Answer(p_holm, p_holm is not None and p_holm <= ALPHA, question.pair in opened))
    return answers, Sizes(len(asked), len(families[False]), "Hochberg" if two_feet else "Holm")
