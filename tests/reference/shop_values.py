"""Values from outside the project for the shop floor, each with its source."""

import math

# A round cutter of radius 1 in a corner of this angle (degrees): (area left, distance from the corner to the cutter).
# Plane geometry: with a half the angle, area cot a − (π/2 − a), distance 1/sin a − 1. The 90° area, 1 − π/4, is the
# square's corner outside its inscribed circle.
CORNERS = {
    30: (2.423054, 2.863703),
    45: (1.236116, 1.613126),
    60: (0.684853, 1.000000),
    90: (0.214602, 0.414214),
    120: (0.053751, 0.154701),
    135: (0.021514, 0.082392),
}

# Cutters of 1/4 in and 1/16 in in a 90° corner: mm² left by each, and what the thin one clears. From (1 − π/4) r².
INCH_CUTTERS = {"rough": 2.163348, "fine": 0.135209, "rest": 2.028139}

# Worked pour: pocket 60 × 40 × 6 mm with corners of 1/32 in: mm², ml, ml with 15 %, g at 1.108 g/ml. By arithmetic.
POUR = {"area": 2399.459, "volume": 14.397, "with_waste": 16.556, "mass": 18.34}

# Ratios by volume and by weight of two systems, as two public mixing guides print them side by side (ratios only).
RESIN_RATIOS = [((2.0, 1.0), (100.0, 47.0)), ((3.0, 1.0), (3.5, 1.0))]
# A third guide's worked figures for 100 : 60 by weight: grams of resin, grams of hardener.
WEIGHED = [(200.0, 120.0), (40.0, 24.0)]
# A fourth gives a US gallon of mixed unfilled epoxy as 4195 g; a gallon is 3785.41 ml.
GALLON = (3785.41, 4195.0)

# Change of width of hard maple, flat-sawn: USDA Wood Handbook, FPL-GTR-190, table 13-5, CT = .00353 per 1 % moisture.
MAPLE_TANGENTIAL = 0.00353
MAPLE = [(200.0, 8.0, 6.0, -1.412), (300.0, 6.0, 12.0, 6.354)]

# FEPA P grits, median grain µm: ISO 6344.
GRITS = {
    80: 201, 100: 162, 120: 125, 150: 100, 180: 82, 220: 68, 240: 58.5, 280: 52.2, 320: 46.2, 360: 40.5, 400: 35,
    500: 30.2, 600: 25.8, 800: 21.8, 1000: 18.3, 1200: 15.3, 1500: 12.6, 2000: 10.3,
}  # fmt: skip

# feed = rpm × flutes × chip load: 18 000 × 2 × 0.1 mm. The usual feed formula of machining handbooks.
FEED = (18000.0, 2, 0.1, 3600.0)


def sharp_corner(angle: float) -> list[tuple[float, float]]:
    """Return a large triangle with one corner of `angle` degrees at the origin; no cutter reaches the others."""
    a = math.radians(angle)
    return [(0.0, 0.0), (100.0, 0.0), (100.0 * math.cos(a), 100.0 * math.sin(a))]
