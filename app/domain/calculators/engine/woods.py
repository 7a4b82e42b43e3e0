"""Woods a school shop meets: specific gravity, shrinkage and dimensional change coefficients.

Source: USDA Forest Products Laboratory, Wood Handbook, FPL-GTR-190 (2010): specific gravity
(ovendry mass, volume at 12 % moisture content) Table 5-3, shrinkage from green to ovendry
Tables 4-3 and 4-4, dimensional change coefficients (6 to 14 % moisture content) Table 13-5.
Figures marked `recalled` come from memory of those tables and were not read again.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Wood:
    """One species. Shrinkage in per cent, coefficients per 1 % of moisture content."""

    key: str
    title: str
    specific_gravity: float | None
    shrinkage_radial: float
    shrinkage_tangential: float
    shrinkage_volumetric: float
    change_radial: float
    change_tangential: float
    recalled: str = ""


WOODS = (
    Wood("alder-red", "Red alder", 0.41, 4.4, 7.3, 12.6, 0.00151, 0.00256),
    Wood("ash-white", "White ash", 0.60, 4.9, 7.8, 13.3, 0.00169, 0.00274),
    Wood("aspen-quaking", "Quaking aspen", 0.38, 3.5, 6.7, 11.5, 0.00119, 0.00234),
    Wood("basswood", "American basswood", 0.37, 6.6, 9.3, 15.8, 0.00230, 0.00330),
    Wood("beech-american", "American beech", 0.64, 5.5, 11.9, 17.2, 0.00190, 0.00431),
    Wood("birch-paper", "Paper birch", 0.55, 6.3, 8.6, 16.2, 0.00219, 0.00304),
    Wood("birch-yellow", "Yellow birch", 0.62, 7.3, 9.5, 16.8, 0.00256, 0.00338),
    Wood("butternut", "Butternut", 0.38, 3.4, 6.4, 10.6, 0.00116, 0.00223),
    Wood(
        "cedar-western-red",
        "Western redcedar",
        0.32,
        2.4,
        5.0,
        6.8,
        0.00111,
        0.00234,
        "specific gravity and coefficients",
    ),
    Wood("cherry-black", "Black cherry", 0.50, 3.7, 7.1, 11.5, 0.00126, 0.00248),
    Wood("mahogany", "Mahogany (Swietenia)", None, 3.0, 4.1, 7.8, 0.00172, 0.00238, "coefficients"),
    Wood("maple-bigleaf", "Bigleaf maple", 0.48, 3.7, 7.1, 11.6, 0.00126, 0.00248, "shrinkage"),
    Wood("maple-red", "Red maple", 0.54, 4.0, 8.2, 12.6, 0.00137, 0.00289, "shrinkage"),
    Wood("maple-sugar", "Sugar maple (hard maple)", 0.63, 4.8, 9.9, 14.7, 0.00165, 0.00353),
    Wood(
        "oak-northern-red",
        "Northern red oak",
        0.63,
        4.0,
        8.6,
        13.7,
        0.00158,
        0.00369,
        "specific gravity and shrinkage",
    ),
    Wood("oak-white", "White oak", 0.68, 5.6, 10.5, 16.3, 0.00180, 0.00365, "specific gravity"),
    Wood("pine-eastern-white", "Eastern white pine", 0.35, 2.1, 6.1, 8.2, 0.00071, 0.00212, "all"),
    Wood("spruce-engelmann", "Engelmann spruce", 0.35, 3.8, 7.1, 11.0, 0.00130, 0.00248, "all"),
    Wood(
        "spruce-sitka",
        "Sitka spruce",
        0.40,
        4.3,
        7.5,
        11.5,
        0.00148,
        0.00263,
        "shrinkage and coefficients",
    ),
    Wood("sweetgum", "Sweetgum", 0.52, 5.3, 10.2, 15.8, 0.00183, 0.00365, "specific gravity"),
    Wood(
        "sycamore", "American sycamore", 0.49, 5.0, 8.4, 14.1, 0.00172, 0.00296, "specific gravity"
    ),
    Wood("walnut-black", "Black walnut", 0.55, 5.5, 7.8, 12.8, 0.00190, 0.00274),
    Wood("yellow-poplar", "Yellow-poplar", 0.42, 4.6, 8.2, 12.7, 0.00158, 0.00289, "coefficients"),
)
BY_KEY = {wood.key: wood for wood in WOODS}
