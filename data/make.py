"""Makes the invented thread ranges, their twin list and the sample chart beside this file.

It does not know dyekin; it only writes files. Standard library only; the seed is `SEED`.

    python3 data/make.py            write the files and print the quantiles
    python3 data/make.py --check    write nothing; exit 1 when a committed file differs
"""

import csv
import io
import math
import sys
from pathlib import Path

sys.dont_write_bytecode = True  # this folder holds example files, not caches

import charts
import png
import words
from color import check_ciede2000, ciede2000, lab_to_rgb, rgb_to_lab

HERE = Path(__file__).resolve().parent
SEED = 20_480_240
# No E (exponents), I and O (digits), and nothing that needs a second look.
CARD_ROWS = "ABCDFGHJKLMNPQRSTUVWXYZ"
CARD_DIGITS = "23456789"
# Two threads of one range are never closer than this, but for the planted pairs. CIEDE2000.
CLOSEST = 1.15

# Hue, then chroma and lightness of its strongest thread; house choice, about what cotton shows.
GAMUT = (
    (0, 66, 46), (30, 70, 44), (50, 76, 56), (70, 84, 68), (90, 90, 80), (110, 76, 72),
    (130, 64, 60), (150, 56, 50), (180, 48, 52), (210, 42, 55), (240, 47, 51), (265, 55, 42),
    (285, 60, 33), (305, 58, 36), (330, 62, 42), (360, 66, 46),
)

# Family: hue, hue change from dark to pale, strengths of its runs (share of the gamut).
FAMILIES = {
    "gray": (270, 0, (0.0,)), "stone": (75, 0, (0.075, 0.12)), "steel": (250, 0, (0.12, 0.19)),
    "linen": (85, 0, (0.10, 0.2)), "skin": (54, 14, (0.28, 0.38, 0.48)),
    "earth": (60, 8, (0.26, 0.42, 0.58)), "sand": (78, 6, (0.27, 0.38)),
    "crimson": (17, -8, (0.95, 0.78, 0.5)), "scarlet": (33, -4, (0.98, 0.74)),
    "coral": (40, -6, (0.8, 0.6, 0.42)), "orange": (59, 8, (0.97, 0.75)),
    "amber": (75, 8, (0.95, 0.7, 0.5)), "yellow": (93, 4, (0.96, 0.68, 0.45)),
    "olive": (105, -6, (0.66, 0.4)), "moss": (118, -4, (0.9, 0.62, 0.36)),
    "leaf": (135, -6, (0.94, 0.66)), "fern": (152, 4, (0.85, 0.55, 0.3)),
    "pine": (172, 8, (0.8, 0.5, 0.26)), "lagoon": (196, 8, (0.92, 0.66, 0.4)),
    "brook": (218, -4, (0.85, 0.5)), "sky": (242, -6, (0.9, 0.62, 0.36)),
    "blue": (265, -6, (0.95, 0.7, 0.42)), "navy": (284, -8, (0.9, 0.6, 0.36)),
    "violet": (304, 4, (0.9, 0.64, 0.4)), "plum": (324, 6, (0.78, 0.5, 0.3)),
    "orchid": (342, 4, (0.92, 0.66, 0.42)), "rose": (3, -4, (0.94, 0.7, 0.46)),
}
# Lowest and highest L* of a family that does not run from 12 to 93.
SPANS = {
    "gray": (10, 90), "stone": (16, 90), "steel": (14, 91), "linen": (80, 97), "skin": (30, 93),
    "earth": (14, 72), "sand": (44, 90), "orange": (36, 88), "amber": (36, 92), "yellow": (52, 95),
    "coral": (34, 92), "scarlet": (22, 86),
}
NEUTRALS = ("gray", "stone", "steel", "linen")

SIZES_LARGE = dict(
    gray=16, stone=15, steel=15, linen=14, skin=28, earth=34, sand=18, crimson=18, scarlet=14,
    coral=18, orange=14, amber=20, yellow=18, olive=14, moss=18, leaf=14, fern=18, pine=18,
    lagoon=18, brook=14, sky=18, blue=20, navy=18, violet=18, plum=18, orchid=14, rose=18,
)
SIZES_MIDDLE = dict(
    gray=10, stone=7, steel=7, linen=6, skin=14, earth=16, sand=9, crimson=9, scarlet=8, coral=9,
    orange=7, amber=9, yellow=9, olive=7, moss=9, leaf=8, fern=9, pine=9, lagoon=9, brook=7,
    sky=9, blue=11, navy=10, violet=9, plum=8, orchid=7, rose=8,
)
SIZES_SMALL = dict(
    gray=4, stone=3, steel=3, linen=3, skin=5, earth=6, sand=3, crimson=4, scarlet=4, coral=4,
    orange=4, amber=4, yellow=4, olive=2, moss=4, leaf=4, fern=3, pine=3, lagoon=4, brook=2,
    sky=4, blue=4, navy=4, violet=3, plum=3, orchid=3, rose=2,
)


class Dice:
    """Splitmix64: the same numbers in every Python version."""

    def __init__(self, seed):
        self.state = seed & 0xFFFFFFFFFFFFFFFF

    def unit(self):
        """A number from 0 up to, not including, 1."""
        self.state = (self.state + 0x9E3779B97F4A7C15) & 0xFFFFFFFFFFFFFFFF
        z = self.state
        z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & 0xFFFFFFFFFFFFFFFF
        z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & 0xFFFFFFFFFFFFFFFF
        return (z ^ (z >> 31)) / 2**64

    def between(self, low, high):
        return low + (high - low) * self.unit()

    def pick(self, items):
        return items[int(self.unit() * len(items))]

    def draw(self, items, count):
        """`count` different items."""
        left = list(items)
        return [left.pop(int(self.unit() * len(left))) for _ in range(count)]


def strongest(lightness, hue):
    """The chroma of the strongest thread of that lightness and hue."""
    hue %= 360
    for (h0, c0, l0), (h1, c1, l1) in zip(GAMUT, GAMUT[1:]):
        if h0 <= hue <= h1:
            share = (hue - h0) / (h1 - h0)
            peak, at = c0 + (c1 - c0) * share, l0 + (l1 - l0) * share
            break
    if lightness >= at:
        return peak * max(0.0, (99 - lightness) / (99 - at)) ** 0.8
    return peak * (1 - ((at - lightness) / (at - 3)) ** 1.7)


def shade(family, lightness, strength, dice):
    """One color of a family, pulled toward gray until a screen can show it."""
    hue, drift, _ = FAMILIES[family]
    hue += drift * (lightness - 52) / 45 + dice.between(-3, 3)
    base = 62.0 if family in NEUTRALS else strongest(lightness, hue)
    chroma = base * strength * dice.between(0.9, 1.06)
    while True:
        turn = math.radians(hue)
        lab = (lightness, chroma * math.cos(turn), chroma * math.sin(turn))
        if lab_to_rgb(lab) is not None:
            return lab
        chroma *= 0.97


def run_of(family, strength, count, dice):
    """Shades from pale to deep in uneven steps."""
    low, high = SPANS.get(family, (12, 93))
    # Strong runs stay around the lightness where the dye is strong; weak ones use the whole span.
    inset = (high - low) * 0.16 * strength * dice.between(0.3, 1.0)
    steps = [dice.between(0.55, 1.75) for _ in range(count)]
    if family in NEUTRALS:
        # Every range has its own white, black and in-between: here the ends are threads, too.
        inset, steps[0] = 0.0, 0.0
    total, walked, colors = max(sum(steps), 1.0), 0.0, []
    for step in steps:
        walked += step
        place = walked if family in NEUTRALS else walked - step / 2
        lightness = high - inset - (high - low - 1.6 * inset) * place / total
        colors.append(shade(family, lightness, strength, dice))
    return colors


def family_colors(family, count, taken, dice):
    """`count` colors of a family, none too close to one taken."""
    strengths, found = FAMILIES[family][2], []
    shares = [count // len(strengths) + (i < count % len(strengths)) for i in range(len(strengths))]
    for strength, share in zip(strengths, shares):
        found += [c for c in run_of(family, strength, share, dice) if apart(c, taken + found)]
    low, high = SPANS.get(family, (12, 93))
    while len(found) < count:
        color = shade(family, dice.between(low, high), dice.pick(strengths), dice)
        if apart(color, taken + found):
            found.append(color)
    return sorted(found, key=lambda c: -c[0])


def apart(color, others):
    return all(ciede2000(color, other) >= CLOSEST for other in others)


def nudged(color, size, dice):
    """A color that differs from the given one by about `size`."""
    for _ in range(200):
        moved = tuple(v + dice.between(-1.5, 1.5) * size for v in color)
        if abs(ciede2000(color, moved) - size) < 0.12 * size and lab_to_rgb(moved) is not None:
            return moved
    raise SystemExit(f"no color {size} away from {color}")


def base_range(name, prefix, sizes, dice):
    """The plain threads of a range: code, name, family and Lab."""
    colors = []
    for family, count in sizes.items():
        taken = [lab for _, lab in colors]
        colors += [(family, lab) for lab in family_colors(family, count, taken, dice)]
    offset = int(dice.unit() * len(CARD_ROWS))
    used, threads = set(), []
    for family in sizes:
        row = CARD_ROWS[(offset + list(FAMILIES).index(family)) % len(CARD_ROWS)]
        for lab in (lab for kind, lab in colors if kind == family):
            code = card_code(prefix, row, used)
            threads.append({"code": code, "family": family, "lab": lab, "finish": "plain"})
    return {"id": name, "prefix": prefix, "threads": threads}


def card_code(prefix, row, used):
    """The next free place in a card row: prefix, hyphen, digit, row letter, digit."""
    for first in CARD_DIGITS:
        for last in CARD_DIGITS:
            code = f"{prefix}-{first}{row}{last}"
            if code not in used:
                used.add(code)
                return code
    raise SystemExit(f"row {row} of the {prefix} card is full")


def name_threads(table, names, dice):
    """Gives each thread a name that no other thread of any range bears."""
    for thread in table["threads"]:
        lightness = thread["lab"][0]
        band = "pale" if lightness > 72 else "middle" if lightness > 40 else "deep"
        for _ in range(4000):
            name = f"{dice.pick(words.OPENERS[band])} {dice.pick(words.NOUNS[thread['family']])}"
            if thread["finish"] != "plain":
                name = f"{name} {dice.pick(words.FINISH_ENDINGS[thread['finish']])}"
            first, second = name.split()[:2]
            if name not in names and first != second:
                names.add(name)
                thread["name"] = name
                break
        else:
            raise SystemExit(f"no name left for {thread['code']}")


def plant_near_pairs(table, count, dice):
    """Moves a few threads very near to another, as every long range has some."""
    chosen = dice.draw(range(len(table["threads"]) - 1), count)
    for place in chosen:
        model = table["threads"][place]
        if model["family"] == table["threads"][place + 1]["family"]:
            table["threads"][place + 1]["lab"] = nudged(model["lab"], dice.between(0.5, 1.0), dice)


def declare_twins(table, model, count, dice):
    """Moves threads of `table` next to threads of `model`; these are the declared twins."""
    free = [t for t in model["threads"] if t["finish"] == "plain" and not t.get("twin")]
    for thread in dice.draw([t for t in table["threads"] if not t.get("twin")], count):
        near = min(free, key=lambda t: ciede2000(t["lab"], thread["lab"]))
        free.remove(near)
        others = [t["lab"] for t in table["threads"] if t is not thread]
        for _ in range(40):
            lab = nudged(near["lab"], dice.between(0.2, 1.6), dice)
            if apart(lab, others):
                thread["lab"], thread["twin"], near["twin"] = lab, (model["id"], near["code"]), True
                break


def set_finishes(table, metallic, variegated, dice):
    """Turns some threads into metallic and variegated ones."""
    plain = [t for t in table["threads"] if not t.get("twin")]
    shiny = ("gray", "steel", "amber", "earth", "yellow", "rose", "lagoon", "navy", "crimson")
    for thread in dice.draw([t for t in plain if t["family"] in shiny], metallic):
        thread["finish"] = "metallic"
    colored = [t for t in plain if t["family"] not in NEUTRALS and t["finish"] == "plain"]
    for thread in dice.draw([t for t in colored if 35 < t["lab"][0] < 80], variegated):
        thread["finish"] = "variegated"


def set_status(table, scarce, dice):
    """Most threads are available; `scarce` maps a status to how many have it."""
    free = list(table["threads"])
    for thread in free:
        thread["status"] = "available"
    for status, count in scarce.items():
        for thread in dice.draw(free, count):
            thread["status"] = status
            free.remove(thread)


def set_trade(table, dice):
    """Prices, packs, minimums, in-store article numbers, alternates for what is gone."""
    for place, thread in enumerate(table["threads"]):
        plain = thread["finish"] == "plain"
        cents = (135 if plain else 290) + 5 * int(dice.unit() * 9)
        thread["price"] = f"{cents // 100}.{cents % 100:02d}"
        thread["pack"] = dice.pick((6, 6, 12)) if plain else dice.pick((2, 3))
        thread["minimum"] = thread["pack"] * dice.pick((1, 1, 1, 2))
        thread["gtin"] = with_check_digit(f"27{4_106_000_000 + 37 * place + 11:010d}")
        gone = thread["status"] in ("discontinued", "unavailable")
        thread["alternates"] = alternates(thread, table["threads"]) if gone else ""


def alternates(thread, threads):
    """The two nearest available threads of the same finish, or of fewer where none is left."""
    same = [t for t in threads if t["finish"] == thread["finish"] and t["status"] == "available"]
    same.sort(key=lambda t: (ciede2000(thread["lab"], t["lab"]), t["code"]))
    return " ".join(t["code"] for t in same[:2])


def with_check_digit(digits):
    """GS1 General Specifications 7.9.1: weights 3, 1, 3, 1 from the right."""
    total = sum(int(d) * (3 if i % 2 == 0 else 1) for i, d in enumerate(reversed(digits)))
    return digits + str(-total % 10)


def make_ranges():
    """The three ranges, finished."""
    dice, names = Dice(SEED), set()
    large = base_range("quillmoor", "QM", SIZES_LARGE, dice)
    plant_near_pairs(large, 9, dice)
    middle = base_range("ottersby", "OT", SIZES_MIDDLE, dice)
    small = base_range("larkpenny", "LP", SIZES_SMALL, dice)
    declare_twins(middle, large, 60, dice)
    declare_twins(small, large, 24, dice)
    declare_twins(small, middle, 10, dice)
    for table, metallic, variegated in ((large, 10, 8), (middle, 6, 5), (small, 4, 3)):
        set_finishes(table, metallic, variegated, dice)
        name_threads(table, names, dice)
    set_status(large, {"low": 24, "back order": 12, "discontinued": 9, "unavailable": 7}, dice)
    set_status(small, {"low": 8, "back order": 4, "discontinued": 3, "unavailable": 2}, dice)
    set_trade(small, dice)
    for thread in middle["threads"]:
        thread["uncertainty"] = f"{dice.between(0.15, 0.45):.2f}"
        thread["lab"] = tuple(round(v, 2) for v in thread["lab"])
    for thread in large["threads"] + small["threads"]:
        thread["rgb"] = lab_to_rgb(thread["lab"])
        thread["lab"] = rgb_to_lab(thread["rgb"])
    return large, middle, small


def large_rows(table):
    yield "code name hex origin finish fiber strands skein_m status".split()
    for t in table["threads"]:
        yield [t["code"], t["name"], hex_of(t["rgb"]), "screen", t["finish"], *stuff(t),
            t["status"]]


def middle_rows(table):
    head = "code name L a b illuminant observer origin uncertainty"
    yield f"{head} finish fiber strands skein_m".split()
    for t in table["threads"]:
        lab = [f"{v + 0.0:.2f}" for v in t["lab"]]
        white = ["D65", "10", "meter", t["uncertainty"]]
        yield [t["code"], t["name"], *lab, *white, t["finish"], *stuff(t)]


def small_rows(table):
    head = "code name r g b origin uncertainty finish fiber strands skein_m"
    yield f"{head} price currency pack minimum status gtin alternates".split()
    for t in table["threads"]:
        trade = [t["price"], "EUR", t["pack"], t["minimum"], t["status"], t["gtin"],
            t["alternates"]]
        color = [*t["rgb"], "scan", "2.0"]
        yield [t["code"], t["name"], *color, t["finish"], *stuff(t), *trade]


def stuff(thread):
    """Fiber, strands and skein length that go with a finish."""
    if thread["finish"] == "metallic":
        return ["polyester", 3, 10]
    return ["cotton", 6, 6 if thread["finish"] == "variegated" else 8]


def twin_rows(tables):
    """The declared twins; white to white, for the two sides stand under different conditions."""
    yield "table code twin_table twin_code ciede2000".split()
    by_code = {t["code"]: t for table in tables for t in table["threads"]}
    for table in tables:
        for thread in table["threads"]:
            if isinstance(thread.get("twin"), tuple):
                twin = by_code[thread["twin"][1]]
                difference = f"{ciede2000(thread['lab'], twin['lab']):.2f}"
                yield [table["id"], thread["code"], *thread["twin"], difference]


def hex_of(rgb):
    return "#" + "".join(f"{v:02x}" for v in rgb)


def as_csv(rows):
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue().encode()


def nearest_quantiles(table):
    """Minimum, 5, 25, 50, 75, 95 %, maximum of the nearest-neighbor differences."""
    labs = [t["lab"] for t in table["threads"]]
    near = sorted(
        min(ciede2000(lab, other) for j, other in enumerate(labs) if j != i)
        for i, lab in enumerate(labs)
    )
    return [near[round(q * (len(near) - 1))] for q in (0, 0.05, 0.25, 0.5, 0.75, 0.95, 1)], near


def print_facts(tables):
    print("range       threads neutral  min    5%   25%   50%   75%   95%   max  under 1.0")
    for table in tables:
        quantiles, near = nearest_quantiles(table)
        neutral = sum(t["family"] in NEUTRALS for t in table["threads"])
        figures = " ".join(f"{q:5.2f}" for q in quantiles)
        under = sum(v < 1 for v in near)
        print(f"{table['id']:<11} {len(table['threads']):>7} {neutral:>7} {figures}  {under}")


def make_files():
    """Every file of this folder that the script makes, by its path from here."""
    tables = make_ranges()
    large, middle, small = tables
    sample_rows = charts.lighthouse(large["threads"])
    files = {
        "quillmoor.csv": as_csv(large_rows(large)),
        "ottersby.csv": as_csv(middle_rows(middle)),
        "larkpenny.csv": as_csv(small_rows(small)),
        "twins/twins.csv": as_csv(twin_rows(tables)),
        "charts/lighthouse.csv": as_csv([[t["code"] if t else "" for t in r] for r in sample_rows]),
        "charts/lighthouse.png": png.rgba(
            [[(*t["rgb"], 255) if t else (0, 0, 0, 0) for t in r] for r in sample_rows]
        ),
    }
    return tables, files


def differs(path, wanted):
    if not path.is_file():
        return True
    found = path.read_bytes()
    return not png.same(found, wanted) if path.suffix == ".png" else found != wanted


def main():
    if sys.argv[1:] not in ([], ["--check"]):
        raise SystemExit("usage: python3 data/make.py [--check]")
    check_ciede2000()
    tables, files = make_files()
    if sys.argv[1:]:
        wrong = [name for name, data in files.items() if differs(HERE / name, data)]
        if wrong:
            raise SystemExit(f"not what data/make.py makes: {', '.join(wrong)}")
        print(f"{len(files)} files are as made")
        return
    for name, data in files.items():
        (HERE / name).parent.mkdir(exist_ok=True)
        (HERE / name).write_bytes(data)
    print_facts(tables)


if __name__ == "__main__":
    main()
