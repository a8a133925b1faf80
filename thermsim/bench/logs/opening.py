"""From a path to lines of text: what can be no log is refused, the encoding is found or asked for."""

from __future__ import annotations

import codecs
import stat
from collections.abc import Iterator
from pathlib import Path

from thermsim.case.errors import CaseError, Problem

LARGEST_BYTES = 1_000_000_000
SAMPLE_BYTES = 1 << 20
LONGEST_LINE = 10_000_000  # characters
_BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),  # begins like that of UTF-16
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_NO_TEXT = {b"PK\x03\x04": "a spreadsheet or archive", b"\x1f\x8b": "compressed", b"\x89HDF": "an HDF5 file",
            b"\xd0\xcf\x11\xe0": "an old spreadsheet", b"%PDF": "a PDF", b"TDSm": "a TDMS file"}  # fmt: skip


def complaint(path: Path, message: str, line: int | None = None, header: str | None = None) -> CaseError:
    """An error about a log, its line and its column."""
    return CaseError([Problem(path.name, line, "" if header is None else f'column "{header}"', message)])


def encoding_of(path: Path, stated: str | None) -> str:
    """The encoding by the file's first bytes, or as stated, or UTF-8. Raises `CaseError` for what is no text."""
    try:
        found = path.stat()
        size = found.st_size
        if stat.S_ISDIR(found.st_mode):
            raise complaint(path, "is a folder; expected a CSV file")
        if not stat.S_ISREG(found.st_mode):
            raise complaint(path, "is no ordinary file; expected a CSV file")
        if size == 0:  # a device that says nothing of its size would never end
            raise complaint(path, "is empty")
        if size > LARGEST_BYTES:
            raise complaint(path, f"is larger than {LARGEST_BYTES // 1_000_000} MB; store fewer readings, or cut it")
        with path.open("rb") as file:
            sample = file.read(SAMPLE_BYTES)
    except FileNotFoundError:
        raise CaseError([Problem(str(path), None, "", "no such file")]) from None
    except OSError as error:
        raise complaint(path, f"cannot be read ({error.strerror})") from None
    if not sample.strip(b" \t\r\n\x00\xef\xbb\xbf\xff\xfe"):
        raise complaint(path, "is empty")
    encoding = next((name for bom, name in _BOMS if sample.startswith(bom)), None) or _utf16(sample)
    for start, kind in _NO_TEXT.items():
        if sample.startswith(start):
            raise complaint(path, f"is {kind}, not text; export it as CSV")
    if encoding is None and b"\x00" in sample:
        raise complaint(path, f"is not text (byte {sample.index(0) + 1} is zero); export it as CSV")
    if size > len(sample) and not any(end in sample for end in (b"\n", b"\r")):
        raise complaint(path, "has no end of line in its first megabyte; not a log")
    return encoding or stated or "utf-8"


def _utf16(sample: bytes) -> str | None:
    """UTF-16 without a mark: every other byte of plain text is zero."""
    pairs = sample[: len(sample) & ~1]
    for name, zeros in (("utf-16-le", pairs[1::2]), ("utf-16-be", pairs[::2])):
        if len(pairs) >= 8 and zeros.count(0) > 0.9 * len(zeros):
            return name
    return None


def lines_of(path: Path, encoding: str) -> Iterator[str]:
    """The file's lines with their ends. Raises `CaseError` at bytes that are not of this encoding."""
    try:
        with path.open(encoding=encoding, newline="") as file:
            number = 0
            while line := file.readline(LONGEST_LINE):
                number += 1
                if len(line) == LONGEST_LINE:
                    raise complaint(path, f"is a line of more than {LONGEST_LINE:,} characters; not a log", number)
                yield line
    except UnicodeError as error:
        raise _undecoded(path, encoding, error) from None


def _undecoded(path: Path, encoding: str, error: UnicodeError) -> CaseError:
    if "16" not in encoding and "32" not in encoding:
        with path.open("rb") as file:
            for number, line in enumerate(file, start=1):
                try:
                    line.decode(encoding)
                except UnicodeDecodeError as found:
                    at = len(line[: found.start].decode(encoding)) + 1
                    other = "cp1252" if encoding.startswith("utf") else "utf-8"
                    message = (
                        f"character {at} is byte 0x{line[found.start]:02X}, which is not {encoding.upper()}; "
                        f'say which encoding it is, such as encoding = "{other}"'
                    )
                    return complaint(path, message, number)
    return complaint(path, f"is cut off, or is not {encoding.upper()} text ({getattr(error, 'reason', error)})")
