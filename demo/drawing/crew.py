"""Draws the ferry and who is in it: the otter, the hedgehog, the luggage.

It does not know the harbor around them.
"""

from drawing import letters
from drawing.painter import box, ellipse, smooth

GUNWALE = [(38, 97), (52, 104), (72, 108.5), (105, 110.5), (140, 108.5), (160, 103), (174, 94)]


def boat_and_crew(sheet):
    bow_lantern(sheet)
    tail(sheet)
    luggage(sheet)
    hedgehog(sheet)
    otter(sheet)
    hull(sheet)
    pole(sheet)


def hull(sheet):
    top = smooth(GUNWALE, closed=False)
    keel = smooth([(174, 94), (170, 112), (158, 127), (105, 129.5), (58, 127.5), (44, 114),
        (38, 97)], closed=False)
    body = top + keel
    sheet.fill([body], "wood", None)
    for drop, color in ((14.5, "wood_dim"), (17.5, "wood_deep")):
        sheet.fill([[(x, y + drop) for x, y in top] + [(176, 140), (34, 140)]], color, [body])
    sheet.fill([[(x, y + 1) for x, y in top] + [(x, y + 10.5) for x, y in top[::-1]]], "strake",
        [body])
    sheet.fill([[(x, y + 7) for x, y in top] + [(x, y + 10.5) for x, y in top[::-1]]], "strake_dim",
        [body])
    sheet.fill([[(x, y + 10.5) for x, y in top] + [(x, y + 12) for x, y in top[::-1]]], "trim",
        [body])
    sheet.line([(x, y + 16.2) for x, y in top], 0.8, "wood_seam", [body])
    sheet.outline(body, 1.5, "boat_ink")
    sheet.line([(x, y + 0.2) for x, y in top], 2.6, "boat_ink")
    sheet.line([(x, y - 0.1) for x, y in top], 1.2, "rail")


def bow_lantern(sheet):
    post = smooth([(45, 106), (46, 92), (44, 80), (37, 76.5), (31, 79)], closed=False)
    sheet.fill([ellipse(31, 88, 13)], "glow_far")
    sheet.fill([ellipse(31, 88, 10)], "glow")
    sheet.line(post, 2.6, "boat_ink")
    sheet.line(post, 1.1, "rail")
    body = [(27.4, 83.4), (34.6, 83.4), (36.2, 93), (25.8, 93)]
    sheet.fill([body], "flame")
    sheet.fill([ellipse(31, 89.4, 2.4, 3.4)], "flame_core", [body])
    sheet.outline(body, 1.2, "boat_ink")
    sheet.fill([box(26.4, 81.6, 35.6, 83.6), box(25, 93, 37, 95)], "boat_ink")


def tail(sheet):
    shape = smooth([(148, 104), (160, 96), (171, 89), (178, 80), (181, 70), (186, 65), (188, 72),
        (187, 83), (180, 94), (170, 103), (156, 112)])
    sheet.fill([shape], "fur")
    sheet.fill([smooth([(187, 66), (189, 74), (187, 84), (180, 95), (168, 105), (158, 108),
        (174, 95), (182, 84), (185, 74)])], "fur_dim", [shape])
    sheet.fill([smooth([(162, 96), (172, 90), (179, 81), (182, 73), (183, 78), (179, 86),
        (172, 93)])], "fur_lit", [shape])
    sheet.outline(shape, 1.4, "otter_ink")


def luggage(sheet):
    case = box(97, 96, 114, 112)
    sheet.line(smooth([(102, 96), (103, 92.4), (108, 92.4), (109, 96)], closed=False),
        1.5, "case_ink")
    sheet.fill([case], "case")
    sheet.fill([box(97, 96, 114, 98)], "case_lit")
    for x in (100.2, 108.6):
        sheet.fill([box(x, 96, x + 2.2, 112)], "case_strap")
    sheet.outline(case, 1.3, "case_ink")


def hedgehog(sheet):
    body = smooth([(66, 112), (67, 100), (74, 94), (86, 94), (93, 101), (94, 112)])
    sheet.fill([body], "jacket")
    sheet.fill([smooth([(84, 94), (90, 98), (93, 104), (93, 113), (86, 113)])], "jacket_dim",
        [body])
    sheet.outline(body, 1.4, "hedgehog_ink")
    spines(sheet)
    face = smooth([(68.4, 84), (70, 76.5), (76, 73.5), (81, 76), (86, 73.5), (91, 77.5), (92, 84.5),
        (88, 91.5), (80, 94.4), (72, 91.4)])
    sheet.fill([face], "hog_face")
    sheet.fill([smooth([(88, 74), (94, 80), (93, 88), (86, 95), (82, 95), (88.6, 88), (89.6, 82)])],
        "hog_face_dim", [face])
    sheet.fill([ellipse(71.6, 86.6, 2.6, 1.9), ellipse(87, 86.8, 2.5, 1.9)], "cheek", [face])
    sheet.outline(face, 1.2, "hedgehog_ink")
    muzzle = ellipse(79, 87, 5, 3.8)
    sheet.fill([muzzle], "hog_muzzle")
    scarf = smooth([(69, 93.6), (79, 97.4), (90, 93.6), (91.6, 97.4), (79.6, 101.6), (68, 97.4)])
    sheet.fill([scarf], "scarf")
    for x in (71, 77, 83, 89):
        sheet.fill([[(x, 92), (x + 2, 92), (x + 2.6, 103), (x + 0.4, 103)]], "scarf_stripe",
            [scarf])
    sheet.outline(scarf, 1.2, "hedgehog_ink")
    for x in (67.8, 92):
        ear = ellipse(x, 77.4, 2.8, 3)
        sheet.fill([ear], "hog_face_dim")
        sheet.outline(ear, 1.1, "hedgehog_ink")


def spines(sheet):
    points = []
    for step in range(19):
        angle = 150 + step * 240 / 18
        reach = 18.5 if step % 2 == 0 else 14
        spot = ellipse(80, 83, reach, reach * 0.98, angle)[0]
        points.append(spot)
    crown = [*points, (88, 97), (72, 97)]
    sheet.fill([crown], "spines")
    sheet.fill([smooth([(66, 80), (68, 71), (77, 66.8), (86, 68), (80, 70.4), (72, 73.4)])],
        "spines_lit", [crown])
    for x, y, dx in ((70, 73, -2), (75, 69.6, -1), (80.4, 68.4, 0), (86, 69.8, 1.4), (90.4, 74, 2),
            (94, 80, 2.4), (66.6, 79, -2.4)):
        sheet.line([(x, y + 1.6), (x + dx * 0.8, y - 2)], 0.9, "spines_tip", [crown])
    sheet.outline(crown, 1.3, "hedgehog_ink")


def otter(sheet):
    body = smooth([(114, 113), (115, 98), (121, 88), (133, 84.4), (145, 88), (151, 98), (152, 113)])
    sheet.fill([body], "coat")
    sheet.fill([smooth([(138, 84), (147, 89), (153, 99), (153, 114), (142, 114), (143, 98)])],
        "coat_dim", [body])
    sheet.fill([smooth([(117, 97), (121.6, 90), (126, 88), (121.6, 96), (119.4, 108),
        (116.6, 110)])], "coat_lit", [body])
    sheet.line([(132.6, 90), (132.6, 112)], 0.8, "coat_seam", [body])
    sheet.outline(body, 1.5, "otter_ink")
    waving_arm(sheet)
    for x in (116.2, 148.8):
        ear = ellipse(x, 66, 3.7)
        sheet.fill([ear], "fur")
        sheet.fill([ellipse(x, 66.4, 1.8)], "ear", [ear])
        sheet.outline(ear, 1.3, "otter_ink")
    head = smooth([(114, 74.6), (117, 63), (124, 56), (132.5, 54.6), (141, 56), (148, 63),
        (151, 74.6), (145.6, 82.4), (132.5, 85.6), (119.4, 82.4)])
    sheet.fill([head], "fur")
    sheet.fill([smooth([(114.6, 75), (118, 63), (126, 57), (130, 57), (122.6, 64), (119, 74),
        (120, 80)])], "fur_lit", [head])
    sheet.fill([smooth([(142, 55), (149, 62), (152.4, 75), (146, 84), (138, 87), (145, 79),
        (146.6, 70)])], "fur_dim", [head])
    mask = smooth([(116.4, 77.4), (122.6, 72.4), (130, 74), (132.5, 71.6), (135, 74), (142.4, 72.4),
        (148.6, 77.4), (143, 82.8), (132.5, 85), (122, 82.8)])
    sheet.fill([mask], "muzzle", [head])
    sheet.fill([smooth([(141, 72), (149, 77), (144, 84), (134, 86), (141, 80)])], "muzzle_dim",
        [mask])
    sheet.outline(head, 1.5, "otter_ink")
    neckerchief(sheet)
    cap(sheet)


def neckerchief(sheet):
    band = smooth([(121, 83.4), (132.5, 87.6), (144, 83.4), (146, 88), (132.5, 93), (119, 88)])
    sheet.fill([band], "kerchief")
    sheet.fill([smooth([(133, 88), (144, 84), (146, 88), (133, 93)])], "kerchief_dim", [band])
    sheet.outline(band, 1.3, "otter_ink")
    knot = [(129.6, 90.6), (135.4, 90.6), (137.4, 99), (133, 96.6), (128.4, 100)]
    sheet.fill([knot], "kerchief")
    sheet.outline(knot, 1.2, "otter_ink")


def cap(sheet):
    crown = smooth([(118.6, 57), (116.6, 49.6), (124, 46), (133, 45), (142, 46), (148.6, 49.6),
        (146.4, 57), (132.5, 58.4)])
    sheet.fill([crown], "cap")
    sheet.fill([smooth([(119, 53), (119, 50), (126, 47.4), (134, 46.6), (126, 50)])], "cap_lit",
        [crown])
    sheet.outline(crown, 1.4, "otter_ink")
    band = smooth([(118.4, 56.4), (132.5, 58), (146.6, 56.4), (146.6, 60), (132.5, 61.8),
        (118.4, 60)])
    sheet.fill([band], "cap_band")
    sheet.outline(band, 1.2, "otter_ink")
    peak = smooth([(119.6, 61), (132.5, 62), (145.4, 61), (140, 64.4), (132.5, 65.2), (125, 64.4)])
    sheet.fill([peak], "otter_ink")
    badge = ellipse(132.5, 53, 3)
    sheet.fill([badge], "badge")
    sheet.outline(badge, 1.0, "otter_ink")


def waving_arm(sheet):
    arm = smooth([(121, 91), (125, 97), (117, 102), (108.6, 92.4), (106.4, 86), (111, 84.4),
        (114.6, 89)])
    sheet.fill([arm], "coat")
    sheet.fill([smooth([(108, 88), (112, 87), (117, 94), (115, 97)])], "coat_lit", [arm])
    sheet.outline(arm, 1.4, "otter_ink")
    cuff = [(104.8, 86.6), (111.2, 83.2), (112.6, 86.2), (106.4, 89.6)]
    sheet.fill([cuff], "cap_band")
    sheet.outline(cuff, 1.0, "otter_ink")
    paw = smooth([(104.6, 85), (102.6, 80.6), (104.2, 76.8), (108, 75.8), (111, 78.6),
        (110.6, 82.8), (108.4, 85)])
    sheet.fill([paw], "fur")
    sheet.fill([ellipse(106.8, 80.6, 2.2, 2.4)], "muzzle", [paw])
    sheet.outline(paw, 1.3, "otter_ink")


def pole(sheet):
    sheet.line([(168, 35), (150, 133)], 3.3, "boat_ink")
    sheet.line([(168, 35), (150, 133)], 1.7, "oar")
    sheet.line([(167.4, 35), (149.4, 133)], 0.6, "oar_lit")
    arm = smooth([(143, 90), (149, 88.4), (155, 88), (157, 83.6), (162, 84.6), (162.4, 90),
        (158, 96), (149, 99), (144, 97)])
    sheet.fill([arm], "coat_dim")
    sheet.outline(arm, 1.4, "otter_ink")
    paw = smooth([(155, 84.4), (155.4, 79.6), (159.4, 77.6), (163.4, 79), (163.4, 84), (160, 86.6)])
    sheet.fill([paw], "fur_dim")
    sheet.fill([smooth([(155.6, 83), (156.4, 80), (160, 78.6), (159, 82)])], "fur", [paw])
    sheet.outline(paw, 1.3, "otter_ink")


def touch_up(put):
    otter_face(put)
    hedgehog_face(put)
    for top in (97, 103):
        for left in (127, 137):
            for x, y in spots(left, top, "## ##"):
                put(x, y, "badge")
    for place, letter in enumerate("PUDDLE"):
        for x, y in letters.cells(letter, letters.TINY, 62 + 4 * place, 112 + place // 2):
            put(x, y, "boat_name")


def otter_face(put):
    for left in (124, 138):
        for x, y in spots(left, 67, ".##. #### #### #### .##."):
            put(x, y, "eye")
        put(left + 1, 68, "glint")
        put(left + 2, 70, "eye_soft")
    for x, y in spots(129, 73, ".#####. ####### .#####. ..###.."):
        put(x, y, "nose")
    put(130, 74, "nose_glint")
    put(131, 74, "nose_glint")
    for x, y in spots(126,
            77, "......#...... ......#...... #.....#.....# .#...#.#...#. ..###...###.."):
        put(x, y, "otter_ink")
    for x, y in ((122, 76), (124, 78), (121, 79), (142, 76), (140, 78), (143, 79)):
        put(x, y, "fur_dim")
    for side in (-1, 1):
        for reach, drop in ((18, -2), (19, -2), (20, -3), (21, -3), (22, -3), (18, 2), (19, 2),
                (20, 2), (21, 3), (22, 3)):
            put(132 + side * reach + (side > 0), 76 + drop, "whisker")


def hedgehog_face(put):
    for left in (73, 83):
        for x, y in spots(left, 80, ".#. ### ### ###"):
            put(x, y, "eye")
        put(left, 81, "glint")
    for x, y in spots(77, 84, ".###. ##### .###."):
        put(x, y, "nose")
    put(78, 85, "nose_glint")
    for x, y in spots(75, 87, "....#.... #...#...# .###.###."):
        put(x, y, "hedgehog_ink")


def spots(left, top, rows):
    for y, row in enumerate(rows.split()):
        for x, mark in enumerate(row):
            if mark == "#":
                yield left + x, top + y
