"""What each system prints, read: expected numbers are those of the sample texts, counted by hand."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from advisor.errors import InputError
from advisor.evidence.pings import HOW, PingRun, read, read_text

SAMPLES = Path(__file__).parent / "samples"
LOST = float("nan")
WINDOWS = [2.0, 14.0, LOST, LOST, LOST, 3.0]
WINDOWS_TIMES = [0.0, 1.0, 2.0, 7.0, 11.0, 12.0]
EXPECTED: dict[str, tuple[str, float, float | None, list[float], list[float]]] = {
    "iputils": (
        "outside.example (203.0.113.9)",
        1.005,
        None,
        [23.4, 22.1, LOST, 1204.0, 210.0, LOST, LOST, 25.0, 24.0, LOST, LOST, LOST],
        [0.0, 1.005, 2.01, 3.015, 4.02, 5.025, 6.03, 7.035, 8.04, 9.045, 10.05, 11.055],
    ),
    "iputils-clock": (
        "192.0.2.1",
        0.2,
        1_700_000_000.0,
        [500.0, 2.0, 3.0, LOST, 4.0],
        [0.0, 0.2, 0.4, 0.6, 0.8],
    ),
    "iputils-german": ("192.0.2.1", 1.0, None, [2.13, 3.2, LOST, 2.5], [0.0, 1.0, 2.0, 3.0]),
    "iputils-silent": ("192.0.2.77", 0.204, None, [LOST] * 20, [0.204 * place for place in range(20)]),
    "busybox": ("192.0.2.1", 1.0, None, [1.234, 0.987, LOST, 2.5], [0.0, 1.0, 2.0, 3.0]),
    "bsd": ("192.0.2.1", 1.0, None, [LOST, 2.1, 1300.5, LOST, 3.0], [0.0, 1.0, 2.0, 3.0, 4.0]),
    "bsd-day-clock": ("192.0.2.1", 1.0, 86_398.0, [2.0, 3.0, 4.0, 2.0], [0.0, 1.0, 2.0, 3.0]),
    "bsd-six": ("2001:db8::1", 1.0, None, [2.345, 2.5], [0.0, 1.0]),
    "windows-english": (
        "outside.example (203.0.113.9)",
        1.0,
        None,
        [24.0, 0.5, LOST, LOST, LOST, LOST, 1500.0, 25.0],
        [0.0, 1.0, 2.0, 7.0, 11.0, 12.0, 13.0, 14.5],
    ),
    "windows-german-cp850": ("192.0.2.1", 1.0, None, WINDOWS, WINDOWS_TIMES),
    "windows-french-cp1252": ("192.0.2.1", 1.0, None, WINDOWS, WINDOWS_TIMES),
    "windows-spanish-utf16": ("192.0.2.1", 1.0, None, WINDOWS, WINDOWS_TIMES),
    "windows-italian": ("192.0.2.1", 1.0, None, WINDOWS, WINDOWS_TIMES),
    "windows-dutch": ("192.0.2.1", 1.0, None, WINDOWS, WINDOWS_TIMES),
    "windows-portuguese-cp850": ("192.0.2.1", 1.0, None, WINDOWS, WINDOWS_TIMES),
    "windows-polish": ("192.0.2.1", 1.0, None, WINDOWS, WINDOWS_TIMES),
    "windows-unknown-words": ("192.0.2.1", 1.0, None, [2.0, 0.5, LOST, 4.0], [0.0, 1.0, 2.0, 7.0]),
    "windows-six": ("2001:db8::1", 1.0, None, [3.0, 0.5, LOST, 4.0], [0.0, 1.0, 2.0, 7.0]),
    "windows-clock": ("192.0.2.1", 1.0, 1_903_867_199.998, [2.0, 2.0, LOST, 2.0], [0.0, 1.0, 2.0, 7.0]),
}


def test_every_sample_is_expected() -> None:
    assert {path.stem for path in SAMPLES.iterdir()} == set(EXPECTED)


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_a_sample_is_read(name: str) -> None:
    target, interval, start, replies, times = EXPECTED[name]
    run = read(str(SAMPLES / f"{name}.txt"))
    assert run.name.endswith(f"{name}.txt")
    assert run.target == target
    assert run.interval_s == pytest.approx(interval, abs=1e-6)
    assert (run.start_s is None) == (start is None)
    if start is not None:
        assert run.start_s == pytest.approx(start, abs=1e-5)
    np.testing.assert_allclose(run.replies, replies)
    np.testing.assert_allclose(run.times_s, times, atol=1e-5)


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_line_ends_and_encodings_change_nothing(name: str, tmp_path: Path) -> None:
    """The same text with other line ends and in UTF-16 of either order, with and without its mark."""
    from advisor.evidence.files import text_of

    text = text_of(str(SAMPLES / f"{name}.txt"), HOW)
    replies = read_text(text, "x").replies
    for number, data in enumerate(
        [
            text.replace("\n", "\r\n").encode(),
            text.replace("\n", "\r").encode(),
            b"\xef\xbb\xbf" + text.encode(),
            b"\xff\xfe" + text.encode("utf-16-le"),
            b"\xfe\xff" + text.encode("utf-16-be"),
        ]
    ):
        file = tmp_path / f"{number}.txt"
        file.write_bytes(data)
        np.testing.assert_array_equal(read(str(file)).replies, replies)


@pytest.mark.parametrize(
    "name", [name for name in sorted(EXPECTED) if not name.endswith(("silent", "utf16", "cp850", "cp1252"))]
)
def test_a_text_cut_anywhere_never_tells_more_than_the_whole(name: str) -> None:
    """Cut at each byte, a run is refused, or its answers are the first of those of the whole text."""
    text = (SAMPLES / f"{name}.txt").read_text(encoding="utf-8-sig")
    whole = EXPECTED[name][3]
    for end in range(1, len(text)):
        try:
            replies = read_text(text[:end], "cut.txt").replies.tolist()
        except InputError:
            continue
        known = [(one, other) for one, other in zip(replies, whole, strict=False) if one == one]
        assert all(one == other for one, other in known), text[:end][-60:]
        assert len(replies) <= len(whole)


def problems(run: PingRun) -> list[tuple[int, str]]:
    return [(problem.position.line, problem.what) for problem in run.problems]


def test_a_line_that_stops_is_left_out_and_told() -> None:
    text = (SAMPLES / "busybox.txt").read_text(encoding="utf-8")
    run = read_text(text[: text.index("2.500") + 3], "cut.txt")
    assert run.replies.tolist() == [1.234, 0.987]
    assert problems(run)[0] == (5, "the text stops inside a line: 64 bytes from 192.0.2.1: seq=3 ttl=64 time=2.5")
    assert problems(run)[1][1] == "there is no summary: what was lost after the last answer is not told"


def test_duplicates_are_told() -> None:
    assert problems(read(str(SAMPLES / "iputils.txt"))) == [(0, "answers that came twice: 1")]


def test_unknown_words_and_a_missing_clock_are_told() -> None:
    told = problems(read(str(SAMPLES / "windows-unknown-words.txt")))
    assert told[0] == (5, "taken for an answer that did not come: 请求超时被网络丢弃了。")
    assert told[1][0] == 5
    assert told[1][1].startswith("no clock is printed")


def test_lines_missing_from_the_text_are_not_lost_pings() -> None:
    """The summary counts five answers, two stand there: the others are not known."""
    text = """PING 192.0.2.1 (192.0.2.1) 56(84) bytes of data.
64 bytes from 192.0.2.1: icmp_seq=1 ttl=64 time=2.00 ms
64 bytes from 192.0.2.1: icmp_seq=5 ttl=64 time=3.00 ms

--- 192.0.2.1 ping statistics ---
5 packets transmitted, 5 received, 0% packet loss, time 4004ms
"""
    run = read_text(text, "x.txt")
    assert run.replies.tolist() == [2.0, 3.0]
    assert run.times_s.tolist() == [0.0, 4.0]
    assert problems(run) == [(6, "the summary counts 5 answers, 3 more than stand in the text")]


def test_sequence_numbers_begin_again() -> None:
    text = "".join(
        f"64 bytes from 192.0.2.1: icmp_seq={order} ttl=64 time=2.0 ms\n" for order in (65_534, 65_535, 0, 2)
    )
    assert np.isnan(read_text(text, "x").replies).tolist() == [False, False, False, True, False]


def test_the_given_interval_counts_where_no_clock_does() -> None:
    text = (
        "64 bytes from 192.0.2.1: icmp_seq=1 ttl=64 time=2.0 ms\n64 bytes from 192.0.2.1: icmp_seq=2 ttl=64 time=2 ms\n"
    )
    assert read_text(text, "x", 0.2).times_s.tolist() == [0.0, 0.2]
    assert read(str(SAMPLES / "iputils-clock.txt"), 5.0).interval_s == pytest.approx(0.2, abs=1e-6)


def test_a_clock_set_back_is_told_and_not_used() -> None:
    text = """[1700000100.000000] 64 bytes from 192.0.2.1: icmp_seq=1 ttl=64 time=2.0 ms
[1700000101.000000] 64 bytes from 192.0.2.1: icmp_seq=2 ttl=64 time=2.0 ms
[1700000042.000000] 64 bytes from 192.0.2.1: icmp_seq=3 ttl=64 time=2.0 ms
"""
    run = read_text(text, "x")
    assert run.start_s is None
    assert run.times_s.tolist() == [0.0, 1.0, 2.0]
    assert problems(run)[-1] == (3, "the clock was set back here")


BAD = {
    "": (0, "the file is empty"),
    "\n \n": (0, "the file is empty"),
    "hello\nthere\n": (1, "nothing here is what `ping` prints: hello"),
    "\nping: outside.example: Name or service not known\n": (
        2,
        "no answer stands here, only: ping: outside.example: Name or service not known",
    ),
    "PING 192.0.2.1 (192.0.2.1) 56(84) bytes of data.\n": (1, "a run begins here but has no answer and no lost one"),
    "PING 192.0.2.1 (192.0.2.1): 2 data bytes\n10 bytes from 192.0.2.1: icmp_seq=0 ttl=64\n": (
        0,
        "the answers tell no time",
    ),
    "PING 192.0.2.1 (192.0.2.1) 56(84) bytes of data.\n\n"
    "--- 192.0.2.1 ping statistics ---\n40 packets transmitted, 40 received, 0% packet loss, time 39001ms\n": (
        4,
        "only the summary stands here",
    ),
    "PING 192.0.2.1 (192.0.2.1): 56 data bytes\n64 bytes from 192.0.2.1: seq=0 ttl=64 time=1.0 ms\n"
    "PING 192.0.2.2 (192.0.2.2): 56 data bytes\n64 bytes from 192.0.2.2: seq=0 ttl=64 time=1.0 ms\n": (
        3,
        "a second run begins here",
    ),
    "a\0b\0\0\0": (0, "this is not a text file"),
}


@pytest.mark.parametrize("text", list(BAD))
def test_what_is_no_run_is_refused_with_its_line_and_a_help(text: str, tmp_path: Path) -> None:
    file = tmp_path / "bad.txt"
    file.write_text(text, encoding="utf-8")
    line, what = BAD[text]
    with pytest.raises(InputError) as caught:
        read(str(file))
    (problem,) = caught.value.problems
    assert (problem.position.line, problem.what) == (line, what)
    assert len(problem.help) > 20
    assert str(file) in str(caught.value)


def test_files_that_cannot_be_read_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"there is no such file"):
        read(str(tmp_path / "none.txt"))
    with pytest.raises(InputError, match="this is a folder"):
        read(str(tmp_path))
    with pytest.raises(InputError, match="cannot be read"):
        read("a\0b")
    with pytest.raises(InputError, match=r"0\.001 to 3600"):
        read_text("x", "x.txt", 0.0)


def test_random_bytes_are_refused_or_read_but_never_fail(tmp_path: Path) -> None:
    random = np.random.default_rng(3)
    file = tmp_path / "noise.txt"
    for size in (1, 2, 7, 100, 5000) * 4:
        file.write_bytes(random.integers(0, 256, size, dtype=np.uint8).tobytes())
        with pytest.raises(InputError):
            read(str(file))


def test_the_samples_name_only_documentation_addresses() -> None:
    for path in SAMPLES.iterdir():
        for address in re.findall(rb"(?<![\d.])\d{1,3}(?:\.\d{1,3}){3}(?![\d.])", path.read_bytes()):
            assert address.startswith((b"192.0.2.", b"198.51.100.", b"203.0.113.")), path
