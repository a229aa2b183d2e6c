"""What a guided recording says: one plain instruction a step, the cautions first, and what to do on pain."""

from __future__ import annotations

from dataclasses import dataclass

from ..cautions import CAUTION, CONTRAINDICATIONS, LOCAL_RULES, MINORS, REFER
from .plan import MOVES, Step


@dataclass(frozen=True)
class Said:
    """title : what it is about, a few words. lines : the instruction. cues : words for out, hold, back and pause."""

    title: str
    lines: tuple[str, ...]
    cues: tuple[str, str, str, str] = ("", "", "", "")


CAUTIONS = (CAUTION, f"{MINORS} {LOCAL_RULES}")
CAUTIONS_OF_MOVES = (
    "The moves that follow go to the end of what you reach by yourself: slowly, never with a hand, never into pain. "
    "Press p as soon as something hurts.",
    CONTRAINDICATIONS,
)
BEFORE_MOVES = "None of this holds for you? Enter. One does, or you would rather not move so far? o: only practice."
HANDS_FREE = "It goes on by itself. o: only practice, no moves. Ctrl-C: end it."
READ_IT = "Press Enter when you have read it."
ASK_PAIN = "Did that hurt? Then press p. If not, go on."
WHICH_SIDE = "Where did it hurt: r = right, l = left, Enter = both?"
ON_PAIN = (
    "Stop here; that is right. The moves of this side are over, and what hurt does not count.",
    REFER,
)
ON_PAIN_PLAYING = ("Stop playing; that is right. What was played until now is kept.", REFER)
MOVED = "That was not quite still: {who}. r = once more, Enter = go on."
AGAIN_STILL = "That was not quite still ({who}); once more."
SWAP_QUESTION = "y: exchange them in the logbook and begin again. n: they sit right, it was the other one that moved."
SWAP_KEYS = "y = exchange, n = leave as they are"
TAPPED = "The tap is noted."
NEVER_TIRED = "Play as you like to; stop before you are tired."


def said(step: Step) -> Said:
    """What to show for a step."""
    if step.kind == "caution":
        return Said("Before the moves", CAUTIONS_OF_MOVES) if step.asks == MOVES else Said("Before you begin", CAUTIONS)
    if step.kind == "setup":
        again = f", once more (visit {step.number})" if (step.number or 1) > 1 else ""
        return Said(
            f"Set-up: {step.setup}{again}",
            (
                f"Now bring throne and pedals to the set-up '{step.setup}'. Keep the clips on.",
                "Go on when everything stands as it should.",
            ),
        )
    if step.kind == "felt":
        word, low, high = _FELT[step.asks or ""]
        return Said(
            f"How did '{step.setup}' feel?", (f"{word}: 0 = {low} ... 10 = {high}. Type a number, then Enter.",)
        )
    if step.phase == "playing":
        what = step.exercise or "your routine"
        tempo = "" if step.tempo_bpm is None else f" at {step.tempo_bpm:g} bpm"
        end = "Enter ends it." if step.seconds is None else "It ends by itself; Enter ends it earlier."
        return Said(f"Play on '{step.setup}'", (f"Play {what}{tempo}. {end}", NEVER_TIRED))
    leg = {"right": "Right ", "left": "Left ", None: "Both "}[step.side]
    return _MOVES[step.phase or ""](leg)


def _move(title: str, lines: tuple[str, ...], *cues: str) -> _Moved:
    return _Moved(title, lines, cues)


@dataclass(frozen=True)
class _Moved:
    title: str
    lines: tuple[str, ...]
    cues: tuple[str, ...]

    def __call__(self, leg: str) -> Said:
        words = {
            "leg": leg,
            "low": leg.lower(),
            "many": "s" if leg == "Both " else "",
            "fore": "forefeet" if leg == "Both " else "forefoot",
        }
        cues = [*self.cues, "", "", "", ""][:4]
        return Said(
            self.title.format(**words),
            tuple(line.format(**words) for line in self.lines),
            (cues[0], cues[1], cues[2], cues[3]),
        )


_FELT = {
    "comfort_0_10": ("Comfort", "could not be worse", "could not be better"),
    "balance_0_10": ("Balance", "about to tip over", "as firm as can be"),
    "control_0_10": ("Control", "none", "every stroke as meant"),
}
_SLOWLY = "Slowly, by your own strength, only as far as it is comfortable. Follow the words below."
_END = "Slowly as far as it goes by itself, never into pain: hold it, and slowly back."
_BENT = "Knee bent, toes long: do they curl? No clip can see it. Then do it again without."
_MOVES: dict[str, _Moved] = {
    "still": _move(
        "Sit still",
        ("Sit tall. Soles flat on the floor, shins upright (against a box or wall), thighs straight ahead.",
         "Then do not move until the time is over."),
    ),
    "end_still": _move(
        "Sit still once more",
        ("The first pose again: tall, soles flat on the floor, shins upright, thighs straight ahead.",
         "Leave the clips on. Do not move until the time is over."),
    ),
    "ankle_taps": _move(
        "{leg}foot: heel up and back",
        ("{leg}sole flat on the floor: raise the heel first, so that the toes point down, then back to flat.",
         _SLOWLY),
        "heel up", "", "back to flat", "rest",
    ),
    "knee_kicks": _move(
        "{leg}knee: straighten and bend",
        ("Lift the {low}foot off the floor and straighten the knee first, then let it come back.", _SLOWLY),
        "straighten", "", "back", "rest",
    ),
    "thigh_lifts": _move(
        "{leg}thigh: up and down",
        ("Lift the {low}knee toward the ceiling, upward first, then let the foot come back to the floor.", _SLOWLY),
        "knee up", "", "back down", "rest",
    ),
    "range_dorsiflexion": _move(
        "{leg}ankle: how far up?",
        ("{leg}heel just off the floor or resting on it lightly: lift the toes toward the shin.", _BENT, _END),
        "toes up", "hold", "back", "rest",
    ),
    "range_plantarflexion": _move(
        "{leg}ankle: how far down?",
        ("Hold the {low}foot just off the floor and point the toes down, away from the shin.", _BENT, _END),
        "toes down", "hold", "back", "rest",
    ),
    "range_hip_flexion": _move(
        "{leg}hip: how far up?",
        ("Sit tall. Lift the {low}knee until your pelvis would begin to roll back.", _END),
        "knee up", "hold", "back", "rest",
    ),
    "range_abduction": _move(
        "{leg}knee{many}: how far out?",
        ("Move the {low}knee{many} outward, level, feet going along; keep the pelvis where it is.", _END),
        "outward", "hold", "back", "rest",
    ),
    "range_adduction": _move(
        "{leg}knee{many}: how far in?",
        ("Move the {low}knee{many} inward, level, until the legs touch or it goes no farther.", _END),
        "inward", "hold", "back", "rest",
    ),
    "range_internal_rotation": _move(
        "{leg}hip: foot outward",
        ("{leg}foot off the floor, knee bent and kept in its place: swing the foot outward.", _END),
        "foot outward", "hold", "back", "rest",
    ),
    "range_external_rotation": _move(
        "{leg}hip: foot inward",
        ("{leg}foot off the floor, knee bent and kept in its place: swing the foot inward, past the other one.", _END),
        "foot inward", "hold", "back", "rest",
    ),
    "slide": _move(
        "Slide the feet apart and together",
        ("In socks, both feet on the floor: slide them apart at the same time, shins upright, toes where the knees",
         "point, as far as the hips let you. Hold, then together until it goes no farther. Never into pain."),
        "apart", "hold", "together", "rest",
    ),
    "rest_on_pedal": _move(
        "Feet at rest on the pedals",
        ("Feet on the pedals as before the first beat, heels down, relaxed.", "Do not move until the time is over."),
    ),
    "lift_test": _move(
        "{leg}{fore}: lift on the pedal{many}",
        ("Heels stay down: lift the {fore} off the board{many}.", _END),
        "toes up", "hold", "back", "rest",
    ),
    "end_range": _move(
        "{leg}ankle{many}: up twice more",
        ("{leg}heel{many} resting on the floor: lift the toes toward the shin.", _END),
        "toes up", "hold", "back", "rest",
    ),
}  # fmt: skip


def duration(seconds: float) -> str:
    """`35 s`, `3 min`."""
    return f"{seconds / 60:.3g} min" if seconds >= 90 else f"{seconds:.0f} s"
