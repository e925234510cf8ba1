"""Drafts the demo's chart from its drawing, as a drawing program would leave it.

It does not know dyekin or any thread. Standard library only.

    python3 demo/make.py            write input/last-ferry.png and print its figures
    python3 demo/make.py --check    write nothing; exit 1 when the committed file differs
"""

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.dont_write_bytecode = True
sys.path[:0] = [str(HERE), str(HERE.parent / "data")]

import png
from color import check_ciede2000, ciede2000, rgb_to_lab
from drawing import colors, scene
from drawing.painter import FINE

OUTPUT = HERE / "input" / "last-ferry.png"
# Which edges leave an in-between color, by how often their two colors meet: some everywhere, some
# in a handful of stitches.
STRAY_RANKS = (0, 1, 2, 3, 12, 40, 55, 70, 85)
# A second color with this share of a stitch softens the edge.
SOFT_SHARE = 0.34
# Colors closer than this do not make a visible in-between color. CIEDE2000.
HARD_EDGE = 22.0


def draft():
    """Rows of RGBA stitches."""
    named = colors.all_colors()
    shares = [[mixed(cell, named) for cell in row] for row in scene.draw().stitches()]
    strays = stray_pairs(shares)
    rows = [[settle(cell, strays) for cell in row] for row in shares]
    scene.touch_up(lambda x, y, name: rows[y].__setitem__(x, named[name]))
    return [[(0, 0, 0, 0) if rgb is None else (*rgb, 255) for rgb in row] for row in rows]


def mixed(cell, named):
    """The shares of a stitch by color value, largest first; None is bare cloth."""
    shares = {}
    for name, share in cell:
        rgb = None if name is None else named[name]
        shares[rgb] = shares.get(rgb, 0) + share
    return sorted(shares.items(), key=lambda item: (-item[1], str(item[0])))


def soft_pair(cell):
    """The two colors of a stitch on a hard edge, or None."""
    if len(cell) < 2 or cell[1][1] < SOFT_SHARE * FINE * FINE:
        return None
    one, two = cell[0][0], cell[1][0]
    if one is None or two is None or ciede2000(rgb_to_lab(one), rgb_to_lab(two)) < HARD_EDGE:
        return None
    return tuple(sorted((one, two)))


def stray_pairs(shares):
    """The pairs of colors that leave an in-between color where they meet."""
    counts = {}
    for row in shares:
        for cell in row:
            pair = soft_pair(cell)
            if pair:
                counts[pair] = counts.get(pair, 0) + 1
    ranked = sorted(counts, key=lambda pair: (-counts[pair], pair))
    return {ranked[place] for place in STRAY_RANKS}


def settle(cell, strays):
    """The color of a stitch: its largest share, or the middle of two along a softened edge."""
    pair = soft_pair(cell)
    if pair in strays:
        return tuple((a + b) // 2 for a, b in zip(*pair))
    return cell[0][0]


def print_figures(rows):
    counts = {}
    for row in rows:
        for pixel in row:
            counts[pixel] = counts.get(pixel, 0) + 1
    bare = counts.pop((0, 0, 0, 0), 0)
    labs = [rgb_to_lab(pixel[:3]) for pixel in counts]
    near = sum(
        any(i != j and ciede2000(lab, other) < 3 for j, other in enumerate(labs))
        for i, lab in enumerate(labs)
    )
    few = sum(count < 20 for count in counts.values())
    print(f"{len(rows[0])} x {len(rows)} stitches; {bare} stay bare cloth")
    print(f"{len(counts)} colors; {near} with another one under 3.0, {few} under 20 stitches")


def main():
    if sys.argv[1:] not in ([], ["--check"]):
        raise SystemExit("usage: python3 demo/make.py [--check]")
    check_ciede2000()
    rows = draft()
    picture = png.rgba(rows)
    if not sys.argv[1:]:
        OUTPUT.parent.mkdir(exist_ok=True)
        OUTPUT.write_bytes(picture)
    elif not OUTPUT.is_file() or not png.same(OUTPUT.read_bytes(), picture):
        raise SystemExit(f"not what demo/make.py makes: {OUTPUT.name}")
    print_figures(rows)


if __name__ == "__main__":
    main()
