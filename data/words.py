"""The words that the invented thread names are put together from.

It does not know any color value or code.
"""

# Opening words by lightness: pale, middle and deep threads.
OPENERS = {
    "pale": (
        "Morning", "April", "Windowsill", "Chalkpit", "Snowdrift", "Milkhouse", "Cloudbank",
        "Daybreak", "Bleachfield", "Swan Lane", "Sugarloaf", "Sunroom", "Frostgate", "Papermill",
    ),
    "middle": (
        "Market", "Orchard", "Lantern", "Garden", "Sunday", "Ferry", "Rooftop", "Hillside",
        "Harvest", "Teatime", "Millpond", "Courtyard", "Fiddler's", "Tinker's",
    ),
    "deep": (
        "Cellar", "Attic", "Lamplit", "Winter", "Thunder", "Owl's", "Nightfall", "Coalyard",
        "Rainy", "Ironworks", "Curfew", "November", "Boathouse", "Smokehouse",
    ),
}

# Family by family: things that have such a color.
NOUNS = {
    "gray": ("Anvil", "Pigeon", "Pewter Jug", "Gravel", "Cobweb", "Heron", "Slate Roof",
        "Weathervane"),
    "stone": ("Doorstep", "Millstone", "Flint", "Mortar", "Moth", "Quarry", "Field Wall", "Pebble"),
    "steel": ("Harbor Fog", "Whetstone", "Skate Blade", "Drizzle", "Rail", "Thimble", "Sea Mist",
        "Barnacle"),
    "linen": ("Bonnet", "Candle", "Eggshell", "Piecrust", "Meringue", "Wool Basket", "Page",
        "Buttermilk"),
    "skin": ("Apricot", "Freckle", "Nutshell", "Clay Doll", "Bread Crust", "Acorn Cup", "Teacake",
        "Almond Paste"),
    "earth": ("Bark", "Walnut Case", "Saddle", "Gingerbread", "Wren", "Mushroom", "Loam",
        "Cigar Box"),
    "sand": ("Dune", "Rope", "Wicker", "Biscuit", "Straw Hat", "Camel", "Oatcake", "Driftwood"),
    "crimson": ("Rowanberry", "Wax Seal", "Hawthorn", "Cockscomb", "Beet", "Garnet Pin",
        "Velvet Chair", "Jam Jar"),
    "scarlet": ("Signal Flag", "Barn Door", "Kettle", "Ladybird", "Rosehip", "Letterbox",
        "Toadstool", "Radish"),
    "coral": ("Shrimp", "Conch", "Salmon Leap", "Terrace Tile", "Guava", "Flowerpot", "Sea Fan",
        "Melon"),
    "orange": ("Pumpkin", "Marigold Bed", "Fox Tail", "Kumquat", "Ember", "Carrot Top", "Papaya",
        "Tabby"),
    "amber": ("Honeycomb", "Toffee", "Weathercock", "Barley", "Brass Bell", "Quince", "Cider",
        "Mead"),
    "yellow": ("Lemon Rind", "Canary Cage", "Buttercup", "Pollen", "Custard", "Duckling", "Cowslip",
        "Haystack"),
    "olive": ("Caper", "Lichen", "Pear Skin", "Cactus", "Split Pea", "Tea Leaf", "Kelp",
        "Artichoke"),
    "moss": ("Mossy Step", "Gooseberry", "Apple Bin", "Hedge", "Pea Pod", "Lettuce", "Nettle",
        "Meadow"),
    "leaf": ("Clover", "Ivy", "Frog Pond", "Parsley", "Grasshopper", "Spinach", "Pasture",
        "Lime Walk"),
    "fern": ("Fern", "Cucumber", "Bottle Bank", "Juniper", "Cypress", "Mint Tin", "Watercress",
        "Bracken"),
    "pine": ("Pine Cone", "Spruce", "Copper Dome", "Larch", "Wharf Weed", "Sage Bundle", "Mallard",
        "Rosemary"),
    "lagoon": ("Lagoon", "Peacock", "Tidepool", "Enamel Jug", "Kingfisher", "Mermaid", "Dragonfly",
        "Grotto"),
    "brook": ("Brook", "Glacier", "Swimming Hole", "Waterfall", "Ice Pond", "Raindrop", "Fountain",
        "Inlet"),
    "sky": ("Skylark", "Kite", "Glazed Tile", "Tern Egg", "Speedwell", "Horizon", "Flax Field",
        "Skiff"),
    "blue": ("Chicory", "Jay Wing", "Sailcloth", "Ink Bottle", "Gentian", "Bluebell", "Workcoat",
        "Whale"),
    "navy": ("Stormglass", "Bilberry", "Sloe", "Captain's Coat", "Bluebottle Wing", "Inkwell",
        "Raven", "Mussel"),
    "violet": ("Violet Patch", "Iris", "Lavender Sack", "Crocus", "Thistle", "Amethyst Ring",
        "Lilac Hedge", "Wisteria"),
    "plum": ("Plum", "Fig", "Mulberry", "Heather", "Eggplant", "Elderberry", "Grape Press",
        "Damson"),
    "orchid": ("Orchid", "Fuchsia Pot", "Peony", "Sweet Pea", "Mallow", "Clematis", "Petunia",
        "Cyclamen"),
    "rose": ("Foxglove", "Blossom", "Ribbon", "Rhubarb", "Slipper", "Camellia", "Sorbet",
        "Hollyhock"),
}

# Endings that say what a special finish looks like.
FINISH_ENDINGS = {"metallic": ("Tinsel", "Foil", "Gilding"), "variegated": ("Ramble", "Patchwork",
    "Medley")}
