"""Draws the small sample chart out of the threads of a range.

It does not know how a table or a picture is written.
"""

from color import ciede2000, rgb_to_lab

# One letter, one wanted color; `.` is bare cloth.
WANTED = {
    "k": "#23283c",  # night outline
    "r": "#b3262f",  # tower bands
    "w": "#f4efe2",  # tower white
    "s": "#cfc6b4",  # tower shadow
    "d": "#8c1d2b",  # band shadow
    "y": "#ffd75e",  # lamp
    "l": "#ffefb4",  # beam
    "g": "#4c7a3d",  # grass
    "f": "#2f5632",  # grass shadow
    "n": "#7d6a55",  # rock
    "m": "#51463e",  # rock shadow
    "b": "#2f6f9f",  # sea
    "c": "#5fa3c4",  # sea, nearer the sun
    "a": "#dcecf0",  # foam
    "t": "#e9b9a4",  # evening cloud
    "p": "#c98a93",  # evening cloud, under side
}

LIGHTHOUSE = """
.............kkkk.............
............kddddk............
...........kdrrrddk...........
..........kkkkkkkkkk..........
llll......kyywwyyysk......llll
..llllllllkywwyyyyskllllllll..
....llllllkyyyyyyyskllllll....
llll......kkkkkkkkkk......llll
...........kwwwwssk...........
....ttt....kwwwwssk.....tttt..
..ttttttpp.krrrrddk..tttttpp..
.pppppp....krrrrddk...pppp....
...........kwwwwssk...........
..........kwwwwwsssk..........
..........kwwwkkwssk..........
..........krrrkkrddk...kkk....
..........krrrrrrddk..krrdk...
....ggg...kwwwwwsssk..kwwsk...
..gggggfgkwwwwkkwssskgkwwskgff
bggnnfffnkwwwwkkwssskkkkkkkffb
bbnmmnmnmkwwwwkkwssskmmnmbbabc
cbbbaabbmmmmmmmmmmmmmmabbabbcc
bbccbbbbbaabbbbbbaabbbbbcccbbb
"""


def lighthouse(threads):
    """Rows of threads, None where the cloth stays bare."""
    plain = [t for t in threads if t["finish"] == "plain" and t["status"] == "available"]
    used = {letter: nearest(color, plain) for letter, color in WANTED.items()}
    rows = LIGHTHOUSE.split()
    if len({len(row) for row in rows}) != 1 or len({t["code"] for t in used.values()}) != len(used):
        raise SystemExit("the sample chart has a ragged row or two letters on one thread")
    return [[used.get(letter) for letter in row] for row in rows]


def nearest(color, threads):
    lab = rgb_to_lab(tuple(int(color[i : i + 2], 16) for i in (1, 3, 5)))
    return min(threads, key=lambda t: (ciede2000(lab, t["lab"]), t["code"]))
