"""The page in a real browser: nothing complains, nothing is asked for, and what moves moves."""

import json
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from case_with_a_loop import CASE
from headless import CHROMIUM, Browser, browser
from studied import mishap_facts, place_facts

from thermsim.bench.leak.study import leak
from thermsim.bench.paired.study import bench
from thermsim.case import Case, load_case
from thermsim.report.page.write import write_page
from thermsim.store.result import Result
from thermsim.studies.loop.study import loop_study

pytestmark = [pytest.mark.slow, pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed")]
SIX_MB = 6_000_000
DEMO = Path(__file__).parents[2] / "cases" / "digitiser"
OPEN = "document.querySelectorAll('details[open]:not(.machinery)').length"
PIXELS = "document.querySelectorAll('#views canvas')[0].toDataURL()"
DRAWN = "[...document.querySelectorAll('#views canvas')].every(c => c.hidden || c.style.aspectRatio)"


@pytest.fixture(scope="module")
def place() -> dict[str, Any]:
    return place_facts()


@pytest.fixture(scope="module")
def page(results: dict[str, Result], place: dict[str, Any], tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("page")
    loop = loop_study(Case.from_text(CASE), folder)
    loop["books"] += [book | {"option": "again"} for book in loop["books"]]  # of which all but the first are folded
    logs = {"leak": leak(load_case(DEMO), folder), "bench": bench(load_case(DEMO), folder, model=False)}
    studies = {"place": place, "mishap": mishap_facts(), "loop": loop, **logs}
    return write_page(folder / "page.html", "A board in a box", results, studies)


@pytest.fixture(scope="module")
def tab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with browser(tmp_path_factory.mktemp("profile")) as one:
        yield one


@pytest.fixture
def desk(tab: Browser, page: Path) -> Iterator[Browser]:
    """The page on a desktop; afterwards nothing may have complained or been asked for."""
    tab.load(page)
    tab.until(DRAWN)
    yield tab
    assert tab.errors == []
    assert tab.requests == [page.as_uri()]


def readout(tab: Browser) -> dict[str, str]:
    """What stands at the chosen position of the placement map."""
    found: dict[str, str] = tab.run(
        "Object.fromEntries([...document.querySelectorAll('#place-readout dt')]"
        ".map(dt => [dt.textContent, dt.nextSibling.textContent]))"
    )
    return found


def test_it_opens_at_once_and_small(desk: Browser, page: Path) -> None:
    timing = desk.run("performance.getEntriesByType('navigation')[0].loadEventEnd")
    print(f"{page.stat().st_size / 1e6:.2f} MB, open after {timing:.0f} ms")
    assert page.stat().st_size < SIX_MB
    assert desk.run("performance.getEntriesByType('resource').length") == 0


def test_nothing_can_be_fetched(tab: Browser, page: Path) -> None:
    tab.load(page)
    assert tab.run("fetch('data:text/plain,1').then(() => 'fetched', () => 'refused')") == "refused"
    assert any("Content Security Policy" in text for text in tab.errors)


def test_the_slider_moves_the_maps_and_the_cursor(desk: Browser) -> None:
    late = desk.run(PIXELS)
    cursor = "document.querySelector('.warm-up .cursor').getAttribute('x1')"
    at_end = float(desk.run(cursor))
    desk.run("byId('time').value = 0; byId('time').dispatchEvent(new Event('input')); null")
    desk.until(f"{PIXELS} !== {json.dumps(late)}")
    assert float(desk.run(cursor)) < at_end
    assert desk.run("byId('clock').textContent") == "0 s after switch-on"


def test_the_options_are_switched_on_one_scale(desk: Browser) -> None:
    scales = desk.run("byId('scales').textContent")
    before = desk.run(PIXELS)
    desk.run(
        "(() => { const s = document.querySelectorAll('#views .view select')[0]; s.value = 'liquid';"
        "s.dispatchEvent(new Event('change')); })()"
    )
    desk.until(f"{PIXELS} !== {json.dumps(before)}")
    assert desk.run("byId('scales').textContent") == scales
    assert desk.run("document.querySelectorAll('#views .view .warm-up path').length > 3")


def test_the_map_shows_the_field_that_was_stored(desk: Browser, results: dict[str, Result]) -> None:
    """The readout at places all over the board, by pointer, against the stored field."""
    board = results["base"].fields["sheet.board"]
    width = desk.run("document.querySelector('#views canvas').getBoundingClientRect().width")
    zoom = width / (1e3 * (board.x_edges[-1] - board.x_edges[0]))
    for x, y in ((12, 7), (42, 47), (92, 42), (147, 12)):
        column, row = np.searchsorted(1e3 * board.x_edges, x) - 1, np.searchsorted(1e3 * board.y_edges, y) - 1
        place = desk.run(
            "(() => { const c = document.querySelector('#views canvas'); c.scrollIntoView({block: 'center'});"
            "const b = c.getBoundingClientRect(); return [b.left, b.bottom]; })()"
        )
        desk.click(place[0] + zoom * x, place[1] - zoom * y)
        desk.until(f"document.querySelector('#views output').textContent.startsWith('x {x}')")
        told = desk.run("document.querySelector('#views output').textContent")
        shown = float(told.split(": ")[1].split(" °C")[0])
        assert shown == pytest.approx(float(board.temperature[-1, row, column]), abs=0.08)


def test_arrow_keys_move_the_crosshair(desk: Browser) -> None:
    desk.run("document.querySelector('#views canvas').focus(); null")
    desk.press("ArrowRight")
    desk.until("document.querySelector('#views output').textContent.startsWith('x ')")
    first = desk.run("document.querySelector('#views output').textContent")
    desk.press("ArrowUp")
    desk.until(f"document.querySelector('#views output').textContent !== {json.dumps(first)}")
    assert desk.run("document.activeElement === document.querySelector('#views canvas')")


def test_a_click_on_the_placement_map_shows_the_stored_numbers(desk: Browser, place: dict[str, Any]) -> None:
    for number, position in enumerate(place["positions"][:12]):
        spot = desk.run(
            "(() => { const p = placement, c = p.canvas; c.scrollIntoView({block: 'center'});"
            f"const [x, y] = p.centre(p.told.positions[{number}]), b = c.getBoundingClientRect();"
            "const zoom = b.width / p.plan.width;"
            "return [b.left + zoom * p.plan.px(x), b.top + zoom * p.plan.py(y)]; })()"
        )
        desk.click(*spot)
        told = readout(desk)
        assert told["corner"] == f"x {position['x_mm']:.0f}, y {position['y_mm']:.0f} mm"
        if not position["allowed"]:
            assert told["allowed"] == f"no: {position['why'][0]}"
            assert "worst margin" not in told
            continue
        assert told["worst margin"] == f"{position['worst_margin_k']:.1f} K (adc2)"
        assert told["coolant"] == f"{position['flow_l_per_min']:.2f} L/min"
        assert told["drop in plate"] == f"{position['drop_kpa']:.1f} kPa"
        for part, degc in position["parts_degc"].items():
            assert f"{part.replace('_', ' ')} {degc:.1f}" in told["parts, °C"]


def test_the_placement_map_opens_at_the_best_and_moves_by_keys(desk: Browser, place: dict[str, Any]) -> None:
    best = place["leaders"][0]
    assert readout(desk)["corner"] == f"x {best['x_mm']:.0f}, y {best['y_mm']:.0f} mm"
    desk.run("placement.canvas.focus(); null")
    desk.press("ArrowLeft")
    assert readout(desk)["corner"] == f"x {best['x_mm'] - 10:.0f}, y {best['y_mm']:.0f} mm"
    desk.press("ArrowDown")
    assert readout(desk)["corner"] == f"x {best['x_mm'] - 10:.0f}, y {best['y_mm'] - 10:.0f} mm"
    desk.run("document.querySelector('[name=rotation][value=\"90\"]').click(); null")
    assert readout(desk)["corner"].endswith("turned 90°")


def test_a_pair_of_plates_is_shown_with_its_numbers(desk: Browser, place: dict[str, Any]) -> None:
    desk.run("document.querySelector('[data-pair=series]').click(); null")
    told = readout(desk)
    assert told["two plates"] == "in series"
    assert told["second"] == "x 90, y 40 mm; touches adc2"
    assert told["worst margin"] == "9.8 K (adc2)"
    desk.run("document.querySelector('[data-position]').click(); null")
    assert readout(desk)["worst margin"] == f"{place['leaders'][0]['exact_worst_margin_k'] - 0.02:.1f} K (adc2)"


def test_charts_of_mishaps_follow_the_choice(desk: Browser) -> None:
    box = "document.querySelector('[data-choice=mishap-choice]')"
    choose = "byId('mishap-choice').value = '%s'; byId('mishap-choice').dispatchEvent(new Event('change')); null"
    desk.until(f"{box}.querySelector('svg') !== null")
    assert "over its limit" not in desk.run(f"{box}.textContent")
    desk.run(choose % "mishap_1")
    assert "chip one over its limit" in desk.run(f"{box}.textContent")
    assert "plate main +3 K" in desk.run(f"{box}.textContent")
    assert desk.run("byId('mishap-chart-title').textContent") == "liquid: pump small stops, temperatures after"


@pytest.mark.parametrize("width", [360, 390, 800, 1280])
def test_it_fits_the_screen(tab: Browser, page: Path, width: int) -> None:
    tab.load(page, width)
    tab.until(DRAWN)
    assert tab.run("document.documentElement.scrollWidth") <= width
    assert tab.errors == []


def test_a_leak_test_is_drawn_with_its_band(desk: Browser) -> None:
    desk.until("document.querySelectorAll('#leak figure > svg').length === 2")
    filled = (
        "[...document.querySelectorAll('#leak figure > svg path')].filter(one => one.getAttribute('fill') !== 'none')"
    )
    assert desk.run(f"{filled}.length") == 2
    assert desk.run(f"{filled}.every(one => !one.getAttribute('d').includes('NaN') && one.getBBox().height > 0)")


def test_print_opens_everything_and_hides_the_controls(desk: Browser) -> None:
    opened = desk.run(OPEN)
    assert desk.run("document.querySelectorAll('#loop details figure > svg').length") == 1
    loops = "document.querySelectorAll('#loop details figure > svg').length"
    assert desk.run(f"window.dispatchEvent(new Event('beforeprint')); {loops}") == 2  # drawn before the printer looks
    assert desk.run("document.querySelectorAll('details:not([open])').length") == 0
    desk.call("Emulation.setEmulatedMedia", media="print")
    assert desk.run("getComputedStyle(byId('time').closest('.controls')).display") == "none"
    assert desk.run("getComputedStyle(document.querySelector('#views canvas')).display") == "block"
    titles = desk.run("[...document.querySelectorAll('.in-print')].map(one => [one.textContent, one.offsetHeight > 0])")
    assert all(text and shown for text, shown in titles)
    assert titles[0][0] == "base, board, 20 min after switch-on"
    desk.call("Emulation.setEmulatedMedia", media="")
    desk.run("window.dispatchEvent(new Event('afterprint')); null")
    assert desk.run(OPEN) == opened


def test_everything_has_a_name_and_can_be_reached(desk: Browser) -> None:
    """Controls have labels, canvases names and places in the order of the tab key; headings do not jump."""
    unnamed = desk.run(
        "[...document.querySelectorAll('select, input, button, canvas')].filter(e => !(e.labels && e.labels.length)"
        " && !e.getAttribute('aria-label') && !e.textContent.trim()).map(e => e.outerHTML)"
    )
    assert unnamed == []
    assert desk.run("[...document.querySelectorAll('canvas, .scroll')].every(e => e.tabIndex === 0)")
    levels = desk.run("[...document.querySelectorAll('h1, h2, h3, h4')].map(e => Number(e.tagName[1]))")
    assert levels[0] == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))


def test_without_script_the_answer_and_pictures_remain(tab: Browser, page: Path) -> None:
    tab.call("Emulation.setScriptExecutionDisabled", value=True)
    try:
        tab.load(page)
        tree = tab.call("DOM.getDocument", depth=-1)
        text = json.dumps(tree, ensure_ascii=False)
        assert "options meet" in text or "options meets" in text
        root = tree["root"]["nodeId"]
        found = tab.call("DOM.querySelectorAll", nodeId=root, selector="noscript img")["nodeIds"]
        assert len(found) == 2
        hidden = tab.call("DOM.querySelector", nodeId=root, selector=".needs-script")["nodeId"]
        assert tab.call("CSS.enable") == {}
        styles = tab.call("CSS.getComputedStyleForNode", nodeId=hidden)["computedStyle"]
        assert {"name": "display", "value": "none"} in styles
    finally:
        tab.call("Emulation.setScriptExecutionDisabled", value=False)
