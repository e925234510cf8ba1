#!/usr/bin/env python3
"""Drawings whose right answer is known, and how well `dyekin clean` finds it again.

usage: strays.py draw FOLDER [SEED...]            writes drawings and hard-edge designs
       strays.py measure DYEKIN TABLE FOLDER      cleans all of them and prints figures
       strays.py pictures DYEKIN TABLE FOLDER [USE]   cleans a folder of real pictures, prints figures
       strays.py example FILE                     writes the small drawing of the tests

Seeds 0 to 99 are for tuning, 100 and more for reporting (100 to 107 when none is given).
A drawing is drawn 16 times as fine as its stitches in 6 flat colors: ellipses, polygons, rectangles,
lines and rings 1 to 1.6 stitches wide, eyes with highlights. Its truth gives each cell the color
that covers most of it; cells where that is a near-tie are left out of every count. Its inputs are
what programs make of it: `encoded` and `linear` mix evenly in encoded values and in linear light,
`bicubic` and `lanczos` shrink with sharpening filters, `threads` is `encoded` mapped to the table.
A design has hard edges only, and nothing of it may change.
A folder of pictures holds NAME.truth.png and NAME.sure.png as above, NAME.aa.png (evenly mixed) and
NAME.lanczos.png (sharpened), and a list.json of objects with "name" and "use": tune or report.

Everything is drawn by this file; nothing comes from elsewhere. Needs numpy and Pillow.
"""
import json
import math
import os
import subprocess
import sys
import tempfile

import numpy as np
from PIL import Image, ImageDraw

FINE = 16
SIZE = 100
KINDS = ("encoded", "linear", "bicubic", "lanczos", "threads")

# Kinds that are mapped to the table before they are cleaned, and the pictures that they come from.
SHOWN = {"threads": "encoded", "aa-threads": "aa"}


def lab(color):
    """CIELAB under D65 of an sRGB color (IEC 61966-2-1)."""
    part = np.asarray(color, float) / 255
    part = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)
    matrix = [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.072175],
              [0.0193339, 0.119192, 0.9503041]]
    xyz = np.asarray(matrix) @ part / [0.95047, 1.0, 1.08883]
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def palette(rng):
    """Six colors, each at least 22 units of CIELAB from the others."""
    colors = []
    while len(colors) < 6:
        color = tuple(int(part) for part in rng.integers(0, 256, 3))
        if all(np.linalg.norm(lab(color) - lab(other)) >= 22 for other in colors):
            colors.append(color)
    return colors


def draw(seed):
    """The numbers of the colors of a drawing, fine, with the cells of thin lines, and its colors."""
    rng = np.random.default_rng(seed)
    colors = palette(rng)
    side = SIZE * FINE
    picture = Image.new("L", (side, side), 0)
    pen = ImageDraw.Draw(picture)

    def some(low, high):
        return float(rng.uniform(low, high)) * FINE

    def color():
        return int(rng.integers(1, 6))

    for _ in range(7):
        x, y, a, b = some(5, 95), some(5, 95), some(5, 20), some(5, 20)
        kind = rng.integers(0, 3)
        if kind == 0:
            pen.ellipse((x - a, y - b, x + a, y + b), fill=color())
        elif kind == 1:
            pen.rectangle((x - a, y - b, x + a, y + b), fill=color())
        else:
            turns = np.sort(rng.uniform(0, 2 * math.pi, int(rng.integers(3, 7))))
            pen.polygon([(x + a * math.cos(t), y + b * math.sin(t)) for t in turns], fill=color())
    for _ in range(10):
        width = round(some(1.0, 1.6))
        x, y = some(8, 92), some(8, 92)
        if rng.integers(0, 2):
            turn, long = rng.uniform(0, math.pi), some(12, 35)
            dx, dy = long * math.cos(turn), long * math.sin(turn)
            pen.line((x - dx, y - dy, x + dx, y + dy), fill=color(), width=width)
        else:
            r = some(4, 14)
            pen.ellipse((x - r, y - r, x + r, y + r), outline=color(), width=width)
    for _ in range(6):
        x, y, r, h = some(6, 94), some(6, 94), some(1.8, 3.2), 0.65 * FINE
        pen.ellipse((x - r, y - r, x + r, y + r), fill=1)
        x, y = x - 0.3 * r, y - 0.3 * r
        pen.ellipse((x - h, y - h, x + h, y + h), fill=2)
    return np.asarray(picture), colors


def shares(numbers):
    """How much of each cell each color covers."""
    cells = numbers.reshape(SIZE, FINE, SIZE, FINE)
    return np.stack([(cells == number).mean(axis=(1, 3)) for number in range(6)], -1)


def to_light(part):
    part = part / 255
    return np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)


def to_encoded(part):
    return 255 * np.where(part <= 0.0031308, 12.92 * part, 1.055 * part ** (1 / 2.4) - 0.055)


def save(path, array):
    Image.fromarray(np.clip(np.rint(array), 0, 255).astype(np.uint8)).save(path)


def write_drawing(folder, seed):
    numbers, colors = draw(seed)
    colors = np.asarray(colors, float)
    part = shares(numbers)
    order = np.sort(part, -1)
    base = os.path.join(folder, f"drawing-{seed}")
    save(base + ".truth.png", colors[part.argmax(-1)])
    save(base + ".sure.png", 255.0 * (order[..., -1] - order[..., -2] >= 0.05))
    save(base + ".encoded.png", part @ colors)
    save(base + ".linear.png", to_encoded(part @ to_light(colors)))
    fine = Image.fromarray(colors.astype(np.uint8)[numbers])
    for kind, filter in (("bicubic", Image.BICUBIC), ("lanczos", Image.LANCZOS)):
        fine.resize((SIZE, SIZE), filter).save(f"{base}.{kind}.png")


def designs():
    """Hard-edge designs: what a designer draws stitch by stitch on purpose."""
    def blank(color=(240, 236, 228)):
        return np.full((80, 80, 3), color, np.uint8)

    ink, red, teal, sand = (34, 30, 38), (178, 34, 52), (20, 120, 128), (222, 196, 150)

    def middle(a, b, share=0.5):
        return tuple(round(x + (y - x) * share) for x, y in zip(a, b))

    def disk(grid, x, y, r, color):
        rows, columns = np.ogrid[:80, :80]
        grid[(rows - y) ** 2 + (columns - x) ** 2 <= r * r] = color

    outlines = blank()
    for x, y, r, color in ((22, 22, 14, red), (56, 24, 17, teal), (30, 58, 15, ink)):
        disk(outlines, x, y, r + 1, middle(color, (240, 236, 228)))
        disk(outlines, x, y, r, color)
    ramps = blank()
    row = 4
    for wide in (1, 2, 3):
        for first, last in ((ink, sand), (red, (255, 240, 240)), (teal, (240, 255, 250))):
            for step in range(9):
                left = 6 + step * wide
                ramps[row:row + 6, left:left + wide] = middle(first, last, step / 8)
            ramps[row:row + 6, 6 + 9 * wide:44] = last
            row += 8
    checks = blank()
    checks[::2, ::2] = checks[1::2, 1::2] = ink
    checks[40:, :40] = np.where((np.indices((40, 40)).sum(0) % 2)[..., None], red, teal)
    diagonals = blank()
    for step in range(80):
        for offset, color in ((0, ink), (12, red), (13, teal), (30, sand), (-20, ink), (-21, red)):
            if 0 <= step + offset < 80:
                diagonals[step, step + offset] = color
    highlights = blank(teal)
    for number in range(12):
        x, y = 8 + number % 4 * 18, 10 + number // 4 * 24
        disk(highlights, x, y, 5, ink)
        highlights[y - 2, x - 2] = (255, 255, 255)
        highlights[y + 1, x + 2] = sand
    rng = np.random.default_rng(7)
    stars, snow = blank((18, 22, 60)), blank((52, 74, 110))
    for x, y in rng.integers(2, 78, (60, 2)):
        stars[y, x] = ((255, 255, 240), (250, 220, 120), (160, 180, 255))[int(x + y) % 3]
        snow[y, x] = (250, 252, 255)
        if (x + y) % 4 == 0:
            for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
                snow[y + dy, x + dx] = (200, 214, 232)
    letters = blank()
    for number, color in enumerate((ink, red, teal)):
        for row in range(4):
            y, x = 6 + row * 18, 8 + number * 24
            letters[y:y + 11, x] = letters[y, x:x + 8] = letters[y + 5, x:x + 6] = color
            letters[y + 12, x:x + 12] = middle(color, (240, 236, 228), 0.6)
    shades = blank(sand)
    for number in range(10):
        disk(shades, 40, 40, 36 - 3 * number, middle(sand, red, number / 9))
    return {"outlines": outlines, "ramps": ramps, "checks": checks, "diagonals": diagonals,
            "highlights": highlights, "stars": stars, "snow": snow, "letters": letters,
            "shades": shades}


def cells(path):
    a = np.asarray(Image.open(path).convert("RGB")).astype(np.uint32)
    return (a[..., 0] << 16) | (a[..., 1] << 8) | a[..., 2]


def pieces(mask):
    """Pieces of a mask that hang together by sides or corners."""
    left = {(int(y), int(x)) for y, x in zip(*np.nonzero(mask))}
    count = 0
    while left:
        count += 1
        open_cells = [left.pop()]
        while open_cells:
            y, x = open_cells.pop()
            for dy in (-1, 0, 1):
                for dx in (-1, 0, 1):
                    if (y + dy, x + dx) in left:
                        left.remove((y + dy, x + dx))
                        open_cells.append((y + dy, x + dx))
    return count


def thin_cells(truth):
    """Cells with at most three equal neighbors among eight: thin lines and small things."""
    padded = np.pad(truth, 1, mode="edge")
    height, width = truth.shape
    equal = sum((padded[1 + dy:1 + dy + height, 1 + dx:1 + dx + width] == truth).astype(int)
                for dy in (-1, 0, 1) for dx in (-1, 0, 1) if (dy, dx) != (0, 0))
    return equal <= 3


class Measure:
    """Runs a command on pictures and adds up what comes out."""

    SUMS = ("n", "changed", "right", "wrong", "restored", "harm", "truth", "thin", "thin_right",
            "breaks", "colors", "true_colors")

    def __init__(self, dyekin, table):
        self.dyekin, self.table, self.place = dyekin.split(), table, tempfile.mkdtemp()

    def write(self, command, source, name):
        out = os.path.join(self.place, name)
        subprocess.run([*self.dyekin, command, source, "--table", self.table, "-o", out, "--force",
                        "--quiet"], check=True, capture_output=True)
        return out

    def run(self, command, source):
        return cells(self.write(command, source, command + ".png"))

    def in_threads(self, source):
        return self.write("convert", source, "threads.json")

    def kind(self, kind, bases):
        """Prints the figures of one kind of input of all these drawings."""
        sums = dict.fromkeys(self.SUMS, 0)
        for base in bases:
            self.add(sums, base, kind)
        n = max(sums["n"], 1)
        print(f"{kind:10} precision {sums['right'] / max(sums['changed'], 1):.3f} "
              f"recall {sums['restored'] / max(sums['wrong'], 1):.3f} harm/chart {sums['harm'] / n:.2f} "
              f"truth cells changed {sums['truth']} colors {sums['colors'] / n:.1f} "
              f"(true {sums['true_colors'] / n:.1f}) thin cells right "
              f"{sums['thin_right'] / max(sums['thin'], 1):.3f} extra pieces/chart {sums['breaks'] / n:.1f}")

    def add(self, sums, base, kind):
        sure = np.asarray(Image.open(base + ".sure.png")) > 0
        shown, is_mapped = SHOWN.get(kind, kind), kind in SHOWN
        source, kept = f"{base}.{shown}.png", base + ".truth.png"
        truth, start = self.run("convert", kept), self.run("convert", source)
        clean = self.run("clean", self.in_threads(source) if is_mapped else source)
        again = self.run("clean", self.in_threads(kept) if is_mapped else kept)
        moved, off = sure & (clean != start), sure & (start != truth)
        thin = sure & thin_cells(truth)
        sums["n"] += 1
        sums["changed"] += int(moved.sum())
        sums["right"] += int((moved & (clean == truth)).sum())
        sums["wrong"] += int(off.sum())
        sums["restored"] += int((off & (clean == truth)).sum())
        sums["harm"] += int((sure & (start == truth) & (clean != truth)).sum())
        sums["truth"] += int((again != truth).sum())
        sums["thin"] += int(thin.sum())
        sums["thin_right"] += int((thin & (clean == truth)).sum())
        for color in np.unique(truth):
            sums["breaks"] += max(0, pieces(clean == color) - pieces(truth == color))
        sums["colors"] += len(np.unique(clean))
        sums["true_colors"] += len(np.unique(truth))


def measure(dyekin, table, folder):
    work = Measure(dyekin, table)
    index = json.load(open(os.path.join(folder, "list.json")))
    for kind in KINDS:
        work.kind(kind, [os.path.join(folder, name) for name in index["drawings"]])
    changed = 0
    for name in index["designs"]:
        path = os.path.join(folder, name + ".png")
        as_is = work.run("convert", path)
        moved = int((work.run("clean", path) != as_is).sum())
        moved += int((work.run("clean", work.in_threads(path)) != as_is).sum())
        if moved:
            print(f"design {name}: {moved} cells changed")
        changed += moved
    print(f"{len(index['designs'])} designs, as pictures and in threads: {changed} cells changed")


def pictures(dyekin, table, folder, use="report"):
    work = Measure(dyekin, table)
    items = json.load(open(os.path.join(folder, "list.json")))
    bases = [os.path.join(folder, item["name"]) for item in items if item["use"] == use]
    for kind in ("aa", "lanczos", "aa-threads"):
        work.kind(kind, bases)


def example(path):
    """A buoy on the water, 40 x 32 stitches, mixed in encoded values."""
    colors = np.asarray([(244, 239, 230), (34, 30, 38), (200, 40, 48), (20, 120, 128),
                         (255, 205, 60)], float)
    picture = Image.new("L", (40 * FINE, 32 * FINE), 0)
    pen = ImageDraw.Draw(picture)

    def points(*pairs):
        return [(x * FINE, y * FINE) for x, y in pairs]

    pen.polygon(points((0, 24.3), (40, 22.6), (40, 32), (0, 32)), fill=3)
    pen.polygon(points((12.2, 26.4), (16.1, 9.7), (23.4, 9.3), (27.9, 26.1)), fill=1)
    pen.polygon(points((13.9, 25.2), (17.2, 10.9), (22.5, 10.6), (26.2, 25)), fill=2)
    pen.line(points((19.7, 10.2), (21.6, 2.1)), fill=1, width=round(1.2 * FINE))
    pen.ellipse(points((18.1, 12.2), (22.3, 16.1)), fill=4)
    numbers = np.asarray(picture)
    part = (numbers.reshape(32, FINE, 40, FINE)[..., None] == np.arange(5).reshape(1, 1, 1, 1, 5))
    rows = np.rint(part.mean(axis=(1, 3)) @ colors).astype(np.uint8)
    # One stitch that a hand has set: a star, which stays, and one that nobody would miss.
    rows[5, 34], rows[29, 6] = (255, 205, 60), (14, 126, 116)
    Image.fromarray(rows).save(path)


def main(args):
    if len(args) >= 2 and args[0] == "draw":
        folder = args[1]
        os.makedirs(folder, exist_ok=True)
        seeds = [int(seed) for seed in args[2:]] or list(range(100, 108))
        for seed in seeds:
            write_drawing(folder, seed)
        for name, picture in designs().items():
            Image.fromarray(picture).save(os.path.join(folder, f"design-{name}.png"))
        index = {"drawings": [f"drawing-{seed}" for seed in seeds],
                 "designs": [f"design-{name}" for name in designs()]}
        json.dump(index, open(os.path.join(folder, "list.json"), "w"), indent=1)
    elif len(args) == 2 and args[0] == "example":
        example(args[1])
    elif len(args) == 4 and args[0] == "measure":
        measure(*args[1:])
    elif len(args) in (4, 5) and args[0] == "pictures":
        pictures(*args[1:])
    else:
        sys.exit(__doc__)


if __name__ == "__main__":
    main(sys.argv[1:])
