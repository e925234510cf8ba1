#!/usr/bin/env python3
"""Optima of small reductions with edges kept, proved by HiGHS through scipy's `milp`.

usage: tests/python/edges.py > tests/data/reference/edges_kept.json

Writes instances and their optima; `planner/tests/contrast.rs` holds the planner against them.
Differences come from coloraide, so that neither the model nor the formula is the project's own.
The model: each color sits on one open thread; for two colors that touch, y says which two threads
they sit on together, and pays what is lost of the contrast between them.
Needs the packages `coloraide`, `numpy` and `scipy`.
"""

import json
import math
import random
import sys

import numpy
from coloraide import Color
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import lil_matrix

PRICES = {"low": 10.0, "normal": 45.0, "high": 90.0}
VISIBLE = 3.0
STEP = 2.0
INSTANCES = 24


def apart(one, other):
    """CIEDE2000 of two Lab values."""
    first, second = Color("lab-d65", list(one)), Color("lab-d65", list(other))
    return first.delta_e(second, method="2000", space="lab-d65")


def flat(one, other):
    """What chroma and hue alone make of the difference, and that difference."""
    whole = apart(one, other)
    mean = ((one[0] + other[0]) / 2 - 50) ** 2
    lightness = (other[0] - one[0]) / (1 + 0.015 * mean / math.sqrt(20 + mean))
    return math.sqrt(max(whole * whole - lightness * lightness, 0.0)), whole


def left(one, other, step, turned):
    """The contrast that counts: lightness that runs the other way than before does not, and of the
    rest the part that chroma and hue had before."""
    rest, whole = flat(one, other)
    right_way = abs(step) < STEP or (other[0] - one[0]) * step >= 0
    return whole if right_way else rest * turned


def lab(dice):
    hue, chroma = dice.uniform(0, 2 * math.pi), dice.uniform(0, 45)
    parts = (dice.uniform(15, 95), chroma * math.cos(hue), chroma * math.sin(hue))
    return [round(part, 2) for part in parts]


def drawn(seed):
    """Colors in clusters, so that small ones are near to large ones they touch."""
    dice = random.Random(seed)
    count = dice.randint(9, 13)
    colors = []
    for place in range(count):
        if place % 3 == 0:
            colors.append(lab(dice))
        else:
            parts = [part + dice.uniform(-12, 12) for part in colors[place - place % 3]]
            colors.append([round(max(parts[0], 2.0), 2), round(parts[1], 2), round(parts[2], 2)])
    stitches = [dice.choice([20, 60, 200, 900]) for _ in colors]
    threads = [lab(dice) for _ in range(dice.randint(12, 16))]
    pairs = []
    for first in range(count):
        for second in range(first + 1, count):
            if dice.random() < (0.8 if first // 3 == second // 3 else 0.15):
                pairs.append([first, second, dice.choice([4, 15, 60, 200])])
    return {
        "keep_edges": dice.choice(list(PRICES)),
        "max_threads": dice.randint(3, 6),
        "colors": colors,
        "stitches": stitches,
        "threads": threads,
        "pairs": pairs,
    }


def optimum(task):
    colors, threads = task["colors"], task["threads"]
    rows, columns, total = len(colors), len(threads), sum(task["stitches"])
    near = [[apart(color, thread) for thread in threads] for color in colors]
    kept = []
    for first, second, edges in task["pairs"]:
        rest, before = flat(colors[first], colors[second])
        if before >= 2 * VISIBLE:
            kept.append((first, second, edges, min(before, 4 * VISIBLE), rest / before))
    cells = rows * columns
    size = cells + columns + len(kept) * columns * columns
    cost = numpy.zeros(size)
    for row in range(rows):
        for column in range(columns):
            cost[row * columns + column] = task["stitches"][row] * near[row][column] / total
    equal, right, less = [], [], []
    for row in range(rows):
        equal.append([(row * columns + column, 1.0) for column in range(columns)])
        right.append(1.0)
        for column in range(columns):
            less.append([(row * columns + column, 1.0), (cells + column, -1.0)])
    for number, (first, second, edges, wanted, turned) in enumerate(kept):
        start = cells + columns + number * columns * columns
        step = colors[second][0] - colors[first][0]
        for one in range(columns):
            equal.append([(start + one * columns + two, 1.0) for two in range(columns)])
            equal[-1].append((first * columns + one, -1.0))
            right.append(0.0)
            for two in range(columns):
                short = max(1 - left(threads[one], threads[two], step, turned) / wanted, 0.0)
                price = PRICES[task["keep_edges"]] * edges / total
                cost[start + one * columns + two] = price * short**3
        for two in range(columns):
            equal.append([(start + one * columns + two, 1.0) for one in range(columns)])
            equal[-1].append((second * columns + two, -1.0))
            right.append(0.0)
    less.append([(cells + column, 1.0) for column in range(columns)])
    limits = [0.0] * (len(less) - 1) + [float(task["max_threads"])]

    def matrix(lines):
        made = lil_matrix((len(lines), size))
        for line, entries in enumerate(lines):
            for place, value in entries:
                made[line, place] = value
        return made.tocsr()

    whole = numpy.zeros(size)
    whole[: cells + columns] = 1
    found = milp(
        cost,
        integrality=whole,
        bounds=Bounds(0, 1),
        constraints=[
            LinearConstraint(matrix(equal), right, right),
            LinearConstraint(matrix(less), -numpy.inf, limits),
        ],
        options={"mip_rel_gap": 0.0},
    )
    if found.status != 0:
        raise SystemExit(f"not proved: {found.message}")
    return found.fun


def main():
    tasks = []
    for seed in range(INSTANCES):
        task = drawn(seed)
        task["optimum"] = optimum(task)
        tasks.append(task)
        print(seed, task["optimum"], file=sys.stderr)
    lines = ",\n".join(json.dumps(task) for task in tasks)
    print(f"[\n{lines}\n]")


if __name__ == "__main__":
    main()
