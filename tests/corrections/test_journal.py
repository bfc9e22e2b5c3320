from __future__ import annotations

import pytest

from auditor.corrections.journal import Entry, Spot, Undone, digest_of, from_line, put_back, to_line

SPOT = Spot("beside", "main", "day/a.xmp")


def entry(before: bytes | None, after: bytes | None) -> Entry:
    return Entry(SPOT, before, digest_of(after))


@pytest.mark.parametrize("held", [None, b"", bytes(range(256))])
def test_a_line_holds_any_content(held: bytes | None) -> None:
    line = to_line(entry(held, b"new"))
    assert line.count(b"\n") == 1
    assert from_line(line) == entry(held, b"new")


@pytest.mark.parametrize(
    "line", [b"", b"{", b"{}", b"[]", b'{"where": "beside", "archive": "a", "path": "b", "before": "eA=="}']
)
def test_a_damaged_line_is_refused(line: bytes) -> None:
    with pytest.raises(ValueError, match=r"."):
        from_line(line)


# What a sidecar holds now, and what it held before: (writes as before → after, now, put back, edited).
CHAINS = [
    ([(None, b"1")], b"1", None, False),
    ([(b"0", b"1"), (b"1", b"2")], b"2", b"0", False),
    ([(b"0", b"1"), (b"1", b"2")], b"1", b"0", False),  # killed before the second was written
    ([(b"0", b"1")], b"0", b"0", False),  # killed before the first
    ([(b"0", b"1")], b"x", b"x", True),  # edited since
    ([(b"0", b"1")], None, None, True),  # removed since
    ([(b"0", b"1"), (b"x", b"2")], b"2", b"x", True),  # edited between: back to the edit, no further
    ([(b"0", b"1"), (b"1", None)], None, b"0", False),  # we took it away
    ([(b"0", b"1"), (b"0", b"2")], b"2", b"0", False),  # undone, killed before the journal knew, written again
]


@pytest.mark.parametrize(("writes", "now", "back", "is_edited"), CHAINS)
def test_undoing_goes_back_as_far_as_the_way_is_ours(
    writes: list[tuple[bytes | None, bytes | None]], now: bytes | None, back: bytes | None, is_edited: bool
) -> None:
    assert put_back([entry(*write) for write in writes], now) == Undone(back, is_edited)


def test_a_spot_says_where_it_is() -> None:
    assert str(SPOT) == "main/day/a.xmp"
    assert str(SPOT._replace(where="mirror")) == "main/day/a.xmp (mirror)"
