"""Best conversions of small invented palettes, proved by the HiGHS solver of PyPI package scipy 1.17.1.

    python tests/python/optima.py > tests/data/reference/conversion_optima.json

Colors and threads are seeded random CIELAB values; the difference is CIE76, so that nothing but
the choice is checked. Kinds: `ranges` (a price for every range but the first), `distinct` (no two
colors on one thread), `both`, and `own` (the fewest threads to buy so that every color comes within
a limit, then the least mean difference with so many).
"""

import json
import random

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

COLORS, RANGES, THREADS = 24, 3, 26


def lab(dice):
    return [round(dice.uniform(10, 95), 2), round(dice.uniform(-60, 60), 2), round(dice.uniform(-60, 60), 2)]


def instance(number, kind):
    dice = random.Random(f"conversion {number}")
    ranges = [[lab(dice) for _ in range(THREADS)] for _ in range(RANGES)]
    colors = [lab(dice) + [1 + int(dice.random() ** 3 * 900)] for _ in range(COLORS)]
    own = sorted(dice.sample(range(RANGES * THREADS), 12))
    price = dice.choice([0.2, 0.6, 1.2])
    every = [thread for held in ranges for thread in held]
    nearest = [min(np.linalg.norm(np.subtract(color[:3], thread)) for thread in every) for color in colors]
    limit = round(float(max(nearest)) + 0.5, 1)
    return {"kind": kind, "ranges": ranges, "colors": colors, "price": price, "own": own, "limit": limit}


def solve(cost, rows, upper, fixed=()):
    """Least cost over 0/1 columns; rows are (coefficients by column, least, most)."""
    matrix = np.zeros((len(rows), len(cost)))
    for row, (cells, _, _) in enumerate(rows):
        for column, value in cells.items():
            matrix[row, column] += value
    low = np.array([row[1] for row in rows], float)
    high = np.array([row[2] for row in rows], float)
    lower = np.zeros(len(cost))
    for column in fixed:
        lower[column] = 1
    found = milp(
        cost,
        constraints=LinearConstraint(matrix, low, high),
        integrality=np.ones(len(cost)),
        bounds=Bounds(lower, upper),
        options={"mip_rel_gap": 0.0},
    )
    assert found.status == 0, found.message
    return found.fun


def optimum(case):
    threads = [thread for held in case["ranges"] for thread in held]
    of_range = [place // THREADS for place in range(len(threads))]
    weights = np.array([color[3] for color in case["colors"]], float)
    weights /= weights.sum()
    apart = np.array(
        [[float(np.linalg.norm(np.subtract(color[:3], thread))) for thread in threads] for color in case["colors"]]
    )
    cells = COLORS * len(threads)
    seat = lambda color, thread: color * len(threads) + thread
    cost = (weights[:, None] * apart).ravel()
    each = [({seat(color, thread): 1 for thread in range(len(threads))}, 1, 1) for color in range(COLORS)]
    one = [({seat(color, thread): 1 for color in range(COLORS)}, 0, 1) for thread in range(len(threads))]
    if case["kind"] == "distinct":
        return {"cost": solve(cost, each + one, np.ones(cells))}
    if case["kind"] in ("ranges", "both"):
        prices = [0.0] + [case["price"]] * (RANGES - 1)
        full = np.concatenate([cost, prices])
        opened = [
            ({seat(color, thread): 1, cells + of_range[thread]: -1}, -1, 0)
            for color in range(COLORS)
            for thread in range(len(threads))
        ]
        rows = each + opened + (one if case["kind"] == "both" else [])
        return {"cost": solve(full, rows, np.ones(len(full)))}
    within = (apart <= case["limit"]).ravel()
    upper = np.concatenate([within.astype(float), np.ones(len(threads))])
    bought = np.array([0.0 if thread in case["own"] else 1.0 for thread in range(len(threads))])
    served = [row for row in each if any(within[column] for column in row[0])]
    assert len(served) == COLORS
    opened = [
        ({seat(color, thread): 1, cells + thread: -1}, -1, 0)
        for color in range(COLORS)
        for thread in range(len(threads))
    ]
    buys = np.concatenate([np.zeros(cells), bought])
    fewest = round(solve(buys, each + opened, upper))
    limited = [({cells + thread: bought[thread] for thread in range(len(threads))}, 0, fewest)]
    nearest = np.concatenate([cost, np.zeros(len(threads))])
    return {"buy": fewest, "cost": solve(nearest, each + opened + limited, upper)}


def main():
    kinds = ["ranges", "distinct", "both", "own"]
    cases = []
    for number in range(24):
        case = instance(number, kinds[number % len(kinds)])
        case["optimum"] = optimum(case)
        cases.append(case)
    rows = ",\n".join(json.dumps(case, separators=(",", ":")) for case in cases)
    print(f"[\n{rows}\n]")


main()
