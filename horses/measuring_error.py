"""How far two measurings of an unchanged back differ, by the hand that measures.

No published figure for a flexible curve on a horse was found. Until the practice has its own, the
default is the difference at which a second tracing is taken again: two tracings less than this far
apart count as the same (assumption).
"""

DEFAULT_HALF_WIDTH_MM = 4.0  # at 150 mm below the midline
