"""Pictures as SVG, written by hand: one file, no script, no font of its own, black and grey only."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

_TEXT = 13  # px


class Picture:
    """A canvas of `width` × `height` px; y grows downwards."""

    def __init__(self, width: float, height: float, title: str, words: str) -> None:
        self._parts = [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" width="{width:g}" '
            f'height="{height:g}" font-family="sans-serif" font-size="{_TEXT}" role="img">',
            f"<title>{escape(title)}</title>",
            f"<desc>{escape(words)}</desc>",
            f'<rect width="{width:g}" height="{height:g}" fill="white"/>',
        ]

    def text(self, x: float, y: float, text: str, anchor: str = "start", fill: str = "black", turn: float = 0) -> None:
        """One line of text, its baseline at y, turned by `turn` degrees clockwise."""
        turned = f' transform="rotate({turn:g} {x:.1f} {y:.1f})"' if turn else ""
        self._parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{fill}"{turned}>{escape(text)}</text>'
        )

    def line(self, x1: float, y1: float, x2: float, y2: float, dashes: str = "", width: float = 1) -> None:
        """A black line, dashed where `dashes` gives the pattern."""
        dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
        self._parts.append(
            f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="black" '
            f'stroke-width="{width:g}"{dashed}/>'
        )

    def path(self, points: Iterable[tuple[float, float]]) -> None:
        """A thick black line through points."""
        joined = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        self._parts.append(f'<polyline points="{joined}" fill="none" stroke="black" stroke-width="2"/>')

    def box(self, x: float, y: float, width: float, height: float, fill: str) -> None:
        """A filled rectangle with a thin edge."""
        self._parts.append(
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="{fill}" '
            'stroke="black" stroke-width="0.5"/>'
        )

    def dot(self, x: float, y: float, filled: bool) -> None:
        """A small circle."""
        fill = "black" if filled else "white"
        self._parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{fill}" stroke="black"/>')

    def cross(self, x: float, y: float) -> None:
        """A small diagonal cross."""
        for rise in (-4, 4):
            self.line(x - 4, y - rise, x + 4, y + rise, width=1.5)

    def svg(self) -> str:
        """The whole file."""
        return "\n".join([*self._parts, "</svg>", ""])
