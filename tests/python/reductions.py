"""Palette questions with their best answers, proved by an outside solver: HiGHS through `milp` of
scipy. Writes tests/data/reference/reductions.json, which tests/it/optima.rs holds the planner to.

    python3 -m pip install scipy
    python3 tests/python/reductions.py

Every question is small enough for the solver to prove its answer; all together take it half a
minute. Differences are CIE76, so that nothing but a square root is shared with the planner.
Questions are seeded and come out the same.
"""

import itertools
import json
import math
import pathlib
import random

import numpy
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

OUT = pathlib.Path(__file__).parents[1] / "data" / "reference" / "reductions.json"

# What the solver may leave open, relative to the optimum.
GAP = 1e-9


def lab(dice, around=None):
    """A color, anywhere or around another one."""
    if around is None:
        return [round(dice.uniform(15, 92), 2), round(dice.uniform(-50, 55), 2), round(dice.uniform(-45, 60), 2)]
    return [round(min(max(dice.gauss(part, 9), 5), 98), 2) if place == 0 else round(dice.gauss(part, 9), 2)
            for place, part in enumerate(around)]


def shades(dice, count):
    """Colors in a few ramps, as charts have them."""
    roots = [lab(dice) for _ in range(max(2, count // 6))]
    return [lab(dice, dice.choice(roots)) for _ in range(count)]


def apart(one, two):
    return math.dist(one, two)


class Model:
    """A mixed integer program, built term by term."""

    def __init__(self):
        self.costs, self.rows, self.lower, self.upper, self.highest = [], [], [], [], []

    def variable(self, cost, highest=1):
        self.costs.append(cost)
        self.highest.append(highest)
        return len(self.costs) - 1

    def constraint(self, terms, lower, upper):
        self.rows.append(terms)
        self.lower.append(lower)
        self.upper.append(upper)

    def solve(self):
        """The least total and the values; None when there is no choice."""
        entries = [(row, column, value) for row, terms in enumerate(self.rows) for column, value in terms]
        row, column, value = zip(*entries)
        matrix = coo_array((value, (row, column)), shape=(len(self.rows), len(self.costs))).tocsr()
        found = milp(
            numpy.array(self.costs),
            constraints=LinearConstraint(matrix, self.lower, self.upper),
            integrality=numpy.ones(len(self.costs)),
            bounds=Bounds(0, numpy.array(self.highest)),
            options={"mip_rel_gap": 0.0},
        )
        if found.status == 2:
            return None
        assert found.status == 0, found.message
        assert found.mip_gap <= GAP, found.mip_gap
        return found.fun, found.x


def reduce(question, count_only=False, most=None):
    """The least total of a reduction: mean of what is summed, worths and prices."""
    colors, threads = question["colors"], question["threads"]
    stitches = sum(color["stitches"] for color in colors)
    model = Model()
    worth = question.get("thread_worth", 0.0)
    owned = question.get("owned", [])
    opened = []
    for place, thread in enumerate(threads):
        price = 0.0 if place in owned else worth
        is_open = model.variable(1.0 if count_only else price)
        opened.append(is_open)
        if place in question.get("kept_threads", []):
            model.constraint([(is_open, 1)], 1, 1)
    loads = [[] for _ in threads]
    for number, color in enumerate(colors):
        seats = []
        for place, thread in enumerate(threads):
            standard = threads[color["thread"]]["lab"] if "thread" in color else color["lab"]
            difference = apart(standard, thread["lab"])
            if number in question.get("kept_colors", []):
                if place != color["thread"]:
                    continue
            elif difference > question.get("tolerance", math.inf):
                continue
            elif [number, place] in question.get("refused", []):
                continue
            summed = difference**2 if question.get("squared") else difference
            cost = 0.0 if count_only else color["stitches"] / stitches * summed
            seat = model.variable(cost)
            model.constraint([(opened[place], 1), (seat, -1)], 0, math.inf)
            loads[place].append((seat, color["stitches"]))
            seats.append(seat)
        if not seats:
            return None
        model.constraint([(seat, 1) for seat in seats], 1, 1)
    for place, thread in enumerate(threads):
        per_stitch = question.get("meters_per_stitch")
        if "stock_meters" in thread:
            limit = thread["stock_meters"] / per_stitch
            terms = [(seat, count) for seat, count in loads[place]]
            model.constraint([*terms, (opened[place], -limit)], -math.inf, 0)
        if question.get("price_worth") and place not in owned:
            money = 0.0 if count_only else question["price_worth"] * thread["price"]
            skeins = model.variable(money, 10_000)
            works = thread["skein_meters"] / per_stitch
            terms = [(seat, count) for seat, count in loads[place]]
            model.constraint([*terms, (skeins, -works)], -math.inf, 0)
            model.constraint([(skeins, 1), (opened[place], -1)], 0, math.inf)
    most = most or question.get("max_threads")
    if most:
        model.constraint([(is_open, 1) for is_open in opened], 0, most)
    found = model.solve()
    return found and found[0]


# Steps of lightness that are kept, and how far shades of one color differ in hue and chroma: the
# rules of the planner, in CIELAB.
STEP, RAMP_HUE, RAMP_CHROMA = 3.0, 10.0, 25.0


def is_one_ramp(one, other):
    gain = math.hypot(*one[1:]) - math.hypot(*other[1:])
    hue = math.sqrt(max(0.0, math.dist(one[1:], other[1:]) ** 2 - gain**2))
    return hue <= RAMP_HUE and abs(gain) <= RAMP_CHROMA


def substitute(question):
    """The least mean difference of stand-ins that stay apart from each other and from what is used,
    and that keep steps of lightness when asked to."""
    colors, threads = question["colors"], [thread["lab"] for thread in question["threads"]]
    stitches = sum(color["stitches"] for color in colors)
    used = {color["thread"] for color in colors}
    missing = question["missing"]
    stay = used - set(missing)
    least = question["min_apart"]
    keeps = question.get("keep_lightness", False)
    free = [
        place for place in range(len(threads))
        if place not in used and all(apart(threads[place], threads[other]) >= least for other in stay)
    ]

    def suits(wanted, place):
        """Whether the thread keeps the steps to shades of the same color that stay."""
        for other in stay if keeps else ():
            rise = threads[wanted][0] - threads[other][0]
            is_step = abs(rise) > STEP and is_one_ramp(threads[wanted], threads[other])
            if is_step and (threads[place][0] - threads[other][0]) * rise <= 0:
                return False
        return True

    model = Model()
    taken = {place: model.variable(0.0) for place in free}
    rows = {place: [(taken[place], -1)] for place in free}
    seats = {wanted: {} for wanted in missing}
    for wanted in missing:
        count = sum(color["stitches"] for color in colors if color["thread"] == wanted)
        for place in free:
            if suits(wanted, place):
                seat = model.variable(count / stitches * apart(threads[wanted], threads[place]))
                seats[wanted][place] = seat
                rows[place].append((seat, 1))
        if not seats[wanted]:
            return None
        model.constraint([(seat, 1) for seat in seats[wanted].values()], 1, 1)
    for place in free:
        model.constraint(rows[place], 0, 0)
    for group in too_near(free, threads, least):
        model.constraint([(taken[place], 1) for place in group], 0, 1)
    if keeps:
        keep_order(model, [(wanted, seats[wanted]) for wanted in missing], threads)
    found = model.solve()
    return found and found[0]


def too_near(free, threads, least):
    """Groups of threads that are all too near to each other, with every such pair in one of them."""
    near = {place: {other for other in free if other != place and apart(threads[place], threads[other]) < least} for place in free}
    told = set()
    for one in free:
        for other in sorted(near[one]):
            if one < other and (one, other) not in told:
                group = [one, other]
                for more in sorted(near[one] & near[other]):
                    if all(more in near[held] for held in group):
                        group.append(more)
                told.update((min(pair), max(pair)) for pair in itertools.permutations(group, 2))
                yield group


def keep_order(model, seats, threads):
    """Lets no stand-in be as dark as one that must be darker. A sum for each level says whether the
    stand-in lies at it or below."""
    level = lambda place: threads[place][0]
    levels = sorted({level(place) for _, held in seats for place in held})
    up_to = {}
    for wanted, held in seats:
        before = None
        for at in levels:
            here = model.variable(0.0)
            terms = [(here, -1)] + [(seat, 1) for place, seat in held.items() if level(place) == at]
            model.constraint(terms + ([(before, 1)] if before is not None else []), 0, 0)
            up_to[wanted, at] = before = here
    is_step = lambda higher, lower: level(higher) - level(lower) > STEP
    named = [wanted for wanted, _ in seats]
    for higher, lower in itertools.permutations(named, 2):
        implied = any(is_step(higher, other) and is_step(other, lower) for other in named)
        if is_step(higher, lower) and not implied:
            for below, at in zip([None, *levels], levels):
                terms = [(up_to[higher, at], 1)]
                model.constraint(terms + ([(up_to[lower, below], -1)] if below is not None else []), -math.inf, 0)


def loss(dice, kind, threads, used, missing):
    """A chart whose first threads are missing: anywhere, around one color, or two ramps."""
    anywhere = lambda: lab(dice)
    if kind == "anywhere":
        made = [anywhere() for _ in range(threads)]
    elif kind == "group":
        made = [anywhere() for _ in range(threads + missing)]
        center = anywhere()
        made.sort(key=lambda color: apart(color, center))
        near, rest = made[: 2 * missing], made[2 * missing :]
        dice.shuffle(near)
        dice.shuffle(rest)
        made = near[:missing] + rest
    else:
        made = []
        while len(made) < threads:
            low, high, hue, chroma = dice.uniform(15, 35), dice.uniform(65, 92), dice.uniform(0, math.tau), dice.uniform(8, 50)
            for shade in range(missing // 2):
                at = 2 * shade / (missing // 2 - 1) - 1
                vivid = chroma * (1 - 0.6 * at * at)
                color = [low + (high - low) * (at + 1) / 2, vivid * math.cos(hue), vivid * math.sin(hue)]
                made.append([round(part + dice.uniform(-1, 1), 2) for part in color])
    colors = [
        {"lab": made[place], "stitches": int(1 + 900 * dice.random() ** 3), "thread": place} for place in range(used)
    ]
    return {
        "colors": colors,
        "threads": [{"lab": color} for color in made],
        "missing": list(range(missing)),
    }


def palette(dice, colors, threads, worked=False):
    """A question without options: colors of a few ramps, threads of the same ramps and others."""
    shown = shades(dice, colors)
    made = [{"lab": lab(dice, dice.choice(shown))} for _ in range(threads * 2 // 3)]
    made += [{"lab": lab(dice)} for _ in range(threads - len(made))]
    listed = []
    for color in shown:
        entry = {"lab": color, "stitches": int(1 + 900 * dice.random() ** 3)}
        listed.append(entry)
    if worked:
        places = dice.sample(range(threads), colors)
        for entry, place in zip(listed, places):
            entry["thread"] = place
    return {"colors": listed, "threads": made}


def reach(question, factor):
    """So many times the difference within which every color has a thread."""
    nearest = [
        min(apart(color["lab"], thread["lab"]) for thread in question["threads"])
        for color in question["colors"]
    ]
    return round(max(nearest) * factor, 2)


# How 20 threads are missing, of how many, how far apart and whether steps of lightness are kept.
JOINT = [
    ("anywhere", 500, 4.0, True),
    ("group", 500, 4.0, True),
    ("group", 500, 8.0, False),
    ("ramps", 500, 4.0, True),
    ("ramps", 500, 7.0, False),
    ("group", 300, 5.0, True),
    ("anywhere", 300, 9.0, True),
    ("group", 240, 0.0, True),
]


def questions():
    """Name and question, one after another."""
    for seed, (colors, threads, most) in enumerate([(30, 40, 8), (45, 60, 12), (60, 80, 15)]):
        dice = random.Random(100 + seed)
        yield f"count-{seed}", {**palette(dice, colors, threads), "max_threads": most}
        yield f"squares-{seed}", {**palette(dice, colors, threads), "max_threads": most, "squared": True}
    for seed, factor in enumerate([1.02, 1.2, 1.5, 2.0]):
        dice = random.Random(200 + seed)
        question = palette(dice, 40, 60)
        yield f"tolerance-{seed}", {**question, "tolerance": reach(question, factor)}
    for seed, (factor, most) in enumerate([(1.2, 14), (1.6, 12), (1.05, 7)]):
        dice = random.Random(300 + seed)
        question = palette(dice, 36, 60)
        tolerance = reach(question, factor)
        yield f"tolerance-and-count-{seed}", {**question, "tolerance": tolerance, "max_threads": most}
    for seed, worth in enumerate([0.1, 0.4, 1.5]):
        dice = random.Random(400 + seed)
        owned = sorted(dice.sample(range(50), 6))
        yield f"worth-{seed}", {**palette(dice, 40, 50), "thread_worth": worth, "owned": owned}
    for seed, most in enumerate([7, 9, 11]):
        dice = random.Random(500 + seed)
        question = palette(dice, 30, 45, worked=True)
        question["max_threads"] = most
        question["kept_colors"] = sorted(dice.sample(range(30), 3))
        question["kept_threads"] = sorted(dice.sample(range(45), 2))
        yield f"keeps-{seed}", question
    for seed, most in enumerate([5, 8]):
        dice = random.Random(600 + seed)
        question = palette(dice, 25, 30)
        question["max_threads"] = most
        question["refused"] = [[color, place] for color in range(25) for place in sorted(dice.sample(range(30), 4))]
        yield f"refusals-{seed}", question
    for seed, (colors, threads, most, room) in enumerate(
        [(12, 8, 5, 1.6), (16, 10, 6, 1.4), (20, 14, 8, 1.5), (24, 16, 8, 1.7), (10, 6, 3, 0.7)]
    ):
        dice = random.Random(700 + seed)
        question = palette(dice, colors, threads)
        all_meters = sum(color["stitches"] for color in question["colors"]) * 0.0043
        for thread in question["threads"]:
            thread["stock_meters"] = round(room * all_meters / most * dice.uniform(0.4, 1.6), 1)
        question["meters_per_stitch"] = 0.0043
        question["max_threads"] = most
        yield f"stock-{seed}", question
    for seed, (colors, threads, worth) in enumerate([(14, 12, 0.3), (18, 16, 0.15), (20, 20, 0.6), (24, 24, 0.3)]):
        dice = random.Random(800 + seed)
        question = palette(dice, colors, threads)
        for color in question["colors"]:
            color["stitches"] *= 12
        for thread in question["threads"]:
            thread["skein_meters"] = dice.choice([8.0, 10.0])
            thread["price"] = dice.choice([1.1, 1.35, 1.6, 2.4])
        question["meters_per_stitch"] = 0.0043
        question["price_worth"] = worth
        question["owned"] = sorted(dice.sample(range(threads), 2))
        yield f"skeins-{seed}", question
    for seed, (colors, threads, missing, least) in enumerate([(14, 40, 5, 8.0), (20, 60, 8, 10.0), (24, 90, 10, 6.0)]):
        dice = random.Random(900 + seed)
        question = palette(dice, colors, threads, worked=True)
        used = [color["thread"] for color in question["colors"]]
        question["missing"] = sorted(dice.sample(used, missing))
        question["min_apart"] = least
        yield f"distinct-{seed}", question
    for seed, (kind, threads, least, keeps) in enumerate(JOINT):
        dice = random.Random(1000 + seed)
        question = loss(dice, kind, threads, 60, 20)
        yield f"joint-{seed}", {**question, "min_apart": least, "keep_lightness": keeps}


def main():
    made = []
    for name, question in questions():
        kind = "substitute" if "missing" in question else "reduce"
        entry = {"name": name, "kind": kind, **question}
        if kind == "substitute":
            entry["optimum"] = substitute(question)
        elif "tolerance" in question and "max_threads" not in question:
            entry["fewest"] = round(reduce(question, count_only=True))
            entry["optimum"] = reduce(question, most=entry["fewest"])
        else:
            entry["optimum"] = reduce(question)
            if entry["optimum"] is None:
                count = reduce({**question, "max_threads": None}, count_only=True)
                entry["fewest"] = count and round(count)
        print(name, entry["optimum"], entry.get("fewest"), flush=True)
        made.append(json.dumps(entry))
    OUT.write_text("[\n" + ",\n".join(made) + "\n]\n", encoding="utf-8")


if __name__ == "__main__":
    main()
