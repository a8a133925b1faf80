"""Files of figures: which, where, and the same bytes each time."""

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from matplotlib.image import imread

from thermsim.report.figures import apart, hottest_of_families, image, save_comparison, save_figures
from thermsim.report.ledger import ledger_figure
from thermsim.report.maps import hotspot_map
from thermsim.report.style import kind_of
from thermsim.store.result import Result

BASE, LIQUID, MISHAP = "base", "liquid", "liquid, pump stops"


def test_files_of_one_result(results: dict[str, Result], tmp_path: Path) -> None:
    written = save_figures(results[LIQUID], tmp_path / "new", ("png",))
    names = ["map-sheet-board", "map-plate-main", "map-all", "warm-up", "control", "drift", "heat"]
    assert [path.name for path in written] == [f"{name}.png" for name in names]
    for path in written:
        height, width = imread(path).shape[:2]
        assert width > 700
        assert height > 250


def test_files_of_a_comparison(results: dict[str, Result], tmp_path: Path) -> None:
    written = save_comparison(results, tmp_path, ("svg",))
    assert all(path.is_file() and path.name.isascii() for path in written)
    hottest = hottest_of_families({name: results[name] for name in (BASE, LIQUID)})
    assert hottest[0] == "chip_one"
    assert len(hottest) == 2
    assert [path.stem for path in written[:4]] == [
        "options-map-sheet-board", "options-map-plate-main", "options-chip-one", f"options-{hottest[1]}"
    ]  # fmt: skip
    assert kind_of(results.values()) == kind_of([results[BASE]]) == "options"
    assert kind_of([results[MISHAP]]) == "mishaps"
    assert {path.stem.split("-")[0] for path in written} == {"options", "mishaps"}
    assert {kind: list(group) for kind, group in apart(results).items()} == {
        "options": [BASE, LIQUID], "mishaps": [MISHAP]
    }  # fmt: skip


@pytest.mark.parametrize("kind", ["png", "svg"])
def test_the_same_bytes_each_time(results: dict[str, Result], kind: str) -> None:
    first, second = (image(ledger_figure(results[BASE]), kind) for _ in range(2))
    assert first == second
    assert b"<dc:date>" not in first


def test_maps_in_svg_hold_their_cells_as_one_picture(results: dict[str, Result]) -> None:
    drawing = image(hotspot_map(results[BASE], "sheet.board"), "svg").decode()
    assert drawing.count("<image ") == 2  # the cells, and the colour bar


def test_a_run_that_was_cut_is_drawn_as_far_as_it_goes(results: dict[str, Result], tmp_path: Path) -> None:
    cut = replace(results[MISHAP], summary={}, complete=False)
    names = {path.stem for path in save_figures(cut, tmp_path, ("png",))}
    assert names == {"map-sheet-board", "map-plate-main", "map-all", "warm-up", "control", "heat"}


@pytest.mark.slow
def test_nothing_is_drawn_in_a_window(results: dict[str, Result], tmp_path: Path) -> None:
    code = (
        "import sys; from thermsim.store.result import read_result\n"
        "import thermsim.report.page.write\n"
        "assert 'matplotlib' not in sys.modules, 'imported too early'\n"
        "from thermsim.report.figures import save_figures\n"
        f"save_figures(read_result({str(results[BASE].path)!r}), {str(tmp_path)!r}, ('png',))\n"
        "assert 'matplotlib.pyplot' not in sys.modules, 'pyplot keeps figures and may open windows'\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
