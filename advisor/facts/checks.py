"""What the standard does not have is refused before anything is computed: channels, widths, streams that cannot be."""

from __future__ import annotations

from typing import Protocol

from advisor.errors import InputError, Position, Problem
from advisor.facts.book import Book
from advisor.facts.draws import Draws
from advisor.facts.receiving import LEGACY, WIDEST_MHZ
from advisor.network.contention import side
from advisor.network.inventory import Source
from advisor.physics.bands import WIDTHS_MHZ, channels_of, is_valid_channel
from advisor.physics.frames import LEGACY_RATES_MBPS
from advisor.physics.phy_rates import MOST_STREAMS, STANDARD_BANDS
from advisor.site.equipment import Radio


class Placed(Source, Protocol):
    """A loaded site that knows its file and where everything stands in it."""

    @property
    def file(self) -> str: ...
    def position(self, path: str) -> Position: ...


def open_book(
    loaded: Placed,
    draws: Draws | None = None,
    *,
    explain: bool = False,
    ground: Book | None = None,
    same_radios: bool = False,
) -> Book:
    """The fact book of a loaded site; the rest as Book says.

    Raises InputError where the file asks for something the standard does not have, every such place at once.
    """
    problems = [
        problem
        for node_id, node in loaded.site.nodes.items()
        for radio_id, radio in node.radios.items()
        for problem in _of_radio(loaded, f"nodes.{node_id}.radios.{radio_id}", radio)
    ]
    for key, neighbour in loaded.site.neighbours.items():
        what = _channel(neighbour.band, neighbour.channel, neighbour.width_mhz, neighbour.secondary)
        if what:
            problems.append(_problem(loaded, f"neighbours.{key}.channel", *what))
    if problems:
        raise InputError(loaded.file, problems)
    return Book(loaded, draws=draws, explain=explain, ground=ground, same_radios=same_radios)


def _problem(loaded: Placed, path: str, what: str, help: str) -> Problem:
    return Problem(loaded.position(path), f"{path}: {what}", help)


def _of_radio(loaded: Placed, path: str, radio: Radio) -> list[Problem]:
    found = []
    if radio.standard is not None and radio.standard not in LEGACY:
        bands = STANDARD_BANDS[radio.standard]
        if radio.band not in bands:
            what = f"802.11{radio.standard} does not exist in {radio.band} GHz"
            found.append(_problem(loaded, f"{path}.standard", what, f"Its bands are {', '.join(bands)} GHz."))
        if radio.width_mhz is not None and radio.width_mhz > WIDEST_MHZ[radio.standard]:
            what = f"802.11{radio.standard} has no channels of {radio.width_mhz} MHz"
            widest = f"The widest is {WIDEST_MHZ[radio.standard]} MHz."
            found.append(_problem(loaded, f"{path}.width_mhz", what, widest))
        if radio.streams is not None and radio.streams > MOST_STREAMS[radio.standard]:
            what = f"802.11{radio.standard} has no {radio.streams} streams"
            found.append(_problem(loaded, f"{path}.streams", what, f"The most is {MOST_STREAMS[radio.standard]}."))
        short = radio.standard in ("n", "ac")
        if radio.guard_ns is not None and radio.guard_ns not in ((400, 800) if short else (800, 1600, 3200)):
            what = f"802.11{radio.standard} has no guard interval of {radio.guard_ns} ns"
            allowed = "400 or 800" if short else "800, 1600 or 3200"
            found.append(_problem(loaded, f"{path}.guard_ns", what, f"It has {allowed} ns."))
    for rate in radio.basic_rates_mbps:
        if rate not in LEGACY_RATES_MBPS[radio.band]:
            what = f"there is no basic rate of {rate:g} Mb/s in {radio.band} GHz"
            rates = ", ".join(f"{known:g}" for known in LEGACY_RATES_MBPS[radio.band])
            found.append(_problem(loaded, f"{path}.basic_rates_mbps", what, f"There are {rates} Mb/s."))
    if radio.width_mhz is not None and radio.width_mhz not in WIDTHS_MHZ[radio.band]:
        what = f"there are no channels of {radio.width_mhz} MHz in {radio.band} GHz"
        widths = ", ".join(str(width) for width in WIDTHS_MHZ[radio.band])
        found.append(_problem(loaded, f"{path}.width_mhz", what, f"There are {widths} MHz."))
    elif isinstance(radio.channel, int):
        wrong = _channel(radio.band, radio.channel, radio.width_mhz or 20, radio.secondary)
        if wrong:
            found.append(_problem(loaded, f"{path}.channel", *wrong))
    return found


def _channel(band: str, channel: int, width_mhz: int, secondary: str | None) -> tuple[str, str] | None:
    """What is wrong with a channel and what to do, or None."""
    if channel not in channels_of(band):
        known = ", ".join(str(number) for number in channels_of(band)[:12])
        return f"there is no channel {channel} in {band} GHz", f"Channels there: {known} …"
    if width_mhz not in WIDTHS_MHZ[band]:
        widths = ", ".join(str(width) for width in WIDTHS_MHZ[band])
        return f"there are no channels of {width_mhz} MHz in {band} GHz", f"There are {widths} MHz."
    above = side(secondary, channel)  # type: ignore[arg-type]
    if not is_valid_channel(band, channel, width_mhz, above):
        return (
            f"channel {channel} cannot be {width_mhz} MHz wide",
            "Use a narrower width, or a channel that belongs to a block of this width.",
        )
    return None
