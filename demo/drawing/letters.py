"""Two small alphabets, drawn for stitches.

It does not know where the letters go. Only the letters that the picture needs are here.
"""

TALL = {
    "A": ".###. #...# #...# ##### #...# #...# #...#",
    "E": "##### #.... #.... ####. #.... #.... #####",
    "F": "##### #.... #.... ####. #.... #.... #....",
    "H": "#...# #...# #...# ##### #...# #...# #...#",
    "L": "#.... #.... #.... #.... #.... #.... #####",
    "M": "#...# ##.## #.#.# #.#.# #...# #...# #...#",
    "O": ".###. #...# #...# #...# #...# #...# .###.",
    "R": "####. #...# #...# ####. #.#.. #..#. #...#",
    "S": ".#### #.... #.... .###. ....# ....# ####.",
    "T": "##### ..#.. ..#.. ..#.. ..#.. ..#.. ..#..",
    "Y": "#...# #...# .#.#. ..#.. ..#.. ..#.. ..#..",
    " ": "... ... ... ... ... ... ...",
}

TINY = {
    "A": ".#. #.# ### #.# #.#",
    "D": "##. #.# #.# #.# ##.",
    "E": "### #.. ##. #.. ###",
    "L": "#.. #.. #.. #.. ###",
    "P": "##. #.# ##. #.. #..",
    "T": "### .#. .#. .#. .#.",
    "U": "#.# #.# #.# #.# ###",
}


def cells(text, alphabet, left, top):
    """The stitches (x, y) of a line of text."""
    for letter in text:
        rows = alphabet[letter].split()
        for y, row in enumerate(rows):
            for x, mark in enumerate(row):
                if mark == "#":
                    yield left + x, top + y
        left += len(rows[0]) + 1


def width(text, alphabet):
    return sum(len(alphabet[letter].split()[0]) + 1 for letter in text) - 1
