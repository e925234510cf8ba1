"""Makes `spectra/fallowmere.csv`: an invented range that was "measured" as reflectance spectra.

It does not know dyekin; it only writes the file. Standard library only, nothing random.

    python3 data/spectra.py            write the file
    python3 data/spectra.py --check    write nothing; exit 1 when the committed file differs

No real dye or thread stands behind it. Each thread is white cotton dyed with three dyes of one of
two imagined dye houses; a dye is a smooth absorption of one or two bells, and the color follows from
the amounts by the one-constant theory of Kubelka and Munk. The second house matches each color of
the first nearly under daylight (D65, 10 degrees) and not under other lights: such pairs are
metameric. The third page of the card is the first house again, a little off.
"""

import csv
import io
import math
import sys
from pathlib import Path

sys.dont_write_bytecode = True  # this folder holds example files, not caches

import words

HERE = Path(__file__).resolve().parent
TARGET = HERE / "spectra" / "fallowmere.csv"
WEIGHTS = HERE.parent / "tests" / "data" / "reference" / "e308_weights.csv"
NANOMETERS = range(400, 701, 10)
CARD_ROWS = "ABCDFGHJKLMN"
# How strongly the cotton is dyed, and how far a page misses what would match exactly: the second
# house by so much, the third page by the third power of it.
DEPTH = 2.4
MISSES = ((1.05, 0.96, 1.03), (0.97, 1.03, 1.02), (1.02, 1.02, 0.95))

# Bells of absorption per unit of dye: middle and width in nm, height in K/S. House choice: yellow,
# red and blue dyes of plausible shape.
FIRST = (
    ((425, 38, 1.0), (380, 40, 0.4)),
    ((525, 36, 1.0), (390, 30, 0.2)),
    ((620, 45, 1.0), (410, 28, 0.12)),
)
SECOND = (
    ((440, 22, 1.0), (478, 14, 0.35)),
    ((498, 22, 0.7), (566, 17, 0.9)),
    ((672, 26, 1.0), (598, 20, 0.9)),
)

# Amounts of yellow, red and blue of the first house, with the family that names are drawn from.
RECIPES = (
    ("linen", (0.05, 0.02, 0.01)), ("sand", (0.5, 0.12, 0.05)), ("amber", (2.4, 0.35, 0.02)),
    ("yellow", (2.0, 0.04, 0.01)), ("orange", (2.4, 1.1, 0.02)), ("coral", (0.7, 0.9, 0.02)),
    ("scarlet", (2.4, 3.6, 0.05)), ("crimson", (0.9, 5.0, 0.2)), ("rose", (0.12, 0.7, 0.03)),
    ("orchid", (0.06, 1.1, 0.15)), ("plum", (0.4, 3.2, 1.2)), ("violet", (0.08, 1.5, 1.0)),
    ("navy", (0.5, 2.2, 5.0)), ("blue", (0.08, 0.5, 2.6)), ("sky", (0.05, 0.1, 0.5)),
    ("lagoon", (0.5, 0.06, 1.3)), ("pine", (1.6, 0.5, 2.6)), ("leaf", (2.4, 0.3, 2.0)),
    ("moss", (2.0, 0.35, 0.8)), ("olive", (2.2, 0.7, 0.9)), ("earth", (2.4, 1.7, 1.0)),
    ("skin", (0.3, 0.22, 0.06)), ("stone", (0.3, 0.25, 0.25)), ("gray", (0.9, 0.9, 1.0)),
)


def bell(at, middle, width):
    return math.exp(-((at - middle) ** 2) / (2 * width**2))


def undyed(at):
    """K/S of the cotton itself: a little yellow, R = 0.83 to 0.88."""
    return 0.008 + 0.010 * bell(at, 390, 50)


def reflectances(dyes, amounts):
    """Reflectance factors by Kubelka and Munk: K/S = (1 - R)^2 / 2R."""
    factors = []
    for at in NANOMETERS:
        k = undyed(at)
        for dye, amount in zip(dyes, amounts):
            k += amount * sum(height * bell(at, middle, width) for middle, width, height in dye)
        factors.append(1 + k - math.sqrt(k * k + 2 * k))
    return factors


def daylight_weights():
    with WEIGHTS.open(encoding="utf-8") as file:
        lines = [line for line in file if not line.startswith("#")]
    rows = [row for row in csv.DictReader(lines)
            if row["illuminant"] == "D65" and row["observer_deg"] == "10"]
    assert [int(row["wavelength_nm"]) for row in rows] == list(NANOMETERS)
    return [tuple(float(row[name]) for name in ("Wx", "Wy", "Wz")) for row in rows]


def tristimulus(weights, factors):
    return [sum(w[axis] * r for w, r in zip(weights, factors)) for axis in range(3)]


def lab(weights, factors):
    white = tristimulus(weights, [1.0] * len(factors))
    ratios = [v / w for v, w in zip(tristimulus(weights, factors), white)]
    fx, fy, fz = (v ** (1 / 3) if v > (6 / 29) ** 3 else ((29 / 3) ** 3 * v + 16) / 116
                  for v in ratios)
    return (116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz))


def solve(matrix, right):
    """Three linear equations by Cramer's rule."""
    def det(m):
        return (m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1])
                - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0])
                + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0]))
    whole = det(matrix)
    found = []
    for column in range(3):
        swapped = [[right[r] if c == column else matrix[r][c] for c in range(3)] for r in range(3)]
        found.append(det(swapped) / whole)
    return found


def matched(weights, wanted, start):
    """Amounts of the second house that give the wanted Lab (Newton), or None where none do."""
    logs = [math.log(max(amount, 0.01)) for amount in start]
    for _ in range(60):
        at = lab(weights, reflectances(SECOND, [math.exp(v) for v in logs]))
        miss = [w - v for w, v in zip(wanted, at)]
        if math.hypot(*miss) < 1e-9:
            return [math.exp(v) for v in logs]
        step = 1e-5
        slopes = []
        for dye in range(3):
            moved = [v + step * (place == dye) for place, v in enumerate(logs)]
            there = lab(weights, reflectances(SECOND, [math.exp(v) for v in moved]))
            slopes.append([(t - v) / step for t, v in zip(there, at)])
        turn = solve([[slopes[c][r] for c in range(3)] for r in range(3)], miss)
        most = max(abs(v) for v in turn)
        logs = [v + d * min(1.0, 0.5 / most) for v, d in zip(logs, turn)]
        if max(logs) > 4 or min(logs) < -12:
            return None
    return None


def taken_names():
    """Names of the other invented ranges: no two threads share one."""
    taken = set()
    for path in sorted(HERE.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            taken.update(row["name"] for row in csv.DictReader(file))
    return taken


def name_of(family, level, place, taken):
    openers, nouns = words.OPENERS[level], words.NOUNS[family]
    for turn in range(len(openers) * len(nouns)):
        name = f"{openers[(5 * place + 3 * turn) % len(openers)]} {nouns[(place + turn) % len(nouns)]}"
        if name not in taken:
            taken.add(name)
            return name
    raise ValueError(f"no name left for {family}")


def threads():
    weights = daylight_weights()
    taken = taken_names()
    for place, (family, amounts) in enumerate(RECIPES):
        amounts = [DEPTH * amount for amount in amounts]
        shade = reflectances(FIRST, amounts)
        wanted = lab(weights, shade)
        other = matched(weights, wanted, amounts)
        misses = MISSES[place % len(MISSES)]
        near = [amount * miss**3 for amount, miss in zip(amounts, misses)]
        level = "pale" if wanted[0] > 70 else "middle" if wanted[0] > 42 else "deep"
        pages = [shade, None, reflectances(FIRST, near)]
        if other is not None:
            pages[1] = reflectances(SECOND, [amount * miss for amount, miss in zip(other, misses)])
        for page, factors in enumerate(pages):
            if factors is None:
                continue
            name = name_of(family, level, place, taken)
            # Three pages, each in an order of its own: no code tells of its partner.
            spot = (place * (1, 7, 11)[page] + 5 * page) % len(RECIPES)
            code = f"FM-{page + 3}{CARD_ROWS[spot // 2]}{2 + 3 * (spot % 2) + page}"
            rounded = [f"{value:.4f}" for value in factors]
            yield code, name, lab(weights, [float(value) for value in rounded]), rounded


def table():
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    head = ["code", "name", "L", "a", "b", "illuminant", "observer", "origin", "finish", "fiber"]
    writer.writerow(head + [f"nm{at}" for at in NANOMETERS])
    for code, name, color, factors in sorted(threads()):
        color = [f"{value:.2f}" for value in color]
        writer.writerow([code, name, *color, "D65", "10", "spectrum", "plain", "cotton", *factors])
    return out.getvalue()


def main():
    made = table()
    if "--check" in sys.argv[1:]:
        if TARGET.read_text(encoding="utf-8") != made:
            sys.exit(f"{TARGET.name} differs from what this script makes")
        return
    TARGET.parent.mkdir(exist_ok=True)
    TARGET.write_text(made, encoding="utf-8")
    print(f"wrote {TARGET.name}: {made.count(chr(10)) - 1} threads")


if __name__ == "__main__":
    main()
