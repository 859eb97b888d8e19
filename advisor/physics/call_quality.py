"""How good a telephone call is: the E-model of ITU-T G.107, its short form, and what it needs from a row of packets.

Clauses, equations and tables are those of G.107 (06/2015): narrow-band telephony by handset. The rating R is a planning
figure for the average user, not one person's opinion. Delays are milliseconds one way, mouth to ear: packet time,
network, jitter buffer and all. Losses are per cent, packets too late for the jitter buffer included.

Outside the model: wide-band speech (G.107.1), delays above 500 ms, losses above 20 %, burst ratios above 2 unless less
than 2 % is lost (Annex A). It knows the mean length of losses only, so one long gap in a long call is averaged away:
rate windows of 8 to 10 s.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal, NamedTuple

import numpy as np

from advisor.data import catalogue
from advisor.physics.arrays import Number, plain
from advisor.trace import formula

SHORT_FORM_R0 = 93.2
"""R with all default values, rounded (7.7); what the short form starts from."""
LOWEST_INVERTED_R = 6.5
"""Below it the opinion score does not rise with R (Appendix I)."""

Sensitivity = Literal["default", "low", "very_low"]
SENSITIVITIES: dict[Sensitivity, tuple[float, float]] = {
    "default": (1.0, 100.0),
    "low": (0.55, 120.0),
    "very_low": (0.4, 150.0),
}
"""sT and mT (ms) of the classes of delay sensitivity (Table 1); telephony of carriers and firms is `default`."""


@dataclass(frozen=True, slots=True)
class Connection:
    """Both telephones, their rooms and the line between them: default values (Table 3; Table 2 until 2014).

    Loudness and echo in dB, room noise in dB(A), noise of the line in dBm0p. LSTR is not given: it is STMR + Dr.
    """

    slr_db: Number = 8.0
    """Send loudness rating; 0 to 18."""
    rlr_db: Number = 2.0
    """Receive loudness rating; -5 to 14."""
    stmr_db: Number = 15.0
    """Sidetone masking rating; 10 to 20."""
    ds: Number = 3.0
    """D-value of the telephone, send side; -3 to 3."""
    dr: Number = 3.0
    """D-value of the telephone, receive side; -3 to 3."""
    telr_db: Number = 65.0
    """Talker echo loudness rating; 5 to 65."""
    wepl_db: Number = 110.0
    """Weighted echo path loss; 5 to 110."""
    qdu: Number = 1.0
    """Quantizing distortion units; 1 to 14."""
    nc_dbm0p: Number = -70.0
    """Circuit noise; -80 to -40."""
    nfor_dbmp: Number = -64.0
    """Noise floor at the receive side."""
    ps_dba: Number = 35.0
    """Room noise at the send side; 35 to 85."""
    pr_dba: Number = 35.0
    """Room noise at the receive side; 35 to 85."""
    sensitivity: Sensitivity = "default"

    @property
    def lstr_db(self) -> Any:
        """Listener sidetone rating."""
        return np.asarray(self.stmr_db)[()] + self.dr


DEFAULTS = Connection()


class Rating(NamedTuple):
    """R and the terms it is made of: R = Ro - Is - Id - Ie,eff + A, Id = Idte + Idle + Idd."""

    r: Any
    ro: Any
    simultaneous: Any
    talker_echo: Any
    listener_echo: Any
    delay: Any
    equipment: Any
    advantage: Any


def noise_dbm0p(connection: Connection = DEFAULTS) -> Any:
    """No: the power sum of circuit noise, both rooms and the noise floor at the 0 dBr point (eqs 7-3 to 7-7), dBm0p."""
    c = connection
    olr = np.asarray(c.slr_db) + c.rlr_db
    nos = c.ps_dba - np.asarray(c.slr_db) - c.ds - 100.0 + 0.004 * (c.ps_dba - olr - c.ds - 14.0) ** 2
    pre = c.pr_dba + 10.0 * np.log10(1.0 + 10.0 ** ((10.0 - c.lstr_db) / 10.0))
    nor = c.rlr_db - 121.0 + pre + 0.008 * (pre - 35.0) ** 2
    nfo = c.nfor_dbmp + np.asarray(c.rlr_db)
    powers = sum(10.0 ** (np.asarray(level) / 10.0) for level in (c.nc_dbm0p, nos, nor, nfo))
    return plain(10.0 * np.log10(powers))


def basic_rating(connection: Connection = DEFAULTS) -> Any:
    """Ro, the signal-to-noise ratio as a rating: 15 - 1.5 (SLR + No) (eq. 7-2)."""
    return 15.0 - 1.5 * (np.asarray(connection.slr_db)[()] + noise_dbm0p(connection))


def _sidetone(connection: Connection, echo_delay_ms: Number) -> Any:
    """Ist (eqs 7-11, 7-12)."""
    echo = np.exp(-np.asarray(echo_delay_ms, dtype=float) / 4.0) * 10.0 ** (-np.asarray(connection.telr_db) / 10.0)
    stmro = -10.0 * np.log10(10.0 ** (-np.asarray(connection.stmr_db) / 10.0) + echo)
    return (
        12.0 * (1.0 + ((stmro - 13.0) / 6.0) ** 8) ** (1 / 8)
        - 28.0 * (1.0 + ((stmro + 1.0) / 19.4) ** 35) ** (1 / 35)
        - 13.0 * (1.0 + ((stmro - 3.0) / 33.0) ** 13) ** (1 / 13)
        + 29.0
    )


def simultaneous_impairment(connection: Connection = DEFAULTS, *, echo_delay_ms: Number = 0.0) -> Any:
    """Is = Iolr + Ist + Iq: too loud a connection, sidetone out of range, quantizing (eqs 7-8 to 7-17).

    `echo_delay_ms` is T: a talker's echo within some milliseconds adds to the sidetone.
    """
    c = connection
    xolr = np.asarray(c.slr_db) + c.rlr_db + 0.2 * (64.0 + noise_dbm0p(c) - c.rlr_db)
    too_loud = 20.0 * ((1.0 + (xolr / 8.0) ** 8) ** (1 / 8) - xolr / 8.0)
    q = 37.0 - 15.0 * np.log10(np.asarray(c.qdu, dtype=float))
    g = 1.07 + 0.258 * q + 0.0602 * q**2
    y = (basic_rating(c) - 100.0) / 15.0 + 46.0 / 8.4 - g / 9.0
    z = 46.0 / 30.0 - g / 40.0
    quantizing = 15.0 * np.log10(1.0 + 10.0**y + 10.0**z)
    return plain(too_loud + _sidetone(c, echo_delay_ms) + quantizing)


def talker_echo_impairment(connection: Connection = DEFAULTS, *, echo_delay_ms: Number) -> Any:
    """Idte: hearing oneself after T = `echo_delay_ms`, one way; 0 below 1 ms (eqs 7-19 to 7-24).

    Where the sidetone lies outside 9 to 20 dB it is counted in as the standard says. Slightly below 0 (-0.1) for short
    delays and a weak echo, which is the formula's own.
    """
    c, t = connection, np.asarray(echo_delay_ms, dtype=float)
    sidetone, stmr = _sidetone(c, t), np.asarray(c.stmr_db)
    terv = c.telr_db - 40.0 * np.log10((1.0 + t / 10.0) / (1.0 + t / 150.0)) + 6.0 * np.exp(-0.3 * t**2)
    terv = np.where(stmr < 9.0, terv + sidetone / 2.0, terv)
    half = (-1.5 * (noise_dbm0p(c) - c.rlr_db) - (80.0 + 2.5 * (terv - 14.0))) / 2.0
    idte = np.where(t < 1.0, 0.0, (half + np.sqrt(half**2 + 100.0) - 1.0) * (1.0 - np.exp(-t)))
    return plain(np.where(stmr > 20.0, np.hypot(idte, sidetone), idte))


def listener_echo_impairment(connection: Connection = DEFAULTS, *, loop_delay_ms: Number) -> Any:
    """Idle: hearing the other side twice, Tr = `loop_delay_ms` apart (eqs 7-25, 7-26)."""
    loop = np.asarray(loop_delay_ms, dtype=float)
    rle = 10.5 * (np.asarray(connection.wepl_db) + 7.0) * (loop + 1.0) ** -0.25
    half = (basic_rating(connection) - rle) / 2.0
    return plain(half + np.sqrt(half**2 + 169.0))


@formula(
    id="call_quality.pure_delay_impairment",
    unit="",
    expr="25 ((1 + X^(6 sT))^(1/(6 sT)) - 3 (1 + (X/3)^(6 sT))^(1/(6 sT)) + 2), X = log2(Ta / mT); 0 up to mT",
    source="ITU-T G.107 (06/2015) eqs 7-27, 7-28, Table 1",
)
def pure_delay_impairment(*, delay_ms: Number, sensitivity: Sensitivity = "default") -> Any:
    """Idd: waiting for the answer on a line without echo; `delay_ms` is Ta, one way."""
    steepness, least_ms = SENSITIVITIES[sensitivity]
    power = 6.0 * steepness
    x = np.log2(np.maximum(np.asarray(delay_ms, dtype=float), least_ms) / least_ms)
    idd = 25.0 * ((1.0 + x**power) ** (1.0 / power) - 3.0 * (1.0 + (x / 3.0) ** power) ** (1.0 / power) + 2.0)
    return plain(np.maximum(idd, 0.0))


@formula(
    id="call_quality.equipment_impairment",
    unit="",
    expr="Ie + (95 - Ie) Ppl / (Ppl / BurstR + Bpl)",
    source="ITU-T G.107 (06/2015) eq. 7-29; Ie and Bpl by codec from ITU-T G.113 Appendix I",
)
def equipment_impairment(*, ie: Number, bpl: Number, loss_pct: Number = 0.0, burst_ratio: Number = 1.0) -> Any:
    """Ie,eff: what the codec costs, and lost packets with it. `loss_pct` 0 to 100 (validated to 20)."""
    loss = np.asarray(loss_pct, dtype=float)
    return plain(ie + (95.0 - np.asarray(ie)) * loss / (loss / np.asarray(burst_ratio) + bpl))


def rating(
    *,
    delay_ms: Number = 0.0,
    loss_pct: Number = 0.0,
    burst_ratio: Number = 1.0,
    ie: Number = 0.0,
    bpl: Number = 4.3,
    advantage: Number = 0.0,
    connection: Connection = DEFAULTS,
    echo_delay_ms: Number | None = None,
    loop_delay_ms: Number | None = None,
) -> Rating:
    """The transmission rating R with its terms (eq. 7-1): 93.2 with all default values, below 0 where nothing is left.

    `delay_ms` is Ta; `echo_delay_ms` T is the same and `loop_delay_ms` Tr twice that unless given. `advantage` A: what
    users forgive for convenience, at most 0 wired, 5 without wires in a building, 10 in a vehicle (provisional values).
    """
    echo = delay_ms if echo_delay_ms is None else echo_delay_ms
    loop = 2.0 * np.asarray(delay_ms) if loop_delay_ms is None else loop_delay_ms
    ro = basic_rating(connection)
    simultaneous = simultaneous_impairment(connection, echo_delay_ms=echo)
    talker = talker_echo_impairment(connection, echo_delay_ms=echo)
    listener = listener_echo_impairment(connection, loop_delay_ms=loop)
    delay = pure_delay_impairment(delay_ms=delay_ms, sensitivity=connection.sensitivity)
    equipment = equipment_impairment(ie=ie, bpl=bpl, loss_pct=loss_pct, burst_ratio=burst_ratio)
    r = ro - simultaneous - talker - listener - delay - equipment + advantage
    return Rating(r, ro, simultaneous, talker, listener, delay, equipment, advantage)


@formula(
    id="call_quality.r_factor",
    unit="",
    expr="Ro - Is - Id - Ie,eff + A",
    source="ITU-T G.107 (06/2015) eq. 7-1, default values of Table 3 for all but delay, loss and codec",
)
def r_factor(
    *, delay_ms: Number, loss_pct: Number = 0.0, burst_ratio: Number = 1.0, ie: Number = 0.0, bpl: Number = 25.1
) -> Any:
    """R of a call between default telephones; Ie 0 and Bpl 25.1 are G.711 with concealment."""
    return rating(delay_ms=delay_ms, loss_pct=loss_pct, burst_ratio=burst_ratio, ie=ie, bpl=bpl).r


@formula(
    id="call_quality.short_delay_impairment",
    unit="",
    expr="0.024 d + 0.11 (d - 177.3) H(d - 177.3)",
    source="Cole and Rosenbluth, Voice over IP performance monitoring, ACM SIGCOMM CCR 31(2), 2001",
)
def short_delay_impairment(*, delay_ms: Number) -> Any:
    """Id in two straight lines, for default telephones without echo: within 1 of the full Id up to 300 ms, then high
    (3 at 400 ms, 9 at 500 ms)."""
    delay = np.asarray(delay_ms, dtype=float)
    return plain(0.024 * delay + 0.11 * np.maximum(delay - 177.3, 0.0))


@formula(
    id="call_quality.short_r_factor",
    unit="",
    expr="93.2 - Id - Ie,eff",
    source="Cole and Rosenbluth, ACM SIGCOMM CCR 31(2), 2001; ITU-T G.107 (06/2015) 7.7 and eq. 7-29",
)
def short_r_factor(
    *, delay_ms: Number, loss_pct: Number = 0.0, burst_ratio: Number = 1.0, ie: Number = 0.0, bpl: Number = 25.1
) -> Any:
    """R from delay, loss and codec alone; Ie 0 and Bpl 25.1 are G.711 with concealment."""
    lost = equipment_impairment(ie=ie, bpl=bpl, loss_pct=loss_pct, burst_ratio=burst_ratio)
    return SHORT_FORM_R0 - short_delay_impairment(delay_ms=delay_ms) - lost


@formula(
    id="call_quality.mos",
    unit="",
    expr="1 + 0.035 R + 7e-6 R (R - 60) (100 - R), from 1 to 4.5",
    source="ITU-T G.107 (06/2015) Annex B, eq. B-4",
)
def mos(*, r: Number) -> Any:
    """Mean opinion score, 1 to 4.5, that a rating stands for (MOS-CQE).

    The polynomial dips to 0.99 between R = 0 and 6.5; there the score is held at 1, so that it never falls as R rises.
    """
    inside = np.clip(np.asarray(r, dtype=float), 0.0, 100.0)
    return plain(np.maximum(1.0 + 0.035 * inside + 7e-6 * inside * (inside - 60.0) * (100.0 - inside), 1.0))


def r_for_mos(score: Number) -> Any:
    """The rating that gives a mean opinion score: G.107 Appendix I, the middle root of the cubic of eq. B-4.

    From 6.5 (scores of 1 and less, where R may be anything lower) to 100 (4.5 and more).
    """
    c = (np.clip(np.asarray(score, dtype=float), 1.0, 4.5) - 1.0) / 7e-6  # R^3 - 160 R^2 + 1000 R + c = 0
    p, q = 1000.0 - 160.0**2 / 3.0, -2.0 * 160.0**3 / 27.0 + 160.0 * 1000.0 / 3.0 + c
    turn = np.arccos(np.clip(1.5 * q / p * math.sqrt(-3.0 / p), -1.0, 1.0)) / 3.0
    return plain(160.0 / 3.0 + 2.0 * math.sqrt(-p / 3.0) * np.cos(turn - 2.0 * math.pi / 3.0))


def _normal_share(deviation: Any) -> Any:
    """Share of a normal distribution below so many standard deviations."""
    return plain(0.5 * (1.0 + np.vectorize(math.erf, otypes=[float])(np.asarray(deviation) / math.sqrt(2.0))))


def good_or_better(r: Number) -> Any:
    """Share of users who would call the connection good or better (GoB, Annex B, eq. B-2)."""
    return _normal_share((np.asarray(r, dtype=float) - 60.0) / 16.0)


def poor_or_worse(r: Number) -> Any:
    """Share of users who would call the connection poor or worse (PoW, Annex B, eq. B-3)."""
    return _normal_share((45.0 - np.asarray(r, dtype=float)) / 16.0)


def burst_ratio(lost: Any) -> Any:
    """BurstR of rows of packets (last axis; true = lost): mean length of the losses over that of random losses.

    G.107 (06/2015) eq. 7-29 and its text: random losses of share P are 1 / (1 - P) packets long on average, so one gap
    of n packets gives n (1 - P). 1 where nothing or everything is lost. Below 1 losses are more even than random;
    the model counts from 1.
    """
    row = np.asarray(lost, dtype=bool)
    starts = row.copy()
    starts[..., 1:] &= ~row[..., :-1]
    gaps, count = starts.sum(axis=-1), row.sum(axis=-1)
    share_kept = 1.0 - count / max(row.shape[-1], 1)
    return plain(np.where((gaps > 0) & (share_kept > 0), count / np.maximum(gaps, 1) * share_kept, 1.0))


def markov_burst_ratio(*, to_loss: Number, from_loss: Number) -> Any:
    """BurstR of a two-state chain: chances p that a loss follows an arrival, q that an arrival follows a loss.

    1 / (p + q), with a share of p / (p + q) lost (eq. 7-30).
    """
    return plain(1.0 / (np.asarray(to_loss, dtype=float) + from_loss))


def interarrival_jitter_ms(sent_ms: Any, received_ms: Any) -> Any:
    """The interarrival jitter J after each packet of a stream, by times of sending and receiving (last axis).

    J grows by (|D| - J) / 16 with D the change of the transit time since the packet before; 0 after the first (RFC 3550
    6.4.1, A.8, without its rounding to timestamp units). Packets received only, in the order they came; the two clocks
    may be apart but must run alike.
    """
    transit = np.asarray(received_ms, dtype=float) - np.asarray(sent_ms, dtype=float)
    jitter = np.zeros_like(transit)
    for packet in range(1, transit.shape[-1]):
        change = np.abs(transit[..., packet] - transit[..., packet - 1])
        jitter[..., packet] = jitter[..., packet - 1] + (change - jitter[..., packet - 1]) / 16.0
    return jitter


@dataclass(frozen=True, slots=True)
class Codec:
    """A speech codec as the E-model sees it (`data/codecs.yaml`)."""

    name: str
    ie: float
    """Equipment impairment without loss."""
    bpl: float | None
    """Robustness against loss, per cent; None where no value is published."""
    packet_ms: float
    """Speech in one packet, as usually sent."""
    payload_bytes: int
    """Coded speech in one packet, without RTP, UDP and IP headers."""
    source: str

    def impairment(self, *, loss_pct: Number = 0.0, burst_ratio: Number = 1.0) -> Any:
        """Ie,eff of `equipment_impairment`; refuses losses where Bpl is not known."""
        if self.bpl is None and np.any(np.asarray(loss_pct) > 0.0):
            raise ValueError(f"{self.name}: no Bpl is published, so only a loss of 0 can be rated")
        bpl = 1.0 if self.bpl is None else self.bpl
        return equipment_impairment(ie=self.ie, bpl=bpl, loss_pct=loss_pct, burst_ratio=burst_ratio)


def codec_names() -> list[str]:
    """Every codec of the catalogue."""
    return list(catalogue("codecs")["codecs"])


@cache
def codec(name: str) -> Codec:
    """The codec of the catalogue with this name; KeyError if there is none."""
    entry = catalogue("codecs")["codecs"][name]
    bpl = entry.get("bpl")
    return Codec(
        name=name,
        ie=float(entry["ie"]),
        bpl=None if bpl is None else float(bpl),
        packet_ms=float(entry["packet_ms"]),
        payload_bytes=int(entry["payload_bytes"]),
        source=str(entry["source"]),
    )
