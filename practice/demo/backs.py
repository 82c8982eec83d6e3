"""What a measuring in the story holds, in the units in which it was taken."""

from dataclasses import dataclass

from practice.demo.curves import Section


@dataclass(frozen=True)
class Back:
    """One measuring: body in inches, hollows and rock in mm, sections in cm."""

    girth_in: float
    length_in: float
    condition: int
    s1: Section
    s3: Section
    s5: Section
    rock_mm: tuple[float, float]
    support_in: float
    height: str
    croup_in: float = 0.0
    muscle: int | None = None
    hollow_mm: tuple[float, float] | None = None
    groove_in: float | None = None


def uneven(left_3: float, left_15: float, right_3: float, right_15: float) -> Section:
    return Section((left_3, left_15), (right_3, right_15))


even = Section.even
