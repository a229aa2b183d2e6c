"""The fitting session in the order coaches work, twenty minutes in all: the text of the printable checklist."""

from __future__ import annotations

from dataclasses import dataclass

from ..logger.cautions import CONTRAINDICATIONS


@dataclass(frozen=True)
class FittingStep:
    """One step. minutes : how long. dos : what to do, in order. blanks : what to write down. note : what to know."""

    title: str
    minutes: int
    dos: tuple[str, ...]
    blanks: tuple[str, ...] = ()
    note: str = ""


STEPS: tuple[FittingStep, ...] = (
    FittingStep(
        "Before anything moves",
        1,
        (
            "Ask about pain, surgery and injuries. " + CONTRAINDICATIONS,
            "A minor: a guardian has agreed, and so has the child.",
            "Socks only. Thigh and shank clips on, if there are clips.",
        ),
        ("pseudonym", "date"),
    ),
    FittingStep(
        "Throne height, until it is settled",
        3,
        (
            "Set the height; the person sits as for playing, both feet on the floor.",
            "Measure the loaded height, the slope of the thigh, and the angle between trunk and thigh.",
            "Ask for balance, 0 to 10. Change by 2 to 3 cm until it is good, then leave it.",
        ),
        ("height [cm]", "thigh slope [°]", "trunk to thigh [°]", "balance 0-10"),
        "Every joint changes with the height. No pedal is moved before it is settled; a later change of more than 1 cm "
        "makes the range and the set-ups below another height.",
    ),
    FittingStep(
        "The slide, for spacing",
        3,
        (
            "In socks on the bare floor, both feet at once, slowly apart as far as they go, hold, and together. Three "
            "to five times.",
            "Shanks stay upright seen from the front. One that leans more than 10° to the side: mark it, repeat it.",
        ),
        ("narrowest, ball to ball [cm]", "widest [cm]", "side tilt right / left [°]"),
    ),
    FittingStep("Shoes and foot clips", 1, ("Shoes as for playing. Foot clips on; sit still for five seconds.",),
                ("shoes",)),
    FittingStep(
        "The range check",
        5,
        (
            "Seated, knee bent about 90°. One or two for practice, then three to five that count, on each side: toes "
            "up, toes down, knee up; thigh still, knee square: foot outward (hip turned in), foot inward (turned out).",
            "Slowly to the end, hold one to two seconds, back; no hands. Do the toes curl? Clips cannot see it.",
            "After each: any pain, 0 to 10? Above 3 or rising: stop this one.",
        ),
        ("toes up R / L [°]", "toes down R / L [°]", "knee up R / L [°]", "foot outward R / L [°]",
         "foot inward R / L [°]", "pain 0-10"),
    ),
    FittingStep(
        "Spacing and reach, by the lift test",
        3,
        (
            "Spacing inside what the slide gave, clear of snare and stand.",
            "Heel on its plate, foot relaxed on the board. Lift the forefoot as far as it goes, hold a second, three "
            "times, each foot. Hardly lifted: pedal 2 cm farther, and again.",
        ),
        ("spacing [cm]", "reach R / L [cm]", "lift R / L [°]"),
    ),
    FittingStep(
        "Play a minute on each",
        3,
        ("The same groove and tempo, a minute each; change one thing at a time, 2 to 4 cm or 2 to 5°.",
         "Comfort, balance and control, 0 to 10 each."),
        ("set-up A: comfort / balance / control", "set-up B: comfort / balance / control"),
    ),
    FittingStep(
        "The choice",
        1,
        ("The person chooses within what is clear. Mark the floor. Record the next practice there; measure again.",),
        ("chosen",),
    ),
)  # fmt: skip


def minutes_in_all() -> int:
    """How long the whole takes."""
    return sum(step.minutes for step in STEPS)
