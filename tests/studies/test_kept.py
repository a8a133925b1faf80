"""What was kept is found again, whatever happened to the writer."""

from thermsim.studies.kept import Kept


def test_found_again(tmp_path):
    path = tmp_path / "deep" / "study.part.jsonl"
    with Kept(path) as kept:
        assert kept.get("a") is None
        assert kept.put("a", {"t": (1.5, 2)}) == {"t": [1.5, 2]}  # as it will be read back
        kept.put("b", {"t": None})
    with Kept(path) as kept:
        assert kept.get("a") == {"t": [1.5, 2]}
        assert kept.get("b") == {"t": None}


def test_a_line_cut_short_costs_only_itself(tmp_path):
    path = tmp_path / "study.part.jsonl"
    with Kept(path) as kept:
        kept.put("a", {"t": 1})
        kept.put("b", {"t": 2})
    path.write_bytes(path.read_bytes()[:-9])
    with Kept(path) as kept:
        assert kept.get("a") == {"t": 1}
        assert kept.get("b") is None
        kept.put("b", {"t": 3})
    with Kept(path) as kept:
        assert kept.get("b") == {"t": 3}


def test_another_version_is_not_believed(tmp_path):
    path = tmp_path / "study.part.jsonl"
    with Kept(path) as kept:
        kept.put("a", {"t": 1})
    path.write_text(path.read_text().replace('"version": "', '"version": "9'))
    with Kept(path) as kept:
        assert kept.get("a") is None


def test_a_line_changed_by_hand_is_not_believed(tmp_path):
    path = tmp_path / "study.part.jsonl"
    with Kept(path) as kept:
        kept.put("a", {"t": 1.5, "rows": {3: "x"}})
    written = path.read_text()
    for change in (("1.5", "2.5"), ('"a"', '"b"'), (', "rows": {"3": "x"}', "")):
        path.write_text(written.replace(*change))
        with Kept(path) as kept:
            assert not kept.has("a")
            assert not kept.has("b")
    path.write_text(written)
    with Kept(path) as kept:
        assert kept.get("a") == {"t": 1.5, "rows": {"3": "x"}}
