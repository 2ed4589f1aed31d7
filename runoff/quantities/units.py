"""Every unit that users write, one table a kind: the spellings, and the exact size in SI.

The international foot is 0.3048 m, the US gallon 231 cubic inches, both exact by definition
(NIST Special Publication 811, appendix B).
"""

from __future__ import annotations

from fractions import Fraction

FOOT = Fraction(3048, 10000)
INCH = FOOT / 12
YARD = FOOT * 3
GALLON = 231 * INCH**3
LITRE = Fraction(1, 1000)
ACRE = 43560 * FOOT**2
MINUTE, HOUR, DAY = Fraction(60), Fraction(3600), Fraction(86400)


def _table(*rows: tuple[str, Fraction | int]) -> dict[str, Fraction]:
    return {name: Fraction(size) for names, size in rows for name in names.split()}


# Spellings are as `unit_key` leaves them: lower case, no spaces or full stops, "per" as "/".
LENGTHS = _table(
    ("ft ' foot feet", FOOT),
    ('in " inch inches ins', INCH),
    ("yd yds yard yards", YARD),
    ("m meter meters metre metres", 1),
    ("cm centimeter centimeters centimetre centimetres", Fraction(1, 100)),
    ("mm millimeter millimeters millimetre millimetres", Fraction(1, 1000)),
)
AREAS = _table(
    ("sqft ft2 sf sqfoot sqfeet", FOOT**2),
    ("sqin in2 sqinch sqinches", INCH**2),
    ("sqyd yd2 sqyard sqyards", YARD**2),
    ("acre acres ac", ACRE),
    ("m2 sqm sqmeter sqmeters sqmetre sqmetres", 1),
    ("cm2 sqcm", Fraction(1, 10**4)),
    ("mm2 sqmm", Fraction(1, 10**6)),
)
VOLUMES = _table(
    ("cuft ft3 cf cufoot cufeet", FOOT**3),
    ("cuin in3 cuinch cuinches", INCH**3),
    ("cuyd yd3 cuyard cuyards", YARD**3),
    ("gal gals gallon gallons usgal usgallon usgallons", GALLON),
    ("l liter liters litre litres", LITRE),
    ("m3 cum cumeter cumeters cumetre cumetres", 1),
)
FLOWS = _table(
    ("gpm gal/min gallon/minute gallons/minute", GALLON / MINUTE),
    ("gph gal/h gal/hr gallons/hour", GALLON / HOUR),
    ("cfs ft3/s cuft/s cuft/sec cufeet/second", FOOT**3),
    ("cfm ft3/min cuft/min", FOOT**3 / MINUTE),
    ("l/s lps liters/second litres/second", LITRE),
    ("l/min lpm liters/minute litres/minute", LITRE / MINUTE),
    ("l/h", LITRE / HOUR),
    ("m3/s", 1),
    ("m3/h", 1 / HOUR),
)
RATES = _table(
    ("in/h in/hr iph in/hour inch/hour inches/hour inches/h inches/hr", INCH / HOUR),
    ("in/min", INCH / MINUTE),
    ("in/day in/d", INCH / DAY),
    ("ft/s fps ft/sec ft/second feet/second", FOOT),
    ("ft/min", FOOT / MINUTE),
    ("ft/h ft/hr", FOOT / HOUR),
    ("ft/day ft/d feet/day", FOOT / DAY),
    ("mm/h mm/hr mm/hour", Fraction(1, 1000) / HOUR),
    ("mm/min", Fraction(1, 1000) / MINUTE),
    ("cm/h cm/hr", Fraction(1, 100) / HOUR),
    ("m/day m/d", 1 / DAY),
    ("m/h", 1 / HOUR),
    ("m/s", 1),
)
DURATIONS = _table(
    ("day days d", DAY),
    ("h hr hrs hour hours", HOUR),
    ("min mins minute minutes", MINUTE),
    ("s sec secs second seconds", 1),
)
RATIOS = _table(("% percent pct", Fraction(1, 100)))
SLOPES = RATIOS | _table(
    ("in/ft in/foot inch/foot inches/foot inch/ft inches/ft", Fraction(1, 12)),
    ("ft/ft m/m", 1),
    ("cm/m", Fraction(1, 100)),
    ("mm/m", Fraction(1, 1000)),
)
DEGREES = frozenset({"°", "deg", "degree", "degrees"})


def is_customary(size: Fraction) -> bool:
    """Tell whether a unit is built on the inch, whose size (127/5000 m) alone holds the prime 127.

    Examples
    --------
    >>> is_customary(GALLON), is_customary(LITRE)
    (True, False)
    """
    return size.numerator % 127 == 0


def unit_key(text: str) -> str:
    """Bring a written unit to the spelling of the tables.

    Examples
    --------
    >>> unit_key("Square Feet"), unit_key("in. per hr."), unit_key("m³")
    ('sqfeet', 'in/hr', 'm3')
    """
    words = text.lower().replace(".", "").replace("²", "2").replace("³", "3").replace("^", "")
    spelled = {"square": "sq", "cubic": "cu", "per": "/", "a": "/", "an": "/"}
    parts = words.replace("/", " / ").split()
    return "".join(
        spelled.get(part, part) if i or part not in ("a", "an") else part
        for i, part in enumerate(parts)
    )
