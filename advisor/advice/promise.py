"""What can be promised for each place: what holds in nine of ten draws, and the assumptions that would void it."""

from __future__ import annotations

from math import floor, log10

import numpy as np

from advisor.advice.records import Ask, Candidate, Promise
from advisor.advice.score import DIRECTIONS, MET, gets
from advisor.advice.trials import ASSUMPTIONS, POINTS, Trial
from advisor.facts import everyone, places, uses
from advisor.facts.book import Book
from advisor.subjects import place as place_subject
from advisor.values import FIRST_DRAW, Known

SURE = 0.9
"""Share of the draws in which a promise must hold."""


def promises(
    candidate: Candidate, asks: tuple[Ask, ...], counted: tuple[Ask, ...], trial: Trial
) -> tuple[Promise, ...]:
    """One for every place where anything is asked for; `counted` are the asks the trial has rows of."""
    names = sorted({ask.place for ask in asks})
    return tuple(_promise(candidate.book, name, asks, counted, trial) for name in names)


def _promise(book: Book, name: str, asks: tuple[Ask, ...], counted: tuple[Ask, ...], trial: Trial) -> Promise:
    own = [ask for ask in asks if ask.place == name]
    speeds = {direction: _speed(book, name, direction) for direction in DIRECTIONS}
    calls = book.site.places[name].calls
    call_holds = bool(calls) and _call_holds(book, name)
    holds = all(_met(book, ask) for ask in own) and (call_holds or not calls)
    clients = everyone.active(book, name)
    who = "each of its clients" if clients > 1 else "its client"
    told = [f"{_two_digits(mbps):g} Mb/s {direction}" for direction, mbps in speeds.items() if mbps >= 0.1]
    if not told:
        return Promise(name, f"{name}: nothing can be promised.", False, ())
    sentence = f"{name}: {who} gets at least {' and '.join(told)} while everyone is active"
    short = [f"{ask.mbps:g} Mb/s {ask.direction}" for ask in own if ask.when == "everyone" and not _met(book, ask)]
    if calls:
        sentence += "; a call holds" if call_holds else "; a call cannot be promised"
    if short:
        sentence += f" (asked for: {' and '.join(short)})"
    return Promise(name, f"{sentence}.", holds, _void(name, own, counted, trial))


def _speed(book: Book, name: str, direction: str) -> float:
    """The speed each active client gets in nine of ten draws."""
    value = places.with_everyone(book, place_subject(name), direction, "likely").value
    return min(float(value.low), float(value.centre)) if isinstance(value, Known) else 0.0


def _met(book: Book, ask: Ask) -> bool:
    value = gets(book, ask)
    if not isinstance(value, Known):
        return False
    got = np.broadcast_to(np.asarray(value.raw, dtype=float), (book.draws.size,))
    return bool(np.mean(got[FIRST_DRAW:] >= ask.mbps * MET) >= SURE)


def _call_holds(book: Book, name: str) -> bool:
    value = uses.holds_call(book, place_subject(name)).value
    return isinstance(value, Known) and bool(value.low)


def _two_digits(mbps: float) -> float:
    """Rounded down to two digits, so that no more is promised than was computed."""
    step = 10.0 ** (floor(log10(mbps)) - 1)
    return round(floor(mbps / step + 1e-9) * step, 6)


def _void(name: str, own: list[Ask], counted: tuple[Ask, ...], trial: Trial) -> tuple[str, ...]:
    """Assumptions at one end of which what is typically met is not, all else typical; with the value where it ends."""
    rows = [number for number, ask in enumerate(counted) if ask.place == name]
    found = []
    for number, assumption in enumerate(ASSUMPTIONS):
        if not trial.open(assumption):
            continue
        grid = trial.shares[rows, number * POINTS : (number + 1) * POINTS]
        usual = grid[:, POINTS // 2] >= MET
        lost = np.count_nonzero(usual[:, None] & (grid < MET), axis=0)
        if lost.any():
            end = assumption.ends[1] if lost[-1] else assumption.ends[0]
            found.append(f"{assumption.what}: {end}")
    return tuple(found)
