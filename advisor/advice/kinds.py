"""Words for the kinds of layouts, as the trade has them."""

from __future__ import annotations

AS_IT_IS = "as it is"
ONE_NAME = "one name"
NAME_PER_BAND = "name per band"
SAME_BAND = "same band"
CROSS_BAND = "cross-band"
WIRED = "wired"
MOVED = "moved"
