"""Hostile loggers' files: sound ones with bytes, cells, rows, times and encodings changed, and a few built ones."""

from __future__ import annotations

from random import Random

from tests.hostile import words

CASE = """
[case]
title = "two parts on a bench"
[room]
temperature = "21 degC"
[run]
duration = "10 min"
[part.a]
watts = "5 W"
heat_capacity = "30 J/K"
limit = "60 degC"
[part.b]
watts = "2 W"
heat_capacity = "60 J/K"
size = "100 x 100 mm"
[joint.ab]
between = ["part.a", "part.b"]
resistance = "2 K/W"
[film.f]
on = "part.b"
law = "fixed"
h = "50 W/m2K"
[uncertain.paste]
of = "joint.ab.resistance"
spread = "10 %"
[option.pasted]
set = { "joint.ab.resistance" = "0.5 K/W" }
[bench]
window = "2 min"
[bench.columns]
"A [°C]" = "part.a"
"B [°C]" = "part.b"
"Room 1 [°C]" = "room"
"Supply [W]" = "supply.watts"
"Event" = "event"
[bench.run.before]
file = "before.csv"
stands = "before"
[bench.run.after]
file = "after.csv"
stands = "after"
option = "pasted"
[leak]
volume = "0.2 L"
volume_uncertainty = "5 mL"
gauge_uncertainty = "10 Pa"
resolution = "1 Pa"
logs = ["leak.csv"]
[leak.columns]
"p [Pa]" = "pressure"
"T [°C]" = "temperature"
"""
COMMANDS = (("bench", "--no-model"), ("bench", "--no-model"), ("leak",), ("leak",), ("fit",))
READ = {"bench": "after.csv", "leak": "leak.csv", "fit": "after.csv"}  # the log that is hostile
CELLS = ("", "OL", "---", "nan", "inf", "1e400", "1,5", "1.234,5", "1'234", "−3", "22.5 °C", "70 °F", "12:00",
    "2026-03-01 10:00:00",
         "01.02.2026 10:00", "24:00:00", "-0:00:01", "9999-12-31T23:59:59Z", "0001-01-01 00:00:00",
         "99999999999999999999", "-1",
         "x", "True", "#N/A", '"', '""', "=cmd|'/C calc'!A0", "0x1F", "1_000", "٣", "½", " ", "\u00a0",
         "1e-320")  # fmt: skip
HEADERS = (
    "A [°C]",
    "B [K]",
    "A [parsec]",
    "T1",
    "",
    "A [°C",
    "°C",
    "A [°C] [°C]",
    "Time [min]",
    "Zeit",
    "Event",
    "Supply [W]",
)
ENCODINGS = ("utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252", "latin-1", "utf-7", "cp037")


def sound_log(random: Random, leak: bool = False, start: float = 0.0) -> list[list[str]]:
    """Rows of cells, headers first: a warm-up, or a pressure that falls."""
    if leak:
        rows = [["Time [s]", "p [Pa]", "T [°C]"]]
        return rows + [[f"{30 * k}", f"{250000 - 2 * k + random.random():.1f}", "21.0"] for k in range(60)]
    rows = [["Time [s]", "A [°C]", "B [°C]", "Room 1 [°C]", "Supply [W]", "Event"]]
    for k in range(80):
        grown = 1 - 2.718 ** (-k / 15)
        noise = [random.gauss(0.0, 0.05) for _ in range(3)]
        hot, cool = 21 + 25 * grown + noise[0] - start, 21 + 14 * grown + noise[1]
        rows.append([f"{10 * k}", f"{hot:.2f}", f"{cool:.2f}", f"{21 + noise[2]:.2f}", "7.0", ""])
    return rows


def text_of(rows: list[list[str]], delimiter: str = ",", end: str = "\n") -> str:
    """Rows as a logger writes them."""
    return end.join(delimiter.join(row) for row in rows) + end


def hostile_log(random: Random, leak: bool) -> bytes:
    """The bytes of a log."""
    rows = sound_log(random, leak)
    way = random.randrange(10)
    if way < 3:
        return words.noise(random, text_of(rows).encode())
    if way == 9:
        return _built(random, rows)
    for _ in range(random.choice((1, 1, 2, 5, 30))):
        _change(random, rows)
    text = text_of(
        rows, random.choice((",", ",", ",", ";", "\t", "|")), random.choice(("\n", "\n", "\r\n", "\r", "\n\n"))
    )
    if random.random() < 0.2:
        text = text.replace(".", ",")
    if random.random() < 0.2:
        text = random.choice(("# made by\n\n", "\ufeff", "x,y\n" * 400, '"', "sep=;\n")) + text
    encoding = random.choice(ENCODINGS) if random.random() < 0.25 else "utf-8"
    data = text.encode(encoding, "replace" if encoding not in ("utf-8", "utf-16") else "surrogatepass")
    return words.noise(random, data) if random.random() < 0.2 else data


def _change(random: Random, rows: list[list[str]]) -> None:
    at = random.randrange(len(rows))
    row = rows[at]
    way = random.randrange(9)
    if way < 3 and row:
        row[random.randrange(len(row))] = random.choice((*CELLS, *words.TEXTS[:60], words.number(random)))
    elif way == 3 and rows[0]:
        rows[0][random.randrange(len(rows[0]))] = random.choice((*HEADERS, *words.TEXTS[:60]))
    elif way == 4:
        rows[at] = row[: random.randrange(len(row) + 1)] + ["7"] * random.choice((0, 0, 1, 500))
    elif way == 5:
        rows.insert(random.randrange(len(rows)), list(row))
    elif way == 6:
        rows[at:] = reversed(rows[at:]) if random.random() < 0.3 else rows[at:]
    elif way == 7 and row:
        shift = random.choice((-1e4, 1e4, 1e12, 3600.0, -3600.0, 1e-9))
        for later in rows[max(at, 1) :]:
            later[:1] = [f"{float(later[0]) + shift:.9g}"] if later and later[0].isdecimal() else later[:1]
    elif row:
        number = random.randrange(len(row))
        for later in rows[1:]:
            later[number : number + 1] = [random.choice(CELLS)] if random.random() < 0.5 else ["9.9E37"]


def _built(random: Random, rows: list[list[str]]) -> bytes:
    """Logs that no mutation would come upon: very wide, very long, never closed."""
    way = random.randrange(9)
    if way == 0:  # a hundred thousand columns
        return text_of([row + [f"c{k}"] * random.choice((1000, 100_000)) for k, row in enumerate(rows[:5])]).encode()
    if way == 1:  # a line of ten megabytes
        return (text_of(rows) + "1," * 5_000_000 + "\n").encode()
    if way == 2:
        return (text_of(rows[:40]) + '"' + text_of(rows[40:]) * random.choice((1, 1000))).encode()
    if way == 3:
        return text_of(rows[:1] + rows[1:] * random.choice((10, 400))).encode()
    if way == 4:
        return b"\x00" * random.choice((10, 10_000_000))
    if way == 5:
        return text_of(rows).encode() + bytes(random.choice((1, 5_000_000)))
    if way == 6:
        return ("\n" * random.choice((100, 1_000_000)) + text_of(rows)).encode()
    if way == 7:
        return text_of([[f"H{k}{cell}" for k in range(300) for cell in rows[0]], *rows[1:]]).encode()
    return (text_of(rows[:1]) + "\n".join(f"{k}" + "," * k for k in range(3000))).encode()
