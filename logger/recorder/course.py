"""The steps of a plan and how far along them somebody is; steps can be left out on the way. Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from .plan import Step


class Course:
    """Steps in order, one of them now."""

    def __init__(self, steps: Sequence[Step]) -> None:
        self._steps = list(steps)
        self._at = 0

    @property
    def step(self) -> Step:
        """The step that is on (the last one when it is over)."""
        return self._steps[min(self._at, len(self._steps) - 1)]

    @property
    def number(self) -> int:
        """Which step of `of` it is, from 1."""
        return min(self._at, len(self._steps) - 1) + 1

    @property
    def of(self) -> int:
        """How many steps there are now."""
        return len(self._steps)

    @property
    def ahead(self) -> list[Step]:
        """The step that is on and those that follow."""
        return self._steps[self._at :]

    def next(self) -> bool:
        """Go on to the next step; False when there is none."""
        self._at += 1
        return self._at < len(self._steps)

    def back_to(self, step: Step) -> bool:
        """Go back to an earlier step; False when it is none."""
        back = next((i for i in range(self._at - 1, -1, -1) if self._steps[i] is step), None)
        if back is None:
            return False
        self._at = back
        return True

    def change_rest(self, changed: Callable[[Step], Step | None], from_here: bool) -> None:
        """Change the steps to come, None = left out; `next` then leads to the first of them.

        from_here : the step that is on is among them, else only those after it.
        """
        done = self._steps[: self._at + (0 if from_here else 1)]
        rest = [after for step in self._steps[len(done) :] if (after := changed(step)) is not None]
        followed: list[Step | None] = [*rest[1:], None] if rest else []
        rest = [step for step, then in zip(rest, followed, strict=True) if not step.for_next or (then and then.is_move)]
        self._steps = done + rest
        self._at = len(done) - 1
