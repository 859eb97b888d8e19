"""What collisions take, by how many send."""

from __future__ import annotations

import pytest

from advisor.facts.clashes import KEPT, equal_senders, kept_share
from advisor.physics.airtime import Link
from advisor.physics.chain_share import sender_of, together
from advisor.physics.mac import mac_settings
from advisor.physics.saturation import efficiency


def test_alone_nothing_clashes() -> None:
    assert kept_share(1) == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize(("senders", "kept"), [(2, (0.92, 0.97)), (5, (0.75, 0.85)), (10, (0.65, 0.78))])
def test_the_more_send_the_more_is_lost(senders: int, kept: tuple[float, float]) -> None:
    """Two equal hops in the packet simulator: 0.92 to 0.97 of the harmonic half. Bianchi 2000, basic access with
    W 16 and long frames, loses a fifth to a third for 5 to 10 senders (figures 6 and 7, read for larger windows)."""
    assert kept[0] <= kept_share(senders) <= kept[1]
    assert kept_share(senders + 1) < kept_share(senders)


def test_unequal_senders_count_for_less() -> None:
    assert equal_senders([0.2, 0.2, 0.2]) == pytest.approx(3.0)
    assert equal_senders([0.9, 0.0]) == pytest.approx(1.0)
    assert 1.0 < equal_senders([0.9, 0.1]) < 2.0
    assert equal_senders([]) == 0.0


@pytest.mark.parametrize(
    "link",
    [
        Link("ax", "5", 80, 5, 2, 800, mac_settings("usual-gear")),
        Link("n", "2.4", 20, 3, 1, 400, mac_settings("usual-gear")),
        Link("ac", "5", 80, 9, 2, 400, mac_settings("large-aggregates")),
    ],
)
def test_the_table_is_what_contention_gives(link: Link) -> None:
    """Whatever the standard and rate: what counts is how many send."""
    for senders, kept in enumerate(KEPT, 1):
        computed = float(efficiency(together([sender_of(link, 1500)] * senders)))
        assert kept == pytest.approx(min(computed, 1.0), abs=0.01)
