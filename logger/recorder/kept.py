"""What was kept and what was lost, in the words of somebody who drums."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ..models import place_words
from .about import ClipLoss
from .timed_clip import TimedClip

GAP_S = 0.1  # a silence longer than this is a gap [s], as in analysis
_LATE_START_S, _EARLY_END_S = 0.5, 0.5  # clips do not begin and end at the same moment [s]
LEAST_SAID_S = 0.05  # less is no loss worth a word [s]
UNSURE_S = 0.005  # clocks less sure than this are said [s]


def loss_of(clip: TimedClip, times: NDArray[np.float64], span: tuple[float, float], period_s: float) -> ClipLoss:
    """What is missing of a clip. times : (n,) of its samples [s]. span : of the recording, all clips together [s]."""
    start, end = span
    restarts = sum(why.kind == "restart" for why in clip.breaks)
    if not len(times):
        return ClipLoss(clip.worn, 0, end - start, ((start, end),), None, clip.repeated, clip.late, restarts)
    steps = np.diff(times)
    holes = steps > 1.5 * period_s
    lost = float((steps[holes] - period_s).sum())
    gaps = [(float(times[i]), float(times[i + 1])) for i in np.flatnonzero(steps > GAP_S)]
    first, last = float(times[0]), float(times[-1])
    if first - start > _LATE_START_S:
        lost += first - start
        gaps.insert(0, (start, first))
    if end - last > _EARLY_END_S:
        lost += end - last
        gaps.append((last, end))
    rounded = tuple((round(a, 3), round(b, 3)) for a, b in gaps)
    return ClipLoss(clip.worn, len(times), round(lost, 3), rounded, last, clip.repeated, clip.late, restarts)


def duration(seconds: float) -> str:
    """`1 h 04 min`, `10 min 04 s`, `4.2 s`."""
    if seconds < 9.95:
        return f"{seconds:.1f} s"
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60:02d} s"
    return f"{whole // 3600} h {whole % 3600 // 60:02d} min"


def sentence(losses: Sequence[ClipLoss], absent: Sequence[str], span: tuple[float, float], interrupted: bool) -> str:
    """One line: what was kept, what was lost. absent : worn places without a sample."""
    start, end = span
    there = [loss for loss in losses if loss.kept]
    clips = "1 clip" if len(there) == 1 else f"{len(there)} clips"
    lost = [_lost(loss, start, end) for loss in there if loss.lost_s >= LEAST_SAID_S]
    lost += [f"{place_words(place)} all of it" for place in absent]
    text = f"{clips}, {duration(end - start)} kept; " + (f"lost: {', '.join(lost)}" if lost else "nothing lost")
    if interrupted:
        text += "; it was broken off, so up to a second at the end may be missing"
    return text + "."


def _lost(loss: ClipLoss, start: float, end: float) -> str:
    last = loss.gaps[-1] if loss.gaps else None
    died = last is not None and last[1] >= round(end, 3) and last[1] - last[0] > 2.0
    if last is None or not died:
        return f"{place_words(loss.place)} {duration(loss.lost_s)}"
    since = f"everything from {duration(last[0] - start)} on"
    before = loss.lost_s - (last[1] - last[0])
    return f"{place_words(loss.place)} {since}" + (f" and {duration(before)} before" if before >= LEAST_SAID_S else "")


def problems(clip: TimedClip, start_s: float) -> list[str]:
    """What else happened to a clip, a sentence each with its remedy. start_s : host time of the session's zero [s]."""
    place, found = place_words(clip.worn), []
    if clip.unusable:
        found.append(
            f"the clock of the clip on the {place} jumps about or runs backwards, so its samples cannot be timed; "
            "switch it off and on, and if it happens again, put new firmware on it."
        )
    for stream, why in clip.left_out:
        if why == "twin":
            heard_at = stream.meaning.place if stream.meaning else "?"
            found.append(
                f"another clip with the same id as that on the {place} was heard ({heard_at}); its samples are kept "
                "aside and do not count: give one of the two an id of its own."
            )
        elif why == "scale":
            found.append(
                f"the clip on the {place} changed its measuring range meanwhile; the shorter part is kept aside."
            )
        else:
            found.append(
                f"nothing says what the numbers of the clip on the {place} mean; they are kept aside. Record again."
            )
    restarts = [why for why in clip.breaks if why.kind == "restart"]
    if restarts:
        at = ", ".join(duration(why.at_s - start_s) for why in restarts[:3]) + (" ..." if len(restarts) > 3 else "")
        found.append(f"the clip on the {place} began anew (at {at}); if nobody switched it, look after its battery.")
    for why in clip.breaks:
        if why.kind != "restart":
            way = "back" if why.kind == "clock back" else "ahead"
            found.append(
                f"the clock of the clip on the {place} jumped {way} by {abs(why.by_s):.3g} s at "
                f"{duration(why.at_s - start_s)} while its samples went on; it was brought in line again there."
            )
    if clip.lost_batches:
        found.append(
            f"the file of the {place} was damaged on the disk: about {clip.lost_batches / 2:.3g} s could not be read "
            "and are left out; look after the disk."
        )
    if clip.odd and not clip.unusable:
        found.append(f"{clip.odd} frames of the {place} contradicted the others and are left out.")
    unsure = max((run.clock.uncertainty_s for run in clip.runs), default=0.0)
    if unsure > UNSURE_S:
        found.append(f"the clock of the clip on the {place} is known to +-{1000 * unsure:.0f} ms only.")
    return found
