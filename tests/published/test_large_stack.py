"""Default accuracy on a large model: 100 000 unknowns, half an hour of warm-up, the whole field."""

import numpy as np
import pytest
from published_cases import film, history, model_of, sheet

TIMES = [0.1, 0.3, 1, 2, 5, 10, 20, 60, 120, 300, 600, 1200, 1800]


def stack():
    parts = {
        f"p{n}": {
            "on": "sheet.board", "centre": f"{30 + 40 * (n % 4)} mm, {30 + 40 * (n // 4)} mm",
            "size": "20 x 20 mm",
            "watts": f"{2 + 2 * n} W", "to_board": "1 K/W", "heat_capacity": f"{0.5 + n} J/K",
        }
        for n in range(8)
    }  # fmt: skip
    return model_of(
        cell=0.000995,
        room=22,
        sheet={
            "board": sheet(0.2, 0.165, 0.0016, 25),
            "lid": sheet(0.2, 0.165, 0.002, 167),
            "floor": sheet(0.2, 0.165, 0.002, 167),
        },
        part=parts,
        joint={
            "pad": {"between": ["part.p7", "sheet.lid"], "resistance": "1 K/W"},
            "screws": {"between": ["sheet.board", "sheet.floor"], "conductance": "5 W/m2K"},
        },
        film={
            "air": film(20, "sheet.board", to="airway.main"),
            "lid": film(9, "sheet.lid"),
            "floor": film(9, "sheet.floor", face="bottom"),
        },
        airway={"main": {
            "corner": "0, 0 mm", "size": "200 x 165 mm", "height": "20 mm", "flow": "30 m3/h",
        }},
    )  # fmt: skip


@pytest.fixture(scope="module")
def closely():
    """The model, and its history by the reduced engine at a hundredth of the tolerance.

    Once seen: within 1.3e-4 K of the full engine's at a thousandth of the tolerance, which takes twenty times as long.
    Were it wrong, the full engine at its own tolerance would be far from it.
    """
    model = stack()
    return model, history(model, TIMES, model.case.spec.run.tolerance / 100, engine="reduced")


@pytest.mark.slow
def test_default_tolerance_on_a_large_stack(engine, closely):
    model, closer = closely
    assert model.node_count > 100_000
    found = history(model, TIMES, model.case.spec.run.tolerance, engine=engine)
    assert np.abs(found - closer).max() <= 0.05
    assert np.abs(closer[-1] - 22).max() > 10  # the box does warm up
