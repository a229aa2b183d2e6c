"""One recording from clips that are worn: waits until all are well, guides, keeps, and makes a session of it."""

from __future__ import annotations

import contextlib
import signal
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from ..errors import InputError, SourceError
from ..files import remove_folder
from ..logbook import Logbook
from ..models import Side
from ..sources.base import Event, Source
from ..sources.listening import Listening
from ..sources.pacing import PacedSource
from .about import About, Kept
from .acts import Act, Begin, Drop, End, Exchange, Prepare, Remark
from .checks import Finding, check_clips
from .folders import forget_lock
from .guide import Ended, Guide
from .keeper import Keeper
from .keeping import Keeping
from .keys import Keys
from .plan import ON_PEDAL, Pace, Plan, Step
from .rebuild import finish
from .screen import Screen
from .view import View, view_of
from .virtual_person import Follower
from .watch import Watch

TURN_S = 0.02
"""How often it is looked what came [s]."""
PATIENCE_S = 15.0
"""For so long clips are waited for, where nobody is at the keyboard [s]."""
SETTLED_S = 2.5
"""So long all clips must have been heard before their rate is judged [s]."""
ASK_AGAIN_S = 1.0
MEASURED = ("still", "end_still", "ankle_taps")
"""Phases in which it is measured which clip turns."""


@dataclass
class Tools:
    """What a recording works with. clock : host time [s]; follower : who does what is asked, if that is no person."""

    listening: Listening
    screen: Screen
    keys: Keys = field(default_factory=Keys)
    clock: Callable[[], float] = time.monotonic
    follower: Follower | None = None
    pace: Pace = field(default_factory=Pace)
    hands_free: bool = False
    anyway: bool = False
    interrupted: threading.Event = field(default_factory=threading.Event)


@dataclass(frozen=True)
class Outcome:
    """How a recording ended. kept : None when nothing was recorded. pairs : places to exchange, then it begins anew."""

    ended: Ended
    kept: Kept | None = None
    pairs: tuple[tuple[str, str], ...] = ()


def clock_of(sources: Sequence[Source]) -> Callable[[], float]:
    """Host time as the sources stamp it: for virtual and replayed clips that of the last that came."""
    paced = next((source for source in sources if isinstance(source, PacedSource)), None)
    return time.monotonic if paced is None else lambda: paced.opened_s + paced.reached_s


@contextlib.contextmanager
def interrupt_sets(interrupted: threading.Event) -> Iterator[None]:
    """The first Ctrl-C only sets this; a second one is an interrupt as ever."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def once(number: int, frame: object) -> None:
        if interrupted.is_set():
            raise KeyboardInterrupt
        interrupted.set()

    before = signal.signal(signal.SIGINT, once)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def wait_until_ready(tools: Tools, watch: Watch) -> list[Finding]:
    """Start the clips and wait until all are well; what is still to be said then.

    With somebody at the keyboard it waits for as long as they like (`a` = go on anyway where that may be, q = leave);
    else raises InputError with the first thing that is wrong after `PATIENCE_S`.
    """
    begin_s = tools.clock()
    asked: dict[str, float] = {}
    well_s: float | None = None
    anyway = tools.anyway
    while True:
        time.sleep(TURN_S)
        now_s = tools.clock()
        watch.take(tools.listening.take())
        _start_clips(tools.listening, watch, asked, now_s)
        states = watch.clips(now_s)
        findings = check_clips(states, watch.strangers, watch.troubles, anyway)
        stops = [finding for finding in findings if finding.stops]
        well_s = None if stops else well_s or now_s
        if well_s is not None and now_s - well_s >= SETTLED_S:
            return findings
        pressed = tools.keys.take()
        if "q" in pressed or tools.interrupted.is_set():
            raise KeyboardInterrupt
        anyway = anyway or "a" in pressed
        if (tools.hands_free or tools.keys.ended) and stops and now_s - begin_s > PATIENCE_S:
            more = f" ({len(stops) - 1} more like this)" if len(stops) > 1 else ""
            raise InputError(f"{stops[0].sentence[0].lower()}{stops[0].sentence[1:]}{more}")
        tools.screen.show(_waiting_view(stops, now_s - begin_s, anyway), states)


def _waiting_view(stops: list[Finding], since_s: float, anyway: bool) -> View:
    if not stops or since_s < SETTLED_S:
        return View("checks", "Looking for the clips", ("All clips that are worn are asked to send.",))
    said = tuple(f"- {finding.sentence}" for finding in stops[:3])
    may = not anyway and all(finding.may for finding in stops)
    return View("checks", "Not yet", said, keys=f"{'a = go on anyway, ' if may else ''}q = leave")


def _start_clips(listening: Listening, watch: Watch, asked: dict[str, float], now_s: float) -> None:
    for clip in watch.to_start():
        if now_s - asked.get(clip, float("-inf")) >= ASK_AGAIN_S:
            asked[clip] = now_s
            with contextlib.suppress(SourceError):  # not there at this moment, or two with one id: said elsewhere
                listening.command(clip, "start")


def record(book: Logbook, about: About, plan: Plan, tools: Tools, watch: Watch) -> Outcome:
    """Guide through a plan and keep what comes; returns when it is over and in the logbook.

    A first interrupt ends it and keeps it; a second one, while the session is being made, raises KeyboardInterrupt and
    leaves the rest to `footroom recover`. Raises RecordingRunning, LogbookError.
    """
    keeper = Keeper(book.path, about, tools.listening.clips())
    try:
        with Keeping(keeper) as keeping:
            run = _Run(keeper, keeping, Guide(plan, tools.hands_free, tools.pace), tools, watch)
            run.until_over()
    finally:
        keeper.close()
        tools.screen.close()
    if run.pairs or not run.begun:
        remove_folder(keeper.folder)
        forget_lock(book.path, keeper.folder)
        return Outcome(run.guide.ended, None, run.pairs)
    return Outcome(run.guide.ended, finish(book, keeper.folder))


class _Run:
    def __init__(self, keeper: Keeper, keeping: Keeping, guide: Guide, tools: Tools, watch: Watch) -> None:
        self.keeper, self.keeping, self.guide, self.tools, self.watch = keeper, keeping, guide, tools, watch
        self.pairs: tuple[tuple[str, str], ...] = ()
        self.begun = False
        self._asked: dict[str, float] = {}
        self._turning: dict[str, float] = {}

    def until_over(self) -> None:
        tools, guide = self.tools, self.guide
        while guide.stage != "done":
            time.sleep(TURN_S)
            events = tools.listening.take()
            now_s = tools.clock()
            self._take(events, now_s)
            if tools.interrupted.is_set():
                self._do(guide.stop(now_s))
            for key in tools.keys.take():
                self._do(guide.key(key, now_s))
            if tools.keys.ended and not guide.hands_free:
                guide.hands_free = True  # whoever was at the keyboard is gone
            left = guide.left_s(now_s)
            over = guide.stage == "go" and left == 0.0 and guide.step.phase in MEASURED
            self._do(guide.tick(now_s, self.watch.turning() if over else None))
            self._show(now_s)
        self._take(tools.listening.take(), tools.clock())
        for facts in tools.listening.clips():
            with contextlib.suppress(SourceError):
                tools.listening.command(facts.clip, "stop")

    def _take(self, events: list[Event], now_s: float) -> None:
        self.keeping.take(events, now_s)
        self.watch.take(events)
        _start_clips(self.tools.listening, self.watch, self._asked, now_s)

    def _do(self, acts: Sequence[Act]) -> None:
        for act in acts:
            match act:
                case Prepare():
                    self._follow(act.phase, act.at_s, setup=act.setup)
                case Begin():
                    self._begin(act.step, act.at_s)
                case End():
                    self.keeping.do(partial(self.keeper.end, act.at_s))
                    self._rest(act.step, act.at_s)
                case Drop():
                    self.keeping.do(self.keeper.drop_phase)
                    self._rest(act.step, act.at_s)
                case Remark():
                    self.keeping.do(partial(self.keeper.remark, act.kind, act.at_s, **act.what))
                case Exchange():
                    self.pairs = act.pairs

    def _begin(self, step: Step, at_s: float) -> None:
        self.begun = True
        if step.phase in MEASURED:
            self.watch.measure()
        begin = partial(
            self.keeper.begin, step.phase or "", at_s, setup=step.setup, side=step.side, exercise=step.exercise,
            tempo_bpm=step.tempo_bpm, block=step.number if step.phase == "playing" else None,
        )  # fmt: skip
        self.keeping.do(begin)
        self._follow(step.phase or "", at_s, step.side, step.setup)
        self.tools.screen.bell()

    def _rest(self, step: Step, at_s: float) -> None:
        """Whatever was asked for is over: the follower goes back to the pose it came from."""
        self._follow("rest_on_pedal" if step.phase in ON_PEDAL else "still", at_s, setup=step.setup)
        self.tools.screen.bell()

    def _follow(self, phase: str, at_s: float, side: Side | None = None, setup: str | None = None) -> None:
        if self.tools.follower is not None:
            self.tools.follower.begin(phase, at_s, side, setup)

    def _show(self, now_s: float) -> None:
        view = view_of(self.guide, now_s)
        problems = self.keeping.problems()
        if problems:
            view = replace(view, note=" ".join([*problems, view.note]).strip())
        self.tools.screen.show(view, self.watch.clips(now_s))
