"""What each check is, its formula and its source; the ids are in the names of the tests.

Words after a source: read, abstract, memory (not verified), derived (worked out in the docstring
of `fitting.engine.reference`, `reference_beams` or `reference_loads`).
"""

from __future__ import annotations

from dataclasses import dataclass

ROARK = "Roark's Formulas for Stress and Strain, short prisms, no tension [memory]"
BELLOS = "Bellos & Bakas, Int. J. Geomech. 2017, doi 10.1061/(ASCE)GM.1943-5622.0000874 [abstract]"
IRLES = "Irles & Irles, J. Geotech. Eng. 1994 [abstract]"
OZMEN = "Ozmen, Teknik Dergi 22(4), 2011, 5659-5674 [abstract]"
JOHNSON = (
    "K. L. Johnson, Contact Mechanics, Cambridge 1985, sec. 4.3 [book read of, equations memory]"
)
HETENYI = "M. Hetenyi, Beams on Elastic Foundation, Univ. of Michigan Press 1946"
DERIVED = "derived; confirmed by quadratic programming on the same cells"


@dataclass(frozen=True)
class Check:
    """One check: its id, what it is about, the formula, where that is from, a picture's name."""

    id: str
    title: str
    formula: str
    source: str
    picture: str = ""

    @property
    def order(self) -> str:
        """Sort by the number in the id, others after."""
        number = "".join(c for c in self.id[1:] if c.isdigit())
        is_numbered = self.id[0] == "C" and number
        return f"C{int(number):02d}{self.id}" if is_numbered else f"Z{self.id}"


def _table(*rows: tuple[str, ...]) -> dict[str, Check]:
    return {row[0]: Check(*row) for row in rows}


CHECKS = _table(
    (
        "C1",
        "flat bar, load inside the kern",
        "q = P/(LW) (1 ± 6e/L)",
        f"{ROARK}; {IRLES}",
    ),
    (
        "C2",
        "flat bar, load outside the kern",
        "q = 2P/(3W(L/2 - e)) over a length 3(L/2 - e)",
        f"{ROARK}; {IRLES}",
    ),
    (
        "C3",
        "flat bar, load off both axes: pentagon",
        "p = max(0, a + bx + cy), integrated over its polygon",
        f"{BELLOS}; {IRLES}; {OZMEN}",
    ),
    (
        "C3b",
        "load off both axes: trapezoid",
        "s = √(1 - 12kx²); peak/mean = (2 - s)(1 + 6kx + s)/(3(1/2 - ky))",
        f"{BELLOS}; formula as coded in eykaraduman/RectFootingBiaxialBending [read]",
    ),
    (
        "C3c",
        "load off both axes: printed examples",
        "as C3b",
        "worked examples of the same repository, data/Test.txt [read]",
    ),
    (
        "C4",
        "load off both axes: corner triangle",
        "q = 3P/(8 cx cy), legs 4cx and 4cy",
        BELLOS,
    ),
    (
        "C5",
        "bowl on a linear layer",
        "P = πk√(RxRy) d²; a² = 2Rx d; b² = 2Ry d",
        JOHNSON,
    ),
    (
        "C6",
        "rocking bar, load in the middle",
        "a = (3PR/2K)^(1/3); d = a²/2R; q = kd",
        f"{JOHNSON}; {DERIVED}",
        "c6",
    ),
    (
        "C7",
        "rocking bar, load off the middle",
        "rock angle e/R; patch e ± a",
        DERIVED,
        "c7",
    ),
    (
        "C8",
        "rocking bar, clipped at one end",
        "P = K/2R [a²t - t³/3]; M = cP + K/2R [a²t²/2 - t⁴/4]",
        DERIVED,
        "c8",
    ),
    (
        "C9",
        "rocking bar, in contact all along",
        "angle 12Pe/(KL³); d = P/(KL) + L²/(24R)",
        DERIVED,
        "c9",
    ),
    (
        "C10",
        "bridging bar, load in the middle",
        "P = K/3R (h - c)²(h + 2c), h = L/2; gap c²/2R",
        DERIVED,
        "c10",
    ),
    (
        "C11",
        "bridging bar, load off the middle",
        "end pressures k(v² - c²)/2R with v = h ∓ xc",
        DERIVED,
        "c11",
    ),
    (
        "C12",
        "layers in series",
        "1/k = 1/k1 + 1/k2; u = p/k + us ln(1 + p/ps), inverted by Wright's omega",
        "springs in series, elementary; inverse derived; scipy.optimize.brentq",
    ),
    (
        "C13",
        "bowl on any layer",
        "P = 2π√(RxRy) ∫p du",
        "derived, elliptic coordinates",
    ),
    (
        "C14",
        "rocking bar on a stiffening pad",
        "P = W ps [exp(d/us) √(2πR us) erf(√(d/us)) - 2√(2Rd)]",
        "derived",
    ),
    (
        "C15",
        "two bars inclined like a roof",
        "d = P/(2kA cos²b); roll stiffness 2kA(q0² + W²/12)",
        "statics, derived",
    ),
    (
        "C15s",
        "roll axis that resists with little",
        "roll stiffness 2kA W²/12 about the crossing of the normals",
        "statics, derived",
    ),
    (
        "C16",
        "bar that bends, load in the middle",
        "w = (Pλ/2K)(cosh λL + cos λL + 2)/(sinh λL + sin λL)",
        f"{HETENYI}, ch. IV [section read, this case memory]",
        "c16",
    ),
    (
        "C17",
        "bar that bends, loads at both ends",
        "w = (2Pλ/K)(cosh λL + cos λL)/(sinh λL + sin λL)",
        f"{HETENYI}, sec. 19a, eqs 37a-37c [read]",
        "c17",
    ),
    (
        "C17i",
        "endless bar that bends",
        "w = Pλ/2K; M = P/4λ",
        f"{HETENYI}, ch. II [memory]",
    ),
    (
        "C18",
        "bar that bends, ends lift",
        "contact π/λ whatever the load; w = (Pλ/2K) coth(π/2)",
        f"{HETENYI}, from eq. 37a; Weitsman 1970, J. Appl. Mech. 37 [memory]; Tsai & Westmann 1967 "
        "[memory]",
        "c18",
    ),
    (
        "C19",
        "bar that bends, middle lifts",
        "w''(0) = 0, EIw'''(0) = P, w(c) = 0, w'''(c) = 0, w'(c) + w''(c)(L/2 - c) = 0",
        "Lovcov 2025, Engineering Journal of Don no. 10 [abstract]; derived",
        "c19",
    ),
    (
        "C19w",
        "heavy endless bar, first lift",
        "P = 2q e^π/λ at λx = π",
        f"superposition on {HETENYI}, endless beam",
    ),
    (
        "C20",
        "measuring error by simulation",
        "std: σ/√N heave, σ/√(N⟨x²⟩) pitch, σ/√(N⟨y²⟩) roll",
        "linear propagation; method JCGM 101:2008 [memory]",
    ),
    (
        "C21",
        "rope on the horn",
        "N = P + T sin a; place (x0P + xhT sin a + zhT cos a)/N",
        "statics",
    ),
    ("C21g", "girth straps", "2T cos g down, sideways parts cancel", "statics"),
    (
        "C22",
        "what holds for any shape",
        "∑pB dA = f; mirror; doubling; order of cells",
        "symmetry and statics",
    ),
    (
        "C22r",
        "reciprocity in full contact",
        "sinking at A by a load at B = at B by the same at A",
        "Maxwell and Betti",
    ),
    (
        "C23",
        "modulus of a thin layer",
        "k = (1 - ν)E/((1 + ν)(1 - 2ν)t); E/((1 - ν²)t); E/t",
        f"{JOHNSON}; limits: Chandler & Vella 2020, arXiv 2010.11133 [abstract]",
    ),
    (
        "C25",
        "the whole tree in balance, in every load case",
        "∑ r × F of load and pressures about the axis = 0; ∑ down = weights + 2T cos g",
        "statics; rotations by scipy.spatial.transform",
    ),
    (
        "C26",
        "a rider on a tree that leans",
        "stability left 1 - H/R; on a plane falling by a: pitch a/(1 - PH/K), lever H sin(pitch)",
        "statics, derived",
    ),
    (
        "C24",
        "two bars, any gap: independent optimum",
        "min ½∑k dA s² - f·q, s ≥ u0 + Bq, s ≥ 0",
        "Clarabel and OSQP, general quadratic programmers",
    ),
)
