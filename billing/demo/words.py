"""Names and places of the invented town of Port Hallow. Nobody and nothing here exists."""

from decimal import Decimal

TOWN = "Port Hallow"
SHOP_POINT = (Decimal("44.912000"), Decimal("-64.235000"))

# Districts with the offset of their middle from the shop, in degrees (about 0.009 of latitude is a kilometre).
DISTRICTS: dict[str, tuple[float, float]] = {
    "Harbour": (-0.012, 0.010),
    "Old Mill": (0.008, -0.018),
    "Lanternhill": (0.022, 0.014),
    "Saltings": (-0.030, -0.024),
    "Ferrydown": (-0.045, 0.041),
    "Upper Quay": (0.006, 0.027),
    "Thornfield": (0.064, -0.052),
    "Mossgate": (0.038, 0.071),
}

STREETS = [
    "Anchor Lane", "Bellrope Street", "Cooper's Rise", "Drift Road", "Elder Court", "Fishmarket Row",
    "Gullwing Avenue", "Hawser Street", "Inkwell Lane", "Juniper Bank", "Kelp Street", "Lamplighter Way",
    "Mariner's Hill", "Netmaker Street", "Orchard Steps", "Pilot's Walk", "Quarry Road", "Ropewalk",
    "Sailcloth Lane", "Tollhouse Road", "Underhill", "Vesper Street", "Windlass Road", "Yarrow Close",
]  # fmt: skip

FIRST_NAMES = [
    "Ada", "Bram", "Celia", "Dov", "Edda", "Farid", "Greta", "Hanno", "Ines", "Joss", "Kezia", "Lorne", "Maud",
    "Nils", "Odile", "Piet", "Quill", "Rhea", "Soren", "Tamsin", "Ugo", "Vera", "Wilf", "Xenia", "Yann", "Zora",
]  # fmt: skip

LAST_NAMES = [
    "Abbot", "Brock", "Calder", "Drummel", "Esk", "Farrow", "Gant", "Holloway", "Iver", "Jessop", "Kettle",
    "Larkin", "Marl", "Nettle", "Oakes", "Pell", "Quince", "Rook", "Sable", "Tarrant", "Umber", "Vance", "Wick",
]  # fmt: skip

ACCOUNTS = [
    ("Saltings Car Sales", "Dov Pell", 30),
    ("Harbour Cab Company", "Ines Rook", 14),
    ("Ferrydown Body Works", "Wilf Marl", 30),
    ("Tollhouse Letting Agency", "Rhea Calder", 30),
    ("Lanternhill Care Homes", "Celia Umber", 30),
    ("Mossgate Fleet Hire", "Yann Kettle", 60),
]

# The one that pays late.
LATE_PAYER = "Mossgate Fleet Hire"

VEHICLES: dict[str, list[str]] = {
    "Aldren": ["Wren", "Heron", "Bittersweet"],
    "Brixo": ["Kite", "Tarn", "Tarn Estate"],
    "Corvane": ["300", "500", "Courier van"],
    "Dunmark": ["Haul", "Ridge"],
    "Elvara": ["Sol", "Lumen"],
}

COLOURS = ["white", "silver", "black", "dark blue", "red", "grey", "green"]

ACCESS_NOTES = [
    "Level 3, bay 41, no signal below ground.",
    "Gate code 2580, ring twice.",
    "Behind the bakery, reverse in.",
    "Dog in the yard, friendly.",
    "Call from the barrier.",
    "",
    "",
    "",
    "",
]

WARNINGS = ["Cheque came back once: cash or card only.", "Deaf in one ear, speak up.", "Wants the price in writing."]
