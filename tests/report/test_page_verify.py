"""The page of `verify`: what it shows, that text is escaped, and that a browser has nothing to say against it."""

from pathlib import Path
from typing import Any

import pytest
from headless import CHROMIUM, browser

from thermsim.report.page.verify import verify_page, write_verify_page
from thermsim.studies.where import Where
from thermsim.verify.study import verify

HOSTILE = "</td><script>document.title = 'taken'</script>"


@pytest.fixture(scope="module")
def facts() -> dict[str, Any]:
    """A few figures, of which one is made to miss, one to have no answer, with markup in its words."""
    told = verify(["two_nodes", "paste"], where=Where(processes=1))
    late, lost = told["rows"][0], told["rows"][-1]
    late |= {"passed": False, "got": 31.0}
    lost |= {"passed": False, "got": None, "error": HOSTILE, "quantity": HOSTILE}
    return told


def test_it_tells_each_figure(facts: dict[str, Any]) -> None:
    text = verify_page(facts)
    assert "30.0000 ± 0.001 °C" in text
    assert "31.0000" in text
    assert text.count('class="bad">not met') == 2
    assert text.count('class="good">met') == len(facts["rows"]) - 2
    assert HOSTILE not in text
    assert "&lt;/td&gt;&lt;script&gt;" in text


@pytest.mark.slow
@pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed")
@pytest.mark.parametrize("width", [390, 1280])
def test_a_browser_shows_it(facts: dict[str, Any], width: int, tmp_path: Path) -> None:
    page = write_verify_page(facts, tmp_path)
    with browser(tmp_path / "profile") as tab:
        tab.load(page, width)
        assert tab.run("document.documentElement.scrollWidth") <= width
        assert tab.run("document.title") == "Published figures and what this installation computes"
        assert tab.run("document.querySelectorAll('table.figures tbody tr').length") == len(facts["rows"])
        anchors = "[...document.querySelectorAll('nav a, td a, th a')].every(a => document.querySelector(a.hash))"
        assert tab.run(anchors)
        assert tab.errors == []
        assert tab.requests == [page.as_uri()]
