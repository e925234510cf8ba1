"""The colors of the drawing, as its layers were mixed.

It does not know where a color is used. Several are almost the same on purpose: each layer of a
drawing is mixed anew, so the inks, creams and browns of a draft come in families.
"""

MIXED = {
    # Inks, one for each layer.
    "#231a26": "otter_ink eye",
    "#261b25": "hedgehog_ink case_ink nose frame_ink ribbon_ink",
    "#20182a": "boat_ink cord pole paper_ink",
    "#241c33": "town_ink",
    "#152622": "reed_ink",
    # Moon and sky.
    "#fff6da": "moon_core star flame_core moon_glint",
    "#fdeec2": "moon",
    "#f3dc9f": "moon_rim firefly moon_path",
    "#e3c587": "moon_sea",
    "#8f9fc4": "star_dim foam_dim nose_glint",
    "#cfdcea": "foam",
    "#b06f92": "cloud_rose glow_far quay_top",
    "#e9a07c": "cloud_peach glow",
    # Harbor.
    "#77588a": "hill_far cloud_mauve",
    "#4e4479": "hill_near cloud_violet wall_blue_dim",
    "#5a5068": "quay wall_plum_dim",
    "#3b3a5e": "roof_slate quay_joint window_off",
    "#6a4a6e": "wall_plum",
    "#94505a": "wall_brick",
    "#4f6189": "wall_blue",
    "#6e3348": "roof_rust wall_brick_dim",
    "#ffd774": "window",
    "#f9b95a": "window_warm window_path",
    "#ffc64a": "flame paper_amber_lit cap_band badge",
    # Paper lanterns.
    "#c8323c": "paper_red awning_red",
    "#f06a4c": "paper_red_lit",
    "#2f8f78": "paper_jade",
    "#7fd0a0": "paper_jade_lit",
    "#d0568a": "paper_pink",
    "#f49a9f": "paper_pink_lit cheek",
    # Creams.
    "#f6e7c9": "ribbon boat_name hog_muzzle whisker",
    "#f2e2c2": "trim sign awning_cream scarf_stripe",
    "#f4dcc0": "hog_face",
    "#f0d8b4": "muzzle",
    "#e2caa2": "ribbon_shade",
    "#d8b795": "ribbon_turn muzzle_dim hog_face_dim spines_tip",
    "#c9a87c": "ribbon_back",
    # Boat, luggage, cattails.
    "#b8323a": "strake",
    "#a02b36": "strake_dim kerchief_dim",
    "#a0693c": "wood case",
    "#85532f": "wood_dim ribbon_fold",
    "#643b28": "wood_deep wood_seam case_strap",
    "#d09a58": "rail oar_lit",
    # Otter.
    "#8a5a3a": "fur eye_soft spines_lit cattail_lit",
    "#b57f50": "fur_lit ear oar case_lit",
    "#68422f": "fur_dim cattail",
    "#1f6f74": "coat",
    "#3f9a92": "coat_lit",
    "#17535f": "coat_dim coat_seam",
    "#d8433a": "kerchief",
    "#28396e": "cap",
    "#46609c": "cap_lit",
    "#ffffff": "glint",
    # Hedgehog.
    "#5a4136": "spines",
    "#d9922e": "jacket paper_amber",
    "#b27f38": "jacket_dim brass_dim",
    "#3f8a4e": "scarf",
    # Reeds, bank, frame, lettering.
    "#4f8a4a": "reed",
    "#2f6444": "reed_deep",
    "#86b05a": "reed_pale",
    "#2a4f42": "bank",
    "#dba84e": "brass",
    "#6e1f37": "lettering sign_ink",
}

SKY_BANDS, WATER_BANDS = 11, 6
# Ends and middles of the two long ramps: top of the sky to the horizon, far water to near water.
SKY_STOPS = ("#1c1d4a", "#2c2a66", "#4d3c80", "#80508c", "#b9668a", "#ea8f7c", "#f9bd7c")
WATER_STOPS = ("#d98a84", "#8c5f8c", "#4f4a86", "#2c376f", "#1c2757")


def ramp(stops, count):
    """`count` colors in even steps along the stops."""
    out = []
    for place in range(count):
        at = place * (len(stops) - 1) / (count - 1)
        low = min(int(at), len(stops) - 2)
        pairs = zip(parse(stops[low]), parse(stops[low + 1]))
        out.append(tuple(round(a + (b - a) * (at - low)) for a, b in pairs))
    return out


def parse(text):
    return tuple(int(text[i : i + 2], 16) for i in (1, 3, 5))


def all_colors():
    """Every name with its sRGB bytes."""
    found = {name: parse(text) for text, names in MIXED.items() for name in names.split()}
    found.update({f"sky{i}": rgb for i, rgb in enumerate(ramp(SKY_STOPS, SKY_BANDS))})
    found.update({f"water{i}": rgb for i, rgb in enumerate(ramp(WATER_STOPS, WATER_BANDS))})
    return found
