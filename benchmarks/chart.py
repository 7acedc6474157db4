# SPDX-License-Identifier: MIT
"""One reading added to a chart of 200 curves of 50 points, beside one full drawing: python -m benchmarks chart"""

from __future__ import annotations

from dataclasses import replace
from itertools import count

from benchmarks.timing import bench, milliseconds

CURVES, POINTS, WIDTH, HEIGHT = 200, 50, 860, 400


def main() -> None:
    """Prints the time of a new reading and of a full drawing."""
    with bench() as (qt, _, session):
        from desktop.chart.curve import Curve
        from desktop.chart.curves import CurveCanvas

        times = [0.03 * 1.22**n for n in range(POINTS)]
        curves = [
            Curve(key=n, label=f"P{n}", place=n, series=tuple((t, max(0.0, 5.5 - t / (20 + n) - n % 5 / 2)) for t in times))
            for n in range(CURVES)
        ]
        canvas = CurveCanvas(session.theme)
        canvas.resize(WIDTH, HEIGHT)
        canvas.load()
        canvas.set_curves(curves, chosen=3)
        canvas.show()
        qt.processEvents()
        steps = count(1)

        def reading() -> None:
            grown = (*curves[3].series, (times[-1] + next(steps) * 0.01, 1.5))
            canvas.update_curve(replace(curves[3], series=grown))
            qt.processEvents()

        def whole() -> None:
            canvas.set_curves(curves[: CURVES - next(steps) % 2], chosen=3)
            qt.processEvents()

        full, one = milliseconds(whole, 15), milliseconds(reading, 60)
        print(f"chart of {CURVES} × {POINTS}: one reading {one:.1f} ms, full drawing {full:.0f} ms, ratio {one / full:.2f}")


if __name__ == "__main__":
    main()
