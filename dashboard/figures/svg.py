"""Drawings of our own as SVG text: strokes, shapes, arrows with measures, words. No page, no file.

Points are given in cm and drawn on a fixed window, so that a drawing does not jump while a slider moves. Words are
12 units high on a drawing about 360 wide: legible on a phone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from html import escape
from urllib.parse import quote

from .theme import ACCENT, FONT, INK, RULE, SOFT_INK

Point = tuple[float, float]
WIDTH = 360.0
WORDS = 12.0


@dataclass
class Drawing:
    """A window on a plane in cm, y up. left, right, bottom, top : its edges [cm]; `parts`, `over` : what was drawn.

    Words lie over everything else, whenever they are written.
    """

    left: float
    right: float
    bottom: float
    top: float
    parts: list[str] = field(default_factory=list)
    over: list[str] = field(default_factory=list)

    @property
    def scale(self) -> float:
        """Units per cm."""
        return WIDTH / (self.right - self.left)

    @property
    def height(self) -> float:
        """In units."""
        return (self.top - self.bottom) * self.scale

    def at(self, point: Point) -> Point:
        """A point of the plane in units of the drawing."""
        return (point[0] - self.left) * self.scale, (self.top - point[1]) * self.scale

    def line(
        self, points: Sequence[Point], colour: str = INK, width: float = 1.5, *, dash: str = "", opacity: float = 1.0
    ) -> None:
        """A line through points; width in units."""
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in map(self.at, points))
        style = f' stroke-dasharray="{dash}"' if dash else ""
        style += f' opacity="{opacity:g}"' if opacity < 1.0 else ""
        self.parts.append(
            f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="{width:.1f}" '
            f'stroke-linecap="round" stroke-linejoin="round"{style}/>'
        )

    def limb(self, start: Point, end: Point, thick_cm: float, colour: str, opacity: float = 1.0) -> None:
        """A limb as a thick line with round ends."""
        self.line([start, end], colour, thick_cm * self.scale, opacity=opacity)

    def shape(
        self, points: Sequence[Point], fill: str, edge: str = INK, *, dash: str = "", opacity: float = 1.0
    ) -> None:
        """A closed outline."""
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in map(self.at, points))
        style = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(
            f'<polygon points="{path}" fill="{fill}" fill-opacity="{opacity:g}" stroke="{edge}" stroke-width="1.2" '
            f'stroke-linejoin="round"{style}/>'
        )

    def circle(
        self,
        middle: Point,
        radius_cm: float,
        fill: str = "none",
        edge: str = INK,
        *,
        dash: str = "",
        opacity: float = 1.0,
    ) -> None:
        """A circle of the plane."""
        x, y = self.at(middle)
        style = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius_cm * self.scale:.1f}" fill="{fill}" '
            f'fill-opacity="{opacity:g}" stroke="{edge}" stroke-width="1.2"{style}/>'
        )

    def arc(self, middle: Point, radius_cm: float, from_deg: float, to_deg: float, colour: str, width: float) -> None:
        """Part of a circle, counter-clockwise from the x axis [deg]."""
        count = max(2, math.ceil(abs(to_deg - from_deg) / 4.0) + 1)
        turns = [math.radians(from_deg + (to_deg - from_deg) * i / (count - 1)) for i in range(count)]
        x, y = middle
        self.line([(x + radius_cm * math.cos(a), y + radius_cm * math.sin(a)) for a in turns], colour, width)

    def words(
        self, point: Point, text: str, *, anchor: str = "start", colour: str = INK, bold: bool = False,
        shift: Point = (0.0, 0.0), size: float = WORDS,
    ) -> None:  # fmt: skip
        """Words at a point; anchor start, middle or end; shift in units, y down. A light edge keeps them legible.

        Words that would run over the drawing's edge are moved inside (by a guess of their width).
        """
        x, y = self.at(point)
        wide = 0.56 * size * len(text)
        before = {"start": 0.0, "middle": wide / 2.0, "end": wide}[anchor]
        x = min(max(x + shift[0], before + 2.0), WIDTH - 2.0 - (wide - before)) - shift[0]
        weight = ' font-weight="600"' if bold else ""
        self.over.append(
            f'<text x="{x + shift[0]:.1f}" y="{y + shift[1]:.1f}" text-anchor="{anchor}" fill="{colour}" '
            f'font-size="{size:g}"{weight} paint-order="stroke" stroke="#fffdf9" stroke-width="3" '
            f'stroke-linejoin="round">{escape(text)}</text>'
        )

    def measure(
        self, start: Point, end: Point, text: str, *, shift: Point = (0.0, 0.0), anchor: str = "middle", dash: str = ""
    ) -> None:
        """A measure between two points: a line with arrow heads and its words in the middle (`shift` in units)."""
        self.line([start, end], ACCENT, 1.4, dash=dash)
        (x0, y0), (x1, y1) = self.at(start), self.at(end)
        length = math.hypot(x1 - x0, y1 - y0)
        if length > 6.0:
            ux, uy = (x1 - x0) / length, (y1 - y0) / length
            for (x, y), sign in (((x0, y0), 1.0), ((x1, y1), -1.0)):
                bx, by = x + sign * 7.0 * ux, y + sign * 7.0 * uy
                self.parts.append(
                    f'<polygon points="{x:.1f},{y:.1f} {bx - 3 * uy:.1f},{by + 3 * ux:.1f} '
                    f'{bx + 3 * uy:.1f},{by - 3 * ux:.1f}" fill="{ACCENT}"/>'
                )
        middle = ((start[0] + end[0]) / 2.0, (start[1] + end[1]) / 2.0)
        self.words(middle, text, anchor=anchor, colour=ACCENT, bold=True, shift=shift)

    def floor(self) -> None:
        """The floor, at height 0."""
        self.line([(self.left, 0.0), (self.right, 0.0)], SOFT_INK, 1.2)
        x, y = self.at((self.left, 0.0))
        size = f'width="{WIDTH:g}" height="{self.height - y:.1f}"'
        self.parts.append(f'<rect x="{x:.1f}" y="{y:.1f}" {size} fill="{RULE}" opacity="0.5"/>')

    def text(self) -> str:
        """The whole drawing as SVG."""
        size = f'viewBox="0 0 {WIDTH:g} {self.height:.0f}" width="{WIDTH:g}" height="{self.height:.0f}"'
        drawn = "".join([*self.parts, *self.over])
        return f'<svg xmlns="http://www.w3.org/2000/svg" {size} font-family="{escape(FONT, quote=True)}">{drawn}</svg>'


def as_address(svg: str) -> str:
    """SVG text as an address that an image can show; it never leaves the page."""
    return "data:image/svg+xml;charset=utf-8," + quote(svg, safe=" =:/'(),;.-")
