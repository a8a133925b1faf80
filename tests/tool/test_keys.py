"""The reference of keys is true: it tells of every key, and what it shows as examples and defaults can be read."""

import json
import tomllib

import pytest
from click.testing import CliRunner

from thermsim import units
from thermsim.case import Case, CaseError
from thermsim.case.address import alternatives, reader_of, type_at
from thermsim.case.fields import Table
from thermsim.case.schema import CaseFile
from thermsim.case.validate import validate_table
from thermsim.cli import cli
from thermsim.commands.key_reference import kinds_to_look_up, tables, words

KEYS = [(row, key) for row in tables() for key in row["keys"]]


def names(pair):
    return f"{pair[0]['table']}-{pair[1]['key']}"


def keys(*arguments):
    result = CliRunner().invoke(cli, ["keys", *arguments])
    assert result.exit_code == 0, result.output
    return result.output


def table_types(base=Table):
    for one in base.__subclasses__():
        yield one
        yield from table_types(one)


def test_every_key_has_its_line_and_every_line_its_key():
    own = {one.__name__: set(one.model_fields) for one in table_types() if one.__module__.startswith("thermsim.")}
    orphans = {(kind, key) for kind, lines in words().items() for key in lines if key not in own.get(kind, ())}
    assert not orphans
    assert {row["kind"] for row in tables()} == set(CaseFile.model_fields)
    assert all(key["meaning"] for _, key in KEYS)


def model_of(row):
    """Path and schema type of a table of the reference."""
    path = tuple(row["table"].split("."))
    path = (*path, 0) if path[-1] == "layers" else path
    return path, next(one for one in alternatives(type_at(path)) if issubclass(one, Table))


@pytest.mark.parametrize("pair", [pair for pair in KEYS if pair[1]["example"][0] in '["'], ids=names)
def test_an_example_is_what_the_schema_reads(pair):
    row, key = pair
    value = tomllib.loads(f"value = {key['example'].replace(', …]', ']')}")["value"]
    _, findings = validate_table(model_of(row)[1], {key["key"]: value})
    assert not [message for path, message in findings if path[:1] == (key["key"],)]


@pytest.mark.parametrize("pair", [pair for pair in KEYS if pair[1]["default"]], ids=names)
def test_a_default_is_that_of_the_schema(pair):
    row, key = pair
    path, model = model_of(row)
    dimension = reader_of((*path, key["key"])).get("dimension")
    text = key["default"]
    value = units.quantity(text, dimension) if dimension else tomllib.loads(f"value = {text}")["value"]
    assert value == pytest.approx(model.model_fields[key["key"]].default)


def test_a_table_and_a_key_can_be_asked_for():
    assert 'watts              "35 W"' in keys("part")
    assert "needed: heat it gives off" in keys("part")
    everywhere = keys("emissivity")
    assert all(f"[{table}]" in everywhere for table in ("film.NAME", "radiation.NAME", "box.outside"))
    assert "watts" not in everywhere
    told = json.loads(keys("run", "--json"))
    assert next(key["default"] for key in told[0]["keys"] if key["key"] == "cell") == "5 mm"
    assert "anodised aluminium" in keys()


def test_an_unknown_name_gets_the_nearest():
    result = CliRunner().invoke(cli, ["keys", "ferm"])
    assert result.exit_code == 2
    result = CliRunner().invoke(cli, ["keys", "radiater"])
    assert 'did you mean "radiator"?' in result.output


@pytest.mark.parametrize(
    ("text", "kinds"),
    [
        ('[part.a]\nwats = "1 W"', ["part"]),
        ('[boks]\nsize = "1 mm"', []),
        ('[option.x.add.radiator.r]\nvolume = "1 L"', ["radiator"]),
        ('[option.x]\nset = { "run.cel" = "1 mm" }', ["run"]),
        ('[part.a]\nwatts = 3\nheat_capacity = "1 J/K"', None),
    ],
)
def test_what_puzzled_the_author_is_pointed_to(text, kinds):
    head = '[case]\ntitle = "x"\n[room]\ntemperature = "20 degC"\n'
    with pytest.raises(CaseError) as error:
        Case.from_text(head + text, option="x" if "option" in text else None)
    assert kinds_to_look_up(error.value.problems) == kinds
