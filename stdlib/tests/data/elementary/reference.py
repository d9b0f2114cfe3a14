"""Makes lreal.txt and real.txt: reference values of the elementary functions of IEC 61131-3:2013, Tables 28 and 29.

    python reference.py [random arguments for each function, default 220] [folder to write to]

Needs mpmath (PyPI). Every value is computed with 400 bits or more (120 digits) and rounded once, by integer
arithmetic, to the nearest binary64 or binary32, ties to even. A third number says how far the true value lies from
the rounded one, so that a test can measure errors in thousandths of a unit in the last place.

Results for zeros, infinities and values outside the domain are those of ISO/IEC 9899 (C), Annex F, as the `math`
module of Python gives them; a domain error is NaN, a pole an infinity. ATAN2, and EXPT with its exponent, have two
arguments.
"""

import math
import random
import struct
import sys
from datetime import date
from pathlib import Path

import mpmath
from mpmath import mp, mpf

mp.prec = 400


class Format:
    """A binary interchange format of IEEE 754."""

    def __init__(self, bits, fraction, code, integer):
        self.bits, self.fraction, self.code, self.integer = bits, fraction, code, integer
        self.least = -(1 << (bits - fraction - 2)) + 2 - fraction  # exponent of the least subnormal
        self.greatest = (1 << (bits - fraction - 2)) - fraction  # exponent of an ulp just beyond the greatest
        self.infinity = ((1 << (bits - 1 - fraction)) - 1) << fraction
        self.sign = 1 << (bits - 1)
        self.nan = self.infinity | 1 << (fraction - 1)

    def value(self, pattern):
        return struct.unpack(self.code, struct.pack(self.integer, pattern))[0]

    def pattern(self, value):
        """The pattern of the nearest value of the format."""
        if math.isnan(value):
            return self.nan
        if math.isinf(value) or value == 0.0:
            sign = self.sign if math.copysign(1.0, value) < 0 else 0
            return sign | (self.infinity if value else 0)
        return self.rounded(mpf(value))[0]

    def rounded(self, exact):
        """The pattern nearest to a number, and how many thousandths of a unit the number lies above it (in size)."""
        sign, mantissa, exponent, _ = exact._mpf_
        mantissa, exponent = int(mantissa), int(exponent)
        if mantissa == 0:
            return (0, 0)
        # The unit in the last place has the exponent `unit`.
        unit = max(mantissa.bit_length() + exponent - self.fraction - 1, self.least)
        shift = unit - exponent
        if shift <= 0:
            units, rest, whole = mantissa << -shift, 0, 1
        elif shift > mantissa.bit_length() + 20:
            units, rest, whole = 0, 0, 1
        else:
            whole = 1 << shift
            units, rest = mantissa >> shift, mantissa & (whole - 1)
        if 2 * rest > whole or (2 * rest == whole and units & 1):
            units += 1
            rest -= whole
        thousandths = (2000 * rest + whole) // (2 * whole)
        # A carry out of the fraction runs into the exponent as it should.
        pattern = units + ((unit - self.least) << self.fraction)
        if pattern >= self.infinity:
            pattern, thousandths = self.infinity, 0
        return (pattern | (self.sign if sign else 0), thousandths)


LREAL = Format(64, 52, ">d", ">Q")
REAL = Format(32, 23, ">f", ">I")

EXACT = {
    "SQRT": mpmath.sqrt, "LN": mpmath.log, "LOG": mpmath.log10, "EXP": mpmath.exp, "SIN": mpmath.sin,
    "COS": mpmath.cos, "TAN": mpmath.tan, "ASIN": mpmath.asin, "ACOS": mpmath.acos, "ATAN": mpmath.atan,
    "ATAN2": mpmath.atan2, "EXPT": mpmath.power,
}
SPECIAL = {
    "SQRT": math.sqrt, "LN": math.log, "LOG": math.log10, "EXP": math.exp, "SIN": math.sin, "COS": math.cos,
    "TAN": math.tan, "ASIN": math.asin, "ACOS": math.acos, "ATAN": math.atan, "ATAN2": math.atan2, "EXPT": math.pow,
}


def special(name, arguments):
    """The result by Annex F where an argument is a zero, an infinity, a NaN, or outside the domain; None elsewhere."""
    first, last = arguments[0], arguments[-1]
    plain = all(math.isfinite(argument) and argument != 0.0 for argument in arguments)
    if plain and not (
        (name in ("SQRT", "LN", "LOG") and first < 0.0)
        or (name in ("ASIN", "ACOS") and abs(first) > 1.0)
        or (name == "EXPT" and first < 0.0 and not last.is_integer())
        or first == 1.0 and name in ("LN", "LOG", "ACOS", "EXPT")
    ):
        return None
    if name == "ACOS" and first == 0.0 or name == "ATAN2" and plain is False and not any(map(math.isnan, arguments)):
        return None if name == "ACOS" else angle(*arguments)
    if name == "ATAN" and math.isinf(first):
        return mpf(math.copysign(1.0, first)) * mp.pi / 2
    try:
        return SPECIAL[name](*arguments)
    except (ValueError, OverflowError):
        if name in ("LN", "LOG") and first == 0.0:
            return -math.inf
        if name == "EXPT" and first == 0.0 and last < 0.0:
            odd = last.is_integer() and int(last) % 2 == 1
            return math.copysign(math.inf, first) if odd else math.inf
        return math.nan


def angle(y, x):
    """ATAN2 with a zero or an infinity, by Annex F.10.1.4, with pi to all digits."""
    if math.isinf(y):
        turn = mp.pi / 2 if math.isfinite(x) else (mp.pi / 4 if x > 0 else 3 * mp.pi / 4)
    elif math.isinf(x) or y == 0.0:
        turn = mpf(0) if math.copysign(1.0, x) > 0 else +mp.pi
    else:
        turn = mp.pi / 2
    if turn == 0:
        return math.copysign(0.0, y)
    return -turn if math.copysign(1.0, y) < 0 else turn


def result(name, arguments, form):
    """Pattern and thousandths."""
    value = special(name, arguments)
    if value is None:
        exact = [mpf(argument) for argument in arguments]
        # Multiples of half pi leave few digits; more of them cost little.
        with mp.workprec(400 + 2 * max(0, math.frexp(arguments[0])[1])):
            value = EXACT[name](*exact)
            if name == "ACOS" and arguments[0] == 0.0:
                value = mp.pi / 2
            assert not isinstance(value, mpmath.mpc), (name, arguments)
            pattern = form.rounded(value)
        if value == 0:
            return (0, 0)
        return pattern
    if isinstance(value, mpf):
        return form.rounded(value)
    return (form.pattern(value), 0)


def around(form, value, steps=2):
    """A value of the format and its neighbours."""
    middle = form.pattern(value)
    for step in range(-steps, steps + 1):
        if 0 <= (middle & ~form.sign) + step <= form.infinity:
            yield middle + step


def signed(form, patterns):
    for pattern in patterns:
        yield pattern
        yield pattern ^ form.sign


def common(form):
    """Arguments that every function is asked for: special values, the ends of the range, powers of two."""
    one = form.pattern(1.0)
    least_normal = 1 << form.fraction
    plain = [0, 1, 2, 3, least_normal - 1, least_normal, least_normal + 1, form.infinity - 1, form.infinity]
    plain += [one - 2, one - 1, one, one + 1, one + 2, form.pattern(0.5), form.pattern(2.0), form.pattern(10.0)]
    step = max(1, (form.infinity >> form.fraction) // 24)
    plain += [exponent << form.fraction for exponent in range(1, form.infinity >> form.fraction, step)]
    yield from signed(form, plain)
    yield form.nan


def random_pattern(source, form):
    """A value of any exponent, of either sign."""
    return source.getrandbits(form.bits - 1) % form.infinity | source.getrandbits(1) << (form.bits - 1)


def between(source, form, low, high):
    return form.pattern(source.uniform(low, high))


def scaled(source, form, low, high):
    """A value whose binary exponent is even between two bounds, of either sign."""
    value = math.ldexp(source.uniform(1.0, 2.0), source.randint(low, high))
    return form.pattern(source.choice((-1.0, 1.0)) * value)


def quarter_turns(source, form, count):
    """Values next to multiples of pi/4, up to 1E22."""
    numbers = list(range(1, 17)) + [10 ** power for power in range(2, 23)]
    numbers += [int(10 ** source.uniform(1, 22)) for _ in range(count)]
    for number in numbers:
        with mp.workprec(600):
            yield form.rounded(mp.pi / 4 * number)[0]


def unary(name, form, source, count):
    """Arguments of a function of one number."""
    if name in ("SIN", "COS", "TAN"):
        turns = list(quarter_turns(source, form, count // 2))
        yield from turns
        yield from (pattern + source.choice((-1, 1)) for pattern in turns[: count // 4])
        # The binary64 number next to a multiple of half pi that is hardest to reduce (J.-M. Muller, Elementary
        # Functions, 2nd edition, 10.1), and 1E22, whose sine many libraries get wrong (K. C. Ng, 1992).
        for value in (math.ldexp(6381956970095103.0, 797), 1e22):
            if value <= form.value(form.infinity - 1):
                yield form.pattern(value)
        for _ in range(count):
            yield between(source, form, -8.0, 8.0)
            yield scaled(source, form, -40, 80)
    elif name == "EXP":
        limits = [-math.log(2.0) * 1075, -math.log(2.0) * 1022, math.log(2.0) * 1024]
        limits += [-math.log(2.0) * 150, -math.log(2.0) * 126, math.log(2.0) * 128]
        for limit in limits:
            yield from around(form, limit, 4)
        for number in range(1, 40):
            yield form.pattern(math.log(2.0) / 2 * number)
            yield form.pattern(-math.log(2.0) / 2 * number)
        for _ in range(count):
            yield between(source, form, -10.0, 10.0)
            yield between(source, form, -750.0, 710.0) if form is LREAL else between(source, form, -105.0, 89.0)
            yield scaled(source, form, -60, 3)
    elif name in ("LN", "LOG"):
        # Of powers of ten, binary32 has eleven exactly and binary64 has twenty-three.
        for power in range(-20, 39):
            yield from around(form, 10.0**power, 1)
        for power in range(1, form.fraction + 1):
            yield form.pattern(1.0 + 2.0**-power)
            yield form.pattern(1.0 - 2.0**-power)
        for _ in range(count):
            yield between(source, form, 0.5, 2.0)
            yield form.pattern(1.0 + source.choice((-1, 1)) * 2.0 ** source.uniform(-form.fraction, -1))
            yield random_pattern(source, form) & ~form.sign
            yield source.randrange(1 << form.fraction)
    elif name in ("ASIN", "ACOS"):
        for power in range(1, form.fraction + 1):
            yield from signed(form, [form.pattern(1.0 - 2.0**-power)])
        yield from signed(form, around(form, math.sqrt(0.5)))
        yield from signed(form, around(form, 0.975))
        for _ in range(count):
            yield between(source, form, -1.0, 1.0)
            yield form.pattern(source.choice((-1, 1)) * (1.0 - 2.0 ** source.uniform(-form.fraction, -1)))
            yield scaled(source, form, -60, -1)
    elif name == "ATAN":
        for border in (7 / 16, 11 / 16, 19 / 16, 39 / 16):
            yield from signed(form, around(form, border))
        for _ in range(count):
            yield between(source, form, -4.0, 4.0)
            yield scaled(source, form, -60, 66)
    for _ in range(count if name == "SQRT" else count // 2):
        yield random_pattern(source, form)
        yield source.randrange(1 << form.fraction)


def binary(name, form, source, count):
    """Pairs of arguments of a function of two numbers."""
    zeros_and_ends = list(signed(form, [0, 1, form.pattern(1.0), form.pattern(2.5), form.infinity - 1, form.infinity]))
    zeros_and_ends.append(form.nan)
    for first in zeros_and_ends:
        for second in zeros_and_ends:
            yield (first, second)
    if name == "ATAN2":
        for _ in range(count):
            yield (random_pattern(source, form), random_pattern(source, form))
            yield (scaled(source, form, -4, 4), scaled(source, form, -4, 4))
            yield (between(source, form, -2.0, 2.0), between(source, form, -2.0, 2.0))
            both = scaled(source, form, -100, 100)
            yield (both + source.randint(-3, 3), both ^ (source.getrandbits(1) << (form.bits - 1)))
            yield (scaled(source, form, -50, 0), scaled(source, form, -10, 40))
            yield (source.randrange(1 << form.fraction), source.randrange(1 << form.fraction))
        return
    top = 1024 if form is LREAL else 128
    bottom = 1074 if form is LREAL else 149
    for _ in range(count):
        yield (between(source, form, 0.0, 20.0), between(source, form, -20.0, 20.0))
        yield (form.pattern(float(source.randint(-12, 12))), form.pattern(float(source.randint(-30, 30))))
        yield (form.pattern(source.randint(1, 400) / 4), form.pattern(source.randint(-40, 40) / 2))
        # Results of every size: the exponent is what takes the base there.
        base = form.value(random_pattern(source, form) & ~form.sign)
        if base not in (0.0, 1.0):
            yield (form.pattern(base), form.pattern(source.uniform(-bottom, top) / math.log2(base)))
        # A base next to 1 and a large exponent.
        near = form.value(form.pattern(1.0 + source.choice((-1, 1)) * 2.0 ** source.uniform(-form.fraction, -2)))
        if near != 1.0:
            yield (form.pattern(near), form.pattern(source.uniform(-bottom, top) / math.log2(near)))
        # Results next to the ends of the range.
        base = source.uniform(1.5, 50.0)
        end = source.choice((-bottom - 1, -bottom + 3, -bottom + 40, top - 1, top))
        yield (form.pattern(base), form.pattern((end + source.uniform(-1, 1)) / math.log2(form.value(form.pattern(base)))))
        yield (random_pattern(source, form), random_pattern(source, form))


def lines(form, count):
    digits = form.bits // 4
    for name in EXACT:
        source = random.Random(f"{name} {form.bits}")
        if name in ("ATAN2", "EXPT"):
            arguments = list(binary(name, form, source, count // 3))
        else:
            arguments = [(pattern,) for pattern in [*common(form), *unary(name, form, source, count // 2)]]
        yield f"[{name}]"
        for patterns in sorted(set(arguments)):
            values = [form.value(pattern) for pattern in patterns]
            # Every NaN argument is the same one.
            patterns = [form.nan if math.isnan(value) else pattern for value, pattern in zip(values, patterns)]
            wanted, thousandths = result(name, values, form)
            yield " ".join([*(f"{pattern:0{digits}x}" for pattern in [*patterns, wanted]), str(thousandths)])


def main():
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 220
    folder = Path(sys.argv[2]) if len(sys.argv) > 2 else Path(__file__).parent
    for form, name in ((LREAL, "lreal"), (REAL, "real")):
        head = [
            f"# Reference values of the elementary functions in {name.upper()}, made by reference.py beside this file",
            f"# on {date.today()}: mpmath {mpmath.__version__}, 400 bits (120 digits) or more, rounded once to nearest, ties to even.",
            "#",
            "# Below the name of a function: its arguments and its result as bit patterns of IEEE 754 in base 16, then how",
            "# far the true value lies above the result (in size), in thousandths of a unit in the last place of it.",
        ]
        (folder / f"{name}.txt").write_text("\n".join([*head, *lines(form, count)]) + "\n")


main()
