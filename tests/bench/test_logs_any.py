"""Whatever the bytes: a log, or one clear error; never another exception."""

from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.bench.log_files import HEAD, PLAIN, read
from thermsim.case.errors import CaseError

CELLS = st.one_of(
    st.sampled_from(["", "OL", "1", "1,5", "-9999", "1e400", "nan", "２１", "0:10", "25:61:00", '"', "2026-03-01", "#",
                     "1_0", "9" * 400, "2026-03-01 10:00:00", "9999-12-31T23:59:59-14:00",
                     "0001-01-01T00:00:00+14:00"]),
    st.floats(-1e6, 1e6).map(str),
    st.text(max_size=6),
)  # fmt: skip


def read_or_refuse(folder, data, **layout):
    try:
        log = read(folder, data, **layout)
    except CaseError:
        return
    assert all(values.shape == log.time.shape for values in log.readings.values())
    assert (log.time[1:] > log.time[:-1]).all()


@settings(max_examples=80, deadline=None)
@given(data=st.binary(max_size=300))
@example(data=b"\xff\xfe")
@example(data=b"\xef\xbb\xbf")
@example(data=b"\xff\xfe\x00\xd8")
def test_any_bytes(data, tmp_path_factory):
    folder = tmp_path_factory.getbasetemp()
    read_or_refuse(folder, data)
    read_or_refuse(folder, HEAD.encode() + data)
    read_or_refuse(folder, data, encoding="utf-16")


@settings(max_examples=150, deadline=None)
@given(
    rows=st.lists(st.lists(CELLS, min_size=1, max_size=6), min_size=1, max_size=6),
    delimiter=st.sampled_from(",;\t"),
    head=st.sampled_from([HEAD, HEAD.replace("Time [s]", "Time"), PLAIN]),
    layout=st.sampled_from([{}, {"decimal": ","}, {"decimal": "."}, {"time_format": "%d.%m.%Y %H:%M"}]),
)
def test_any_cells(rows, delimiter, head, layout, tmp_path_factory):
    data = head.replace(",", delimiter) + "\n".join(delimiter.join(row) for row in rows)
    read_or_refuse(tmp_path_factory.getbasetemp(), data.encode("utf-8", "surrogatepass"), **layout)
