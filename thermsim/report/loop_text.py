"""A loop's book as plain text: the answer first, pressure and heat by element, the pump, filling, what to change."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from thermsim.report.text import closing, columns, number, opening, paragraphs
from thermsim.studies.words import percent, plain

Facts = dict[str, Any]
NONE_BIG = 0.5  # Pa, of a share of the drop that is not worth a figure


def loop_text(facts: Facts, width: int = 110) -> str:
    """The whole report; of several options a line each."""
    books = facts["books"]
    about = books[0]["option"] if facts["option"] else "loops"
    about += "" if books[0]["state"] is None else f", in state {books[0]['state']}"
    blocks = [opening(facts, width, about)]
    if len(books) > 1:
        blocks += [brief_lines(books), paragraphs(["the whole book of one: thermsim loop CASE -p OPTION"], width)]
    if facts["option"]:
        for book in books:
            blocks += book_blocks(book, width)
    return "\n\n".join("\n".join(block) for block in [*blocks, closing(facts, width)] if block)


def brief_lines(books: Sequence[Facts]) -> list[str]:
    """One line a loop."""
    rows = [["option", "loop", "L/min", "kPa", "of dead head", "tightest part on it", "margin K", "most head", "of it"]]
    for book in books:
        pump, standing = book["pump"], book["standing"]
        most = max(book["elements"], key=lambda row: row["share_of_head"] or 0.0)
        rows.append([
            book["option"], book["loop"], f"{pump['flow_l_per_min']:.2f}", number(pump["pressure_pa"] / 1e3),
            percent(pump["share_of_dead_head"]), plain(standing["tightest_part"] or "–"),
            number(standing["tightest_margin_k"]), most["element"], percent(most["share_of_head"]),
        ])  # fmt: skip
    return columns(rows, "  rrr r r")


def book_blocks(book: Facts, width: int) -> list[list[str]]:
    """All about one loop."""
    return [
        [f"loop {book['loop']}, {book['coolant']}, by element", *pressure_lines(book)],
        heat_lines(book),
        branch_lines(book),
        paragraphs(film_texts(book), width),
        paragraphs([liquid_text(book), pump_text(book["pump"]), *fill_texts(book["fill"]), *level_texts(book)], width),
        change_lines(book),
    ]


def pressure_lines(book: Facts) -> list[str]:
    """Where the head goes, kPa, with velocity and Reynolds number."""
    kinds = {"friction_pa": "friction", "fittings_pa": "bends, fittings", "bore_steps_pa": "bore steps",
             "measured_pa": "measured"}  # fmt: skip
    shown = [key for key in kinds if any(row[key] > NONE_BIG for row in book["elements"])]
    rows = [["", "kPa", "of head", *(kinds[key] for key in shown), "L/min", "m/s", "Re", ""]]
    for row in book["elements"]:
        shares = [number(row[key] / 1e3, 2) if row[key] > NONE_BIG else "" for key in shown]
        velocity = "" if row["velocity_m_per_s"] is None else f"{row['velocity_m_per_s']:.2f}"
        re = "" if row["reynolds"] is None else f"{row['reynolds']:.0f}"
        drop = f"{row['drop_pa'] / 1e3:.2f}"
        flow = f"{row['flow_l_per_min']:.2f}"
        share = percent(row["share_of_head"])
        rows.append([row["element"], drop, share, *shares, flow, velocity, re, row["regime"] or ""])
    total = [book["pump"]["pump"], f"{-book['pump']['pressure_pa'] / 1e3:.2f}"]
    rows.append([*total, *[""] * (len(rows[0]) - 2)])
    return columns(rows, " " + "r" * (len(shown) + 5))


def heat_lines(book: Facts) -> list[str]:
    """Temperatures, heat taken up, the rise by hand beside the model's, volume and delay."""
    rows = [["", "in °C", "out °C", "takes up W", "rise K", "by hand K", "holds mL", "passes in s"]]
    pump = book["pump"]
    rise = pump["outlet_degc"] - pump["inlet_degc"]
    rows.append([
        pump["pump"], f"{pump['inlet_degc']:.2f}", f"{pump['outlet_degc']:.2f}", number(pump["into_coolant_w"]),
        f"{rise:.2f}", "", "", "",
    ])  # fmt: skip
    for row in book["elements"]:
        hand = row["by_hand"]
        rows.append([
            row["element"], f"{row['inlet_degc']:.2f}", f"{row['outlet_degc']:.2f}", number(row["watts"] + 0.0),
            f"{row['outlet_degc'] - row['inlet_degc']:.2f}",
            "" if hand is None else f"{hand['rise_k']:.2f}{' !' if hand['flagged'] else ''}",
            number(row["volume_ml"]), number(row["delay_s"]),
        ])  # fmt: skip
    lines = columns(rows, " rrrrrrr")
    told = [f"{row['element']}: {row['by_hand']['sum']}" for row in book["elements"] if row["by_hand"]]
    return [*lines, *(f"by hand, {text}" for text in told)]


def branch_lines(book: Facts) -> list[str]:
    """How the flow parts, and what is left of it when a branch is airlocked."""
    rows = [["branches side by side", "L/min", "of flow", "of heat", "were it airlocked, loop L/min"]]
    for split in book["branches"]:
        for way in split["ways"]:
            rows.append([
                ", ".join(way["elements"]), f"{way['flow_l_per_min']:.2f}", percent(way["share_of_flow"]),
                percent(way["share_of_heat"]), f"{way['loop_flow_if_airlocked_l_per_min']:.2f}",
            ])  # fmt: skip
    if len(rows) == 1:
        return []
    return [*columns(rows, " rrrr"), "Air gathers in the highest branch: give each a bleed point at its top."]


def film_texts(book: Facts) -> list[str]:
    """The films in grooves, and how far their entry reaches."""
    told = []
    for row in book["elements"]:
        film = row["film"]
        if film is None:
            continue
        entry = "developing all along" if film["thermal_entry_m"] > film["channel_m"] else "developed further on"
        uniform = film["h_uniform_flux_w_per_m2k"]
        flux = "" if uniform is None or row["regime"] not in ("laminar", "near transition") else (
            f"; were it developed and the flux even, {uniform:.0f}"
        )  # fmt: skip
        told.append(
            f"film in {row['element']}: {film['h_w_per_m2k']:.0f} W/m²K ({film['correlation']}{flux}); the wall is "
            f"{film['wall_over_coolant_k']:.1f} K over its coolant; temperature profile {entry}: entry "
            f"{film['thermal_entry_m']:.2f} m of a groove of {film['channel_m']:.2f} m"
        )
    return told


def liquid_text(book: Facts) -> str:
    """The properties that the book was worked out with."""
    liquid = book["liquid"]
    return (
        f"{book['coolant']} at {book['mean_degc']:.1f} °C: {liquid['density_kg_per_m3']:.1f} kg/m³, "
        f"{liquid['cp_j_per_kgk']:.0f} J/kgK, {liquid['conductivity_w_per_mk']:.3f} W/mK, "
        f"{1e3 * liquid['viscosity_pa_s']:.3g} mPa·s"
    )


def pump_text(pump: Facts) -> str:
    """Power and what resistance does."""
    if pump["stated_flow"]:
        return f"{pump['pump']}: the flow is stated; at it the pump could give {pump['could_give_pa'] / 1e3:.1f} kPa"
    less, more = pump["at_resistance"]
    efficiency = "" if pump["efficiency"] is None else f", {percent(pump['efficiency'])} of it"
    drawn = f" of {pump['heat_w']:.1f} W drawn{efficiency}; all ends as heat in the coolant" if pump["heat_w"] else ""
    return (
        f"{pump['pump']}: {pump['hydraulic_w']:.2f} W into the stream{drawn}. Dead head "
        f"{pump['dead_head_pa'] / 1e3:.1f} kPa, free flow {pump['free_flow_l_per_min']:.2f} L/min; resistance 10 % "
        f"less gives {less['flow_l_per_min']:.2f} L/min, 10 % more {more['flow_l_per_min']:.2f}"
    )


def fill_texts(fill: Facts) -> list[str]:
    """What to pour in, what it grows to, how it is moved round."""
    mixed = ""
    if fill["glycol"]:
        mixed = f": {1e3 * fill['glycol_kg']:.0f} g of glycol and {1e3 * fill['water_kg']:.0f} g of water"
    told = [f"pour in {fill['volume_ml']:.0f} mL, {1e3 * fill['mass_kg']:.0f} g{mixed}, at {fill['fill_degc']:.0f} °C"]
    if fill["turn_over_s"] is not None:
        told.append(f"all of it goes round in {fill['turn_over_s']:.0f} s; the hoses delay it by "
                    f"{fill['hoses_delay_s']:.1f} s")  # fmt: skip
    cushion = fill["cushion"]
    if cushion["growth_ml"] is not None:
        text = (
            f"from {fill['fill_degc']:.0f} to {fill['hottest_degc']:.0f} °C it grows by {cushion['growth_ml']:.1f} mL"
        )
        text += f" ({100 * cushion['growth_share']:.2f} %)"
        if cushion["hot_pa"] is not None and not cushion["vented"]:
            text += (
                f"; {cushion['gas_ml']:.0f} mL of gas then stand at {cushion['hot_pa'] / 1e3:.0f} kPa over the air, "
                f"{cushion['with_pump_pa'] / 1e3:.0f} with the pump's dead head"
            )
            text += "" if cushion["rating_pa"] is None else f", rated {cushion['rating_pa'] / 1e3:.0f}"
            text += "; gas under pressure dissolves in weeks, so look after it"
        told.append(text)
    freezes = f"{fill['freezing_degc']:.1f} °C{' (tables of glycol differ by up to 3 K)' if fill['glycol'] else ''}"
    told.append(f"it freezes at {freezes}; the coldest it gets is {fill['coldest_degc']:.1f} °C")
    return told


def level_texts(book: Facts) -> list[str]:
    """How long the level lasts, and what the coolant touches."""
    level, metals = book["fill"]["level"], book["materials"]["metals"]
    told = []
    if level is None:
        told.append("how long the level lasts cannot be told: no hose states its permeation")
    elif level["reserve_ml"] > 0:
        told.append(
            f"hoses lose {level['ml_per_month']:.1f} mL of water a month: {level['reserve_ml']:.0f} mL of reserve last "
            f"{level['years']:.1f} years; the coolant is then {percent(level['fraction_then'])} glycol"
            + (f" (no permeation stated: {', '.join(level['without'])})" if level["without"] else "")
        )
    told.append(
        f"the coolant touches {', '.join(metals)}" if metals
        else "what the coolant touches is not stated (wetted), so its mix is not judged"
    )  # fmt: skip
    return told


def change_lines(book: Facts) -> list[str]:
    """What each change alone would do."""
    if not book["changes"]:
        return []
    rows = [["one change alone", "L/min", "tightest part gains K", "tightest is then"]]
    rows += [
        [row["what"], f"{row['flow_l_per_min']:.2f}", f"{row['gain_k']:+.2f}", plain(row["decisive_part"])]
        for row in book["changes"]
    ]
    return columns(rows, " rr")
