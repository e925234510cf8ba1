"""Draws the harbor around the boat: hills, town, paper lanterns, reeds.

It does not know the boat or its crew.
"""

from drawing import letters
from drawing.painter import box, ellipse, smooth, stroke

QUAY = 92


def hills(sheet, window):
    far = smooth([(0, 84), (24, 76), (52, 83), (80, 78), (112, 84), (140, 77), (170, 82),
        (210, 74)], False)
    near = smooth([(0, 88), (40, 84), (76, 88), (118, 87), (150, 84), (180, 87), (210, 82)], False)
    sheet.fill([[*far, (210, 100), (0, 100)]], "hill_far", window)
    sheet.fill([[*near, (210, 100), (0, 100)]], "hill_near", window)


def town(sheet, window):
    house(sheet, window, (10, 66, 26), "wall_plum", "roof_slate", 10)
    house(sheet, window, (26, 72, 42), "wall_brick", "roof_rust", 8)
    house(sheet, window, (42, 77, 54), "wall_blue", "roof_slate", 7)
    house(sheet, window, (152, 75, 165), "wall_blue", "roof_rust", 8)
    house(sheet, window, (165, 66, 186), "wall_brick", "roof_slate", 11)
    house(sheet, window, (186, 71, 204), "wall_plum", "roof_rust", 9)
    awning(sheet, window)
    sheet.fill([box(0, QUAY, 210, QUAY + 7)], "quay", window)
    sheet.fill([box(0, QUAY, 210, QUAY + 2)], "quay_top", window)
    for x in range(4, 210, 9):
        sheet.fill([box(x, QUAY + 3, x + 1, QUAY + 5)], "quay_joint", window)
        sheet.fill([box(x + 4, QUAY + 5, x + 5, QUAY + 7)], "quay_joint", window)
    sheet.fill([box(0, QUAY + 6.2, 210, QUAY + 7.2)], "quay_joint", window)


def house(sheet, window, place, wall, roof, peak):
    left, top, right = place
    middle = (left + right) / 2
    body = box(left, top, right, QUAY)
    gable = [(left - 1.6, top + 0.6), (middle, top - peak), (right + 1.6, top + 0.6)]
    chimney = box(right - 5, top - peak + 1, right - 2, top - 1)
    for shape, color in ((chimney, "wall_plum"), (body, wall), (gable, roof)):
        sheet.fill([shape], color, window)
        sheet.outline(shape, 1.1, "town_ink", window)
    sheet.fill([box(right - 3, top + 1, right - 0.6, QUAY)], f"{wall}_dim", window)
    columns = max(1, int((right - left - 4) // 6))
    gap = (right - left) / columns
    for column in range(columns):
        for row, y in enumerate(range(top + 4, QUAY - 7, 8)):
            x = round(left + gap * (column + 0.5) - 1.5)
            lit = ("window", "window_warm", "window_off")[(column * 2 + row + left) % 3]
            sheet.fill([box(x - 0.9, y - 0.9, x + 3.9, y + 4.9)], "town_ink", window)
            sheet.fill([box(x, y, x + 3, y + 4)], lit, window)


def awning(sheet, window):
    for stripe in range(6):
        color = "awning_red" if stripe % 2 == 0 else "awning_cream"
        x = 167 + stripe * 3
        sheet.fill([box(x, 83, x + 3, 87), ellipse(x + 1.5, 87, 1.5, 1.4)], color, window)
    sheet.line([(166.5, 82.6), (185.5, 82.6)], 1.1, "town_ink", window)
    sheet.fill([box(164.6, 70.4, 178.4, 78.4)], "town_ink", window)
    sheet.fill([box(165.5, 71.2, 177.5, 77.6)], "sign", window)


def lantern_string(sheet, window):
    def height(x):
        return 22 + 10 * (1 - ((x - 105) / 95) ** 2)

    for x, top in ((28, 29), (184, 27)):
        sheet.line([(x, top), (x, QUAY)], 1.5, "pole", window)
    sheet.line([(x, height(x)) for x in range(6, 206, 3)], 1.25, "cord", window)
    colors = ("red", "amber", "jade", "pink", "amber", "red", "jade", "pink", "amber")
    for place, color in enumerate(colors):
        x = 32 + place * 18.25
        paper_lantern(sheet, window, x, height(x) + 6.2, color)


def paper_lantern(sheet, window, x, y, color):
    body = ellipse(x, y, 4.6, 4.9)
    sheet.fill([body], f"paper_{color}", window)
    sheet.fill([ellipse(x - 0.4, y + 0.6, 2.6, 3.4)], f"paper_{color}_lit", [body])
    for dx in (-2.4, 2.4):
        sheet.line(smooth([(x + dx * 0.5, y - 4), (x + dx, y), (x + dx * 0.5, y + 4)], False),
            0.6, f"paper_{color}", [body])
    sheet.outline(body, 1.0, "paper_ink", window)
    for dy in (-5.2, 5.0):
        sheet.fill([box(x - 2, y + dy - 0.6, x + 2, y + dy + 0.7)], "paper_ink", window)


def reeds(sheet):
    for side in (1, -1):
        def at(x):
            return x if side == 1 else 210 - x

        for x, top, lean, color in (
            (8, 108, -3, "reed_deep"), (13, 100, 2, "reed"), (17, 113, 5, "reed_deep"),
                (10, 116, -5, "reed_pale"),
            (21, 118, 6, "reed"), (14, 121, 0, "reed_pale"), (5, 120, -3, "reed"),
                (25, 125, 6, "reed_deep"),
        ):
            base = 139
            tip, belly = x + lean, (top + base) / 2
            blade = [(x - 1.5, base), (x - 1.1 + lean * 0.3, belly), (tip, top),
                (x + 1.3 + lean * 0.3, belly), (x + 1.5, base)]
            blade = [(at(px), py) for px, py in blade]
            sheet.fill([blade], color)
            sheet.outline(blade, 0.7, "reed_ink")
        for x, top in ((12, 97), (19, 106)):
            sheet.line([(at(x), top), (at(x - 0.5), 138)], 1.1, "reed_deep")
            head = stroke([(at(x), top + 1), (at(x), top + 9)], 3.4)
            sheet.fill(stroke([(at(x), top + 1), (at(x), top + 9)], 4.8), "reed_ink")
            sheet.fill(head, "cattail")
            sheet.fill(stroke([(at(x) - 0.8, top + 1), (at(x) - 0.8, top + 8)], 1.2), "cattail_lit")
        bank = smooth([(at(px), py) for px, py in ((3, 141), (3, 134), (12, 131), (24, 134),
            (36, 138), (40, 142))])
        sheet.fill([bank], "bank")
        sheet.outline(bank, 1.0, "reed_ink")


def touch_up(put):
    for x, y in letters.cells("TEA", letters.TINY, 166, 72):
        put(x, y, "sign_ink")
    for x, y in ((58, 88), (186, 118), (24, 106), (192, 104), (103, 74)):
        put(x, y, "firefly")
