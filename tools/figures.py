#!/usr/bin/env python3
"""Draws docs/figures/*.svg: what each measure reads against the truth, and how often its confidence is right.

burstsieve-calibrate --seed 401 --list > list.csv && tools/figures.py list.csv docs/figures
"""
import csv
import math
import pathlib
import sys
from collections import defaultdict

WIDTH, HEIGHT, LEFT, TOP, SIDE = 560, 270, 52, 30, 190
UNITS = {"_px": "px", "_deg": "degrees", "_ev": "EV", "mtf50": "cycles/px"}


def unit_of(measure):
    base = measure.rsplit("_", 1)[0] if measure[-2:] in ("_r", "_g", "_b") else measure
    return next((u for end, u in UNITS.items() if base.endswith(end)), "")


def quantile(values, share):
    values = sorted(values)
    place = share * (len(values) - 1)
    low = math.floor(place)
    high = min(low + 1, len(values) - 1)
    return values[low] + (values[high] - values[low]) * (place - low)


class Axes:
    """One square plot; maps values to places and collects SVG elements."""

    def __init__(self, x, low, high, label_x, label_y):
        self.x0, self.low, self.high = x, low, high
        self.parts = [f'<rect x="{x}" y="{TOP}" width="{SIDE}" height="{SIDE}" class="frame"/>']
        for value in self.ticks():
            px, py = self.at(value, value)
            text = f"{value:g}"
            self.parts += [f'<text x="{px:.1f}" y="{TOP + SIDE + 14}" class="m">{text}</text>',
                           f'<text x="{x - 5}" y="{py + 4:.1f}" class="e">{text}</text>']
        self.parts += [f'<text x="{x + SIDE / 2}" y="{TOP + SIDE + 31}" class="m">{label_x}</text>',
                       f'<text transform="translate({x - 36} {TOP + SIDE / 2}) rotate(-90)" class="m">{label_y}</text>']

    def ticks(self):
        step = 10 ** math.floor(math.log10((self.high - self.low) / 3))
        step *= next(m for m in (1, 2, 5, 10) if (self.high - self.low) / (step * m) <= 5)
        first = math.ceil(self.low / step)
        return [round(k * step, 6) for k in range(first, math.floor(self.high / step + 1e-9) + 1)]

    def at(self, x, y):
        span = self.high - self.low
        clip = lambda v: min(max((v - self.low) / span, 0), 1)
        return self.x0 + SIDE * clip(x), TOP + SIDE * (1 - clip(y))

    def line(self, points, kind):
        path = " ".join("{:.1f},{:.1f}".format(*self.at(x, y)) for x, y in points)
        self.parts.append(f'<polyline points="{path}" class="{kind}"/>')

    def area(self, lower, upper):
        path = " ".join("{:.1f},{:.1f}".format(*self.at(x, y)) for x, y in lower + upper[::-1])
        self.parts.append(f'<polygon points="{path}" class="band"/>')

    def dots(self, points):
        self.parts.append('<path class="dots" d="' + "".join(
            "M{:.1f} {:.1f}h0".format(*self.at(x, y)) for x, y in points) + '"/>')


def reading(rows, measure):
    """Measured over truth: dots, median and middle eight tenths over bins of equal width."""
    points = sorted((r["truth"], r["value"]) for r in rows if r["confidence"] >= .3)
    if len(points) < 20:
        points = sorted((r["truth"], r["value"]) for r in rows)
    low = min(0, points[0][0])
    high = max(quantile([p[0] for p in points], .99), quantile([p[1] for p in points], .99)) * 1.05 or 1
    unit = unit_of(measure)
    axes = Axes(LEFT, low, high, f"true{', ' + unit if unit else ''}", "measured")
    axes.line([(low, low), (high, high)], "truth")
    step = max(1, len(points) // 250)
    axes.dots(points[::step])
    width = (high - low) / 9
    cut = defaultdict(list)
    for point in points:
        cut[int((point[0] - low) / width)].append(point)
    bins = [found for _, found in sorted(cut.items()) if len(found) >= 6]
    middle = lambda b: sum(p[0] for p in b) / len(b)
    if len(bins) > 1 and points[-1][0] > points[0][0]:
        values = lambda b: [p[1] for p in b]
        axes.area([(middle(b), quantile(values(b), .1)) for b in bins],
                  [(middle(b), quantile(values(b), .9)) for b in bins])
        axes.line([(middle(b), quantile(values(b), .5)) for b in bins], "median")
    return axes


def reliability(rows):
    """Share within the tolerance over confidence, with two standard errors."""
    axes = Axes(LEFT + SIDE + 90, 0, 1, "confidence", "share within tolerance")
    axes.line([(0, 0), (1, 1)], "truth")
    bins = defaultdict(list)
    for r in rows:
        bins[min(9, int(10 * r["confidence"]))].append(r)
    for _, found in sorted(bins.items()):
        if len(found) < 10:
            continue
        x = sum(r["confidence"] for r in found) / len(found)
        y = sum(r["within"] for r in found) / len(found)
        error = 2 * math.sqrt(max(y * (1 - y), .01) / len(found))
        axes.line([(x, max(0, y - error)), (x, min(1, y + error))], "error")
        px, py = axes.at(x, y)
        axes.parts.append(f'<circle cx="{px:.1f}" cy="{py:.1f}" r="{2 + math.log10(len(found)):.1f}" class="point"/>')
    return axes


def figure(measure, source, rows):
    left, right = reading(rows, measure), reliability(rows)
    title = f"{measure}, from the {source}: {len(rows)} values"
    style = ("text{font:11px sans-serif;fill:#222}.m{text-anchor:middle}.e{text-anchor:end}.frame{fill:#fff;stroke:#888}"
             ".truth{fill:none;stroke:#999;stroke-dasharray:4 3}.band{fill:#c9dff2;fill-opacity:.7}"
             ".median{fill:none;stroke:#14568c;stroke-width:2}.dots{stroke:#555;stroke-width:2;stroke-linecap:round;"
             "stroke-opacity:.45}.error{fill:none;stroke:#a0461a}.point{fill:#a0461a}")
    return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" height="{HEIGHT}">'
            f"<title>{title}</title><style>{style}</style><rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>"
            f'<text x="{LEFT}" y="18">{title}</text>' + "\n".join(left.parts + right.parts) + "</svg>\n")


def main(list_file, folder):
    found = defaultdict(list)
    with open(list_file, newline="", encoding="utf-8") as lines:
        for row in csv.DictReader(lines):
            numbers = {k: float(row[k]) for k in ("confidence", "value", "truth", "within")}
            found[row["measure"], "raw" if row["raw"] == "1" else "rendering"].append(numbers)
    out = pathlib.Path(folder)
    out.mkdir(parents=True, exist_ok=True)
    for (measure, source), rows in sorted(found.items()):
        if len(rows) >= 20:
            (out / f"{measure}-{source}.svg").write_text(figure(measure, source, rows), encoding="utf-8")


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    main(*sys.argv[1:])
