"""Association logs: what is read, and what is refused with its line."""

from __future__ import annotations

import pytest

from advisor.errors import InputError
from advisor.evidence.associations import Association, Change, associations_text, read_associations


def test_seconds_and_all_columns() -> None:
    log = associations_text(
        "time,node,channel,level_dbm\n0,hall,1,-70\n12.5,hall,1,-78\n13,loft,36,-51,\n"[:-2], "log.csv"
    )
    assert log.entries == (
        Association(0.0, "hall", 1, -70.0),
        Association(12.5, "hall", 1, -78.0),
        Association(13.0, "loft", 36, -51.0),
    )
    assert log.changes() == (Change(13.0, "hall", "loft"),)


def test_other_marks_dates_decimal_commas_and_no_order() -> None:
    log = associations_text(
        "BSSID;Level;Time\n02:00:00:00:00:02;-51,5;2030-05-01T14:00:10+02:00\n\n02:00:00:00:00:01;;2030-05-01T12:00:00Z\n",
        "log.csv",
    )
    assert log.entries == (
        Association(1_903_867_200.0, "02:00:00:00:00:01", None, None),
        Association(1_903_867_210.0, "02:00:00:00:00:02", None, -51.5),
    )


def test_an_empty_node_is_no_node() -> None:
    log = associations_text("time\tnode\n00:00:01\thall\n00:00:05\t\n00:00:07\tloft\n", "log.csv")
    assert log.changes() == (Change(5.0, "hall", ""), Change(7.0, "", "loft"))


BAD = {
    "when,where\n1,hall\n": [
        (1, "there is no column time or time_s or timestamp or seconds; there is no column node or name or bssid")
    ],
    "time,node\n": [(1, "no line follows the head")],
    "time,node\nsoon,hall\n5\n": [(2, "“soon” is no time"), (3, "1 cells where the head names 2")],
    "time,node,channel,level_dbm\n1,hall,0,-70\n2,hall,1,70\n3,hall,1,-300\n4,hall,1,good\n": [
        (2, "“0” is no channel"),
        (3, "“70” is no level"),
        (4, "“-300” is no level"),
        (5, "“good” is no level"),
    ],
    "time,node\nnan,hall\n": [(2, "“nan” is no time")],
    "time,node\n2030-13-01T00:00:00,hall\n": [(2, "“2030-13-01T00:00:00” is no time")],
}


@pytest.mark.parametrize("text", list(BAD))
def test_what_cannot_be_used_is_refused(text: str) -> None:
    with pytest.raises(InputError) as caught:
        associations_text(text, "log.csv")
    assert [(problem.position.line, problem.what) for problem in caught.value.problems] == BAD[text]
    assert all(len(problem.help) > 20 for problem in caught.value.problems)


def test_a_missing_file_is_refused() -> None:
    with pytest.raises(InputError, match="there is no such file"):
        read_associations("no-such-log.csv")
