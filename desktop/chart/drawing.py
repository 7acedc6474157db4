# SPDX-License-Identifier: MIT
"""The picture of curves as matplotlib artists, laid out in logical px from the top left corner.

The same drawing goes to the screen, to PNG, SVG and PDF. The figure has 72 dots per inch times the screen's pixel
ratio, so that one point is one logical px. No Axes are made: five hairlines and ten labels need none, and an empty pair
of log axes alone would cost more than all the curves. Importing this module imports no matplotlib; making a Plot does.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from desktop.chart.curve import EARLIEST_H, HIGHEST, Curve, riding, spread, ticks_between, time_range
from desktop.figures import MINUS
from desktop.language import tr
from desktop.theme import CURVES_DARK, CURVES_LIGHT, DARK, LIGHT, MARKERS

DOTS = 72
WORDS_FROM = 640
LIKING = 4.0
DASHES = (0, (4.0, 2.5))
THIN, THICK = 1.5, 2.4
# a star or a cross of the same width as a dot looks half its size
LARGER = {"*": 1.7, "X": 1.25, "P": 1.25, "^": 1.1, "v": 1.1, "D": 0.9}


@dataclass(frozen=True, slots=True)
class Look:
    """Colours, font family and text scale of one drawing."""

    colours: dict[str, str]
    curves: tuple[str, ...]
    family: str = ""
    scale: float = 1.0

    @property
    def text(self) -> float:
        """Size of every text on the chart, px."""
        return 11 * self.scale


def look(name: str, family: str = "", scale: float = 1.0) -> Look:
    """The look of a theme, 'light' or 'dark'."""
    dark = name == "dark"
    return Look(DARK if dark else LIGHT, CURVES_DARK if dark else CURVES_LIGHT, family, scale)


class Plot:
    """One drawing of curves. Still artists make the background; `live` ones, of the chosen curve, go over it."""

    def __init__(
        self, curves: Sequence[Curve], chosen: int | None, size: tuple[float, float], look: Look, *,
        ratio: float = 1.0, liking: bool = False, against: str = "",
    ) -> None:  # fmt: skip
        from matplotlib.figure import Figure
        from matplotlib.transforms import Affine2D

        self.curves = list(curves)
        self.chosen = chosen
        self.look = look
        self.ratio = ratio
        # how far differences to a reference reach; 0 where the intensities themselves are drawn
        self.against, self.reach = against, _reach(curves) if against else 0.0
        self.width, self.height = size
        dots = DOTS * ratio
        # whole device pixels: a fraction lost here would blur the blitted line against its background
        self.pixels = max(1, round(self.width * ratio)), max(1, round(self.height * ratio))
        self.figure = Figure(
            figsize=(self.pixels[0] / dots, self.pixels[1] / dots), dpi=dots, facecolor=look.colours["sheet"]
        )
        flip = Affine2D().scale(1 / self.width, -1 / self.height).translate(0, 1)
        self._place = flip + self.figure.transFigure
        self._fonts = _families(look.family)
        self._renderer = _renderer(self.figure)
        self._live: list[Any] = []
        self._labels: dict[int, tuple[float, float]] = {}
        self._lay_out(liking)
        self._draw_frame()
        self._draw_still()
        self._draw_live()

    # places -----------------------------------------------------------------------------------------------------------

    def _lay_out(self, liking: bool) -> None:
        widest = max((self._text_width(self._label(c)) for c in self.curves), default=0)
        self.left = self._text_width("+4") + 12
        self.right = max(self.width - min(widest + 22, self.width * 0.4), self.left + 40)
        foot = self.look.text + 12
        self.top, bottom = 10.0, self.height - foot
        self.liking_top = self.liking_bottom = None
        if liking and bottom - self.top > 160:
            self.liking_bottom = bottom
            self.liking_top = bottom - (bottom - self.top) * 0.27
            bottom = self.liking_top - 22
        self.bottom = max(bottom, self.top + 20)
        self.low_h, self.high_h = time_range(self.curves)

    def x(self, hours: float) -> float:
        """Where an elapsed time stands, px from the left: log time."""
        low, high = math.log(self.low_h), math.log(self.high_h)
        return self.left + 8 + (self.right - self.left - 14) * (math.log(max(hours, EARLIEST_H)) - low) / (high - low)

    def y(self, intensity: float) -> float:
        """Where an intensity, or a difference of two, stands, px from the top."""
        share = (intensity + self.reach) / (2 * self.reach) if self.reach else intensity / HIGHEST
        return self.bottom - (self.bottom - self.top) * share

    def liking_y(self, liking: float) -> float:
        """Where a liking stands, px from the top; only while the second picture is drawn."""
        assert self.liking_top is not None and self.liking_bottom is not None
        middle, half = (self.liking_top + self.liking_bottom) / 2, (self.liking_bottom - self.liking_top) / 2
        return middle - half * liking / LIKING


    def points(self) -> list[tuple[int, int, float, float]]:
        """(curve, point, x, y) of every point drawn, px."""
        return [
            (c, p, self.x(t), self.y(v)) for c, curve in enumerate(self.curves) for p, (t, v) in enumerate(curve.series)
        ]

    # drawing ----------------------------------------------------------------------------------------------------------

    def _draw_frame(self) -> None:
        colours = self.look.colours
        self.ticks = ticks_between(self.low_h, self.high_h, self.x, self._text_width)
        levels = [(self.y(v), f"{v:g}") for v in (0, 2, 4, 6)]
        if self.reach:
            levels = [(self.y(v), f"{v:+g}".replace("-", MINUS) if v else "0") for v in (-self.reach, 0, self.reach)]
            against = tr("against {benchmark}", benchmark=self.against)
            self._write(self.left + 4, self.top + self.look.text, against, colours["quiet"])
        foot = self.bottom
        if self.liking_top is not None and self.liking_bottom is not None:
            levels += [(self.liking_y(v), text) for v, text in ((-4, "−4"), (0, "0"), (4, "+4"))]
            self._write(self.left, self.liking_top - 8, tr("liking"), colours["quiet"], va="bottom")
            foot = self.liking_bottom
        self._lines([[(self.left, y), (self.right, y)] for y, _ in levels], colours["hairline"], 1.0)
        for y, text in levels:
            self._write(self.left - 8, y, text, colours["quiet"], ha="right", va="center_baseline")
        for hours, text in self.ticks:
            self._write(self.x(hours), foot + 6 + self.look.text, text, colours["quiet"], ha="center")

    def _draw_still(self) -> None:
        from matplotlib.collections import LineCollection

        still = [c for c in self.curves if c.key != self.chosen]
        for dashed in (False, True):
            lines = [c for c in still if c.dashed is dashed and len(c.series) > 1]
            if lines:
                self._add(
                    LineCollection(
                        [self._path(c) for c in lines],
                        colors=[self._colour(c) for c in lines],
                        linewidths=THIN,
                        linestyles=[DASHES if dashed else "solid"],
                        transform=self._place,
                    )
                )
        # markers of one colour and shape go together: 200 curves need 8 artists, not 200
        for place in sorted({c.place % len(MARKERS) for c in still}):
            alike = [c for c in still if c.place % len(MARKERS) == place]
            self._dots([xy for c in alike for xy in self._path(c)], alike[0], 4.5 if len(still) <= 24 else 3.0)
        self._draw_likings(still)
        self._place_labels()
        for curve in still:
            self._draw_label(curve)

    def _draw_likings(self, curves: Iterable[Curve], *, live: bool = False) -> None:
        if self.liking_top is None:
            return
        for curve in curves:
            path = [(self.x(t), self.liking_y(v)) for t, v in curve.liking]
            if path:
                width = THICK if live else THIN
                self._lines([path], self._colour(curve), width, dashed=curve.dashed, live=live)
                self._dots(path, curve, 3.5, live=live)

    def _place_labels(self) -> None:
        """Finds every label its own place at its line's end; more labels than the height holds are left to hovering."""
        gap = self.look.text + 3
        room = int((self.bottom - self.top) / gap) + 1
        ended = [c for c in self.curves if c.series]
        ended.sort(key=lambda c: c.key != self.chosen)
        ended = ended[:room]
        wanted = [self.y(c.series[-1][1]) for c in ended]
        for curve, y in zip(ended, spread(wanted, gap, self.top, self.bottom), strict=True):
            self._labels[curve.key] = (self.x(curve.series[-1][0]) + 10, y)

    def _draw_label(self, curve: Curve, *, live: bool = False) -> None:
        if curve.key not in self._labels:
            return
        x, y = self._labels[curve.key]
        self._dots([(x + 2, y)], curve, 5.0, live=live)
        colour = self.look.colours["ink" if live else "quiet"]
        self._write(x + 8, y, self._label(curve), colour, va="center_baseline", bold=live, halo=True, live=live)

    def _draw_live(self) -> None:
        curve = self.active
        if curve is None:
            return
        path = self._path(curve)
        self._lines([path], self._colour(curve), THICK, dashed=curve.dashed, live=True)
        self._dots(path, curve, 6.5, live=True)
        self._draw_likings([curve], live=True)
        self._draw_label(curve, live=True)
        if self.width >= WORDS_FROM:
            self._draw_words(curve, path)

    def _draw_words(self, curve: Curve, path: list[tuple[float, float]]) -> None:
        end = -math.inf
        for point, word in riding(curve):
            x, y = path[point]
            if point == len(path) - 1:
                # to the right of the last point stand the labels
                if x - self._text_width(word) > end + 6:
                    below, colour = y + 6 + self.look.text, self.look.colours["ink"]
                    self._write(x - 4, below, word, colour, ha="right", halo=True, live=True)
                continue
            # a falling curve leaves room to the upper right of its points
            x, width = x - 5, self._text_width(word)
            if x < end + 6 or x + width > self.width:
                continue
            end = x + width
            self._write(x, y - 9, word, self.look.colours["ink"], halo=True, live=True)

    # the chosen curve -------------------------------------------------------------------------------------------------

    @property
    def active(self) -> Curve | None:
        """The chosen curve."""
        return next((c for c in self.curves if c.key == self.chosen), None)

    def fits(self, curves: Sequence[Curve]) -> bool:
        """Whether these curves differ from the drawn ones in nothing but the chosen one, by its readings or its absence,
        and that can be drawn without a new axis or a first label."""
        if [c for c in curves if c.key != self.chosen] != [c for c in self.curves if c.key != self.chosen]:
            return False
        low, high = time_range(curves)
        known = all(c.key in self._labels for c in curves if c.key == self.chosen and c.series)
        return known and self.low_h <= low and high <= self.high_h

    def take(self, curves: Sequence[Curve]) -> None:
        """Draws the chosen curve anew, of curves that fit; its label keeps clear of the others, which stay."""
        for artist in self._live:
            artist.remove()
        self._live.clear()
        self.curves = list(curves)
        curve = self.active
        if curve is not None and curve.series:
            self._labels[curve.key] = (self.x(curve.series[-1][0]) + 10, self._free_place(curve))
        self._draw_live()

    def _free_place(self, curve: Curve) -> float:
        wanted, gap = self.y(curve.series[-1][1]), self.look.text + 3
        taken = [y for key, (_, y) in self._labels.items() if key != curve.key]
        tries = [wanted, *(y + side * gap for y in taken for side in (-1, 1))]
        free = [y for y in tries if self.top <= y <= self.bottom and all(abs(y - t) >= gap - 0.01 for t in taken)]
        return min(free, key=lambda y: abs(y - wanted), default=wanted)

    @property
    def live(self) -> list[Any]:
        """The artists of the chosen curve, to be drawn over the background."""
        return self._live

    # artists ----------------------------------------------------------------------------------------------------------

    def _path(self, curve: Curve) -> list[tuple[float, float]]:
        return [(self.x(t), self.y(v)) for t, v in curve.series]

    def _colour(self, curve: Curve) -> str:
        return self.look.curves[curve.place % len(self.look.curves)]

    def _label(self, curve: Curve) -> str:
        return curve.label if self.width >= WORDS_FROM or not curve.short else curve.short

    def _text_width(self, text: str) -> float:
        width, _, _ = self._renderer.get_text_width_height_descent(text, self._font(), ismath=False)
        return float(width) / self.ratio

    def _font(self, *, bold: bool = False) -> Any:
        from matplotlib.font_manager import FontProperties

        return FontProperties(family=self._fonts, size=self.look.text, weight="bold" if bold else "normal")

    def _add(self, artist: Any, *, live: bool = False) -> None:
        artist.set_animated(live)
        self.figure.add_artist(artist)
        if live:
            self._live.append(artist)

    def _lines(
        self, paths: Sequence[list[tuple[float, float]]], colour: str, width: float, *, dashed: bool = False,
        live: bool = False,
    ) -> None:  # fmt: skip
        from matplotlib.lines import Line2D

        for path in paths:
            xs, ys = [x for x, _ in path], [y for _, y in path]
            style = DASHES if dashed else "solid"
            line = Line2D(xs, ys, color=colour, linewidth=width, linestyle=style, transform=self._place)
            line.set_solid_joinstyle("round")
            self._add(line, live=live)

    def _dots(self, path: Sequence[tuple[float, float]], curve: Curve, size: float, *, live: bool = False) -> None:
        from matplotlib.lines import Line2D

        marker = MARKERS[curve.place % len(MARKERS)]
        self._add(
            Line2D(
                [x for x, _ in path], [y for _, y in path], linestyle="none", marker=marker,
                markersize=size * LARGER.get(marker, 1.0), markerfacecolor=self._colour(curve),
                markeredgecolor=self.look.colours["sheet"], markeredgewidth=0.6 if live else 0.3, transform=self._place,
            ),
            live=live,
        )  # fmt: skip

    def _write(
        self, x: float, y: float, text: str, colour: str, *, ha: str = "left", va: str = "baseline", bold: bool = False,
        halo: bool = False, live: bool = False,
    ) -> None:  # fmt: skip
        from matplotlib.patheffects import withStroke
        from matplotlib.text import Text

        artist = Text(
            x, y, text, color=colour, ha=ha, va=va, fontproperties=self._font(bold=bold), transform=self._place,
            parse_math=False,
        )  # fmt: skip
        if halo:
            artist.set_path_effects([withStroke(linewidth=3, foreground=self.look.colours["sheet"])])
        self._add(artist, live=live)


def _reach(curves: Iterable[Curve]) -> float:
    """The even step that every difference stays within, at least 2."""
    most = max((abs(v) for curve in curves for _, v in curve.series if not math.isnan(v)), default=0.0)
    return max(2.0, 2.0 * math.ceil(most / 2))


def _families(family: str) -> list[str]:
    """The wanted family where matplotlib has it, then its own; asking for one it lacks would log a warning per text."""
    from matplotlib.font_manager import fontManager

    known = {font.name for font in fontManager.ttflist}
    return [name for name in (family, "DejaVu Sans") if name in known]


def _renderer(figure: Any) -> Any:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    return FigureCanvasAgg(figure).get_renderer()
