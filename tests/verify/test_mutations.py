"""The campaign of mutations stays able to run: what each replaces is still there, and one of them is seen through."""

import pytest

from tests.verify.mutations import MUTATIONS, applies, red_figures
from thermsim.verify.checkfile import check_names


@pytest.mark.parametrize("name", MUTATIONS)
def test_what_a_mutation_replaces_stands_in_its_file_once(name: str) -> None:
    assert applies(name)
    assert MUTATIONS[name][3] in check_names()


@pytest.mark.slow
def test_a_mutation_turns_figures_red_through_the_command_line() -> None:
    red = red_figures("contact of a joint", everything=False)
    assert [row["quantity"][:6] for row in red] == ["50 µm ", "25 µm "]
