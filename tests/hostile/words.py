"""What is put where a case, a log or a result expects something else."""

from __future__ import annotations

from random import Random
from typing import Any

NUMBERS = (
    "0", "-0", "-1", "1", "1e-300", "-1e-300", "5e-324", "1e-12", "1e9", "1e12", "1e15", "1e100", "1e300", "1.8e308",
    "1e309", "-1e309", "nan", "inf", "-inf", "0x10", "1_000", "1,5", "1.5.2", "--1", "+", ".", "1e", "٣", "½",
    "9" * 400,
)  # fmt: skip
UNITS = (
    "mm", "m", "um", "km", "degC", "K", "W", "kW", "min", "s", "h", "d", "K/W", "W/mK", "J/K", "L/min", "m3/h", "kPa",
    "%",
    "rpm", "dB(A)", "mm, 3 mm", "x 30 mm", "", "parsec", "²", "W/(m² K)", "°C", "%%s", "{0}", "\x00",
)  # fmt: skip
TEXTS = (
    "", " ", "\t", "\n", "\x00", "\x1b[31mred\x1b[0m", "\x1b]0;title\x07", "\x9b31m", "\x7f", "\r", "\u202eevil",
    "\u2028",
    "\u200f", "\ufeff", "\ufffe", "a\u0300", "ﬀ", "İ", "名前", "😀", "../../x", "/etc/passwd", "..", ".", "con", "a/b",
    "a\\b",
    "a.b", '"', "'", '"""', "]]>", "</script><script>alert(1)</script>", "<img src=x onerror=alert(1)>", "{{ 7 * 7 }}",
    "{% raw %}", "[bold]x[/bold]", "[/]", "$\\frac{1}{0}$", "$x", "_x", "^", "%s%n", "{}", "{0.__class__}", "#", "=",
    "time", "base", "room", "part", "state", "x" * 300, "A" * 100_000, "0", "true", "none", "*", "?", "[a-z]", "-o",
    "--json",
)  # fmt: skip
FILES = ("/etc/passwd", "../../../etc/passwd", "/dev/zero", "/dev/random", "/dev/null", "/dev/tty", ".", "..", "/",
    "fifo",
         "/proc/self/mem", "/proc/kmsg", "/proc/self/environ", "nowhere.csv", "a\x00b", "x" * 5000, "case.toml",
         "loop.csv",
         "/dev/stdin", "~", "file:///etc/passwd", "http://127.0.0.1/")  # fmt: skip
BYTES = (b"\x00", b"\xff", b"\xfe\xff", b"\xff\xfe", b"\xef\xbb\xbf", b"\x1b[2J", b"\r", b"\n", b"\r\n", b'"', b"'",
    b"\\",
         b"\xc3", b"\xe2\x80\xae", b"\xed\xa0\x80", b"\x1a", b"[", b"]", b"{", b"}", b"=", b",", b";", b"\t", b".",
         b"#", b"1e999",
         b"nan", b"-")  # fmt: skip


def number(random: Random) -> str:
    """A number that is odd, too large, too small or none."""
    if random.random() < 0.3:
        return f"{random.choice(('', '-'))}{random.random() * 10 ** random.randint(-20, 20):.6g}"
    return random.choice(NUMBERS)


def quantity(random: Random) -> str:
    """A number with a unit, either of them odd."""
    return f"{number(random)} {random.choice(UNITS)}"


def value(random: Random, depth: int = 0) -> Any:
    """Something of any type."""
    kind = random.randrange(12)
    if kind < 3:
        return quantity(random)
    if kind < 5:
        return random.choice(TEXTS)
    if kind == 5:
        return random.choice(
            (0, -1, 1, 2**31, 2**63, -(2**64), 10**400, 1e308, 5e-324, float("nan"), float("inf"), True, False)
        )
    if kind == 6:
        return random.choice((1.5, 0.0, -0.0, 1e9, 10**9, 10**6))
    if kind == 7:
        return [value(random, depth + 1) for _ in range(random.choice((0, 1, 2, 3, 30)) if depth < 2 else 0)]
    if kind == 8:
        keys = [random.choice((*TEXTS, "corner", "size", "watts", "a")) for _ in range(random.choice((0, 1, 2)))]
        return {key: value(random, depth + 1) if depth < 2 else 1 for key in keys}
    if kind == 9:
        return random.choice(FILES)
    if kind == 10:
        return _deep(random.choice((5, 40, 150)), random.random() < 0.5)
    return random.choice(
        ("sheet.board", "part.nothing", "airway.main", "fan.pair", "room", "part.fpga", "loop.main", "plate.cold")
    )


def _deep(depth: int, tables: bool) -> Any:
    found: Any = 1
    for _ in range(depth):
        found = {"a": found} if tables else [found]
    return found


def below(random: Random, count: int) -> int:
    """A whole number from 0 to below `count`, which takes as much of the random numbers whatever `count` is."""
    return int(random.random() * count)


def noise(random: Random, data: bytes) -> bytes:
    """Bytes of a file cut, swapped, doubled, or with others put between."""
    for _ in range(random.choice((1, 1, 2, 5, 40))):
        at = below(random, len(data) + 1)
        other = min(len(data), at + random.choice((0, 1, 1, 2, 10, 100, 1000)))
        way = random.randrange(6)
        if way == 0:
            data = data[:at] + random.choice(BYTES) + data[at:]
        elif way == 1:
            data = data[:at] + data[other:]
        elif way == 2:
            data = data[:other] + data[at:other] * random.choice((1, 2, 50)) + data[other:]
        elif way == 3:
            data = data[:at] + bytes(random.randrange(256) for _ in range(min(other - at, 20))) + data[other:]
        elif way == 4:
            data = data[:at] + bytes([data[at] ^ 1 << random.randrange(8)]) + data[at + 1 :] if at < len(data) else data
        elif random.random() < 0.2:
            data = data[:at]
        data = data[:2_000_000]
    return data
