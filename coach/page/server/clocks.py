"""Other clocks related to the room's: the phones' and the loudspeaker's.

The room's clock is the server's `time.perf_counter`. A browser's clock is its ``performance.now()``
in seconds; it is related by repeated exchanges of four times, as in NTP (RFC 5905, section 8):
asked T1 and heard T4 on the room's clock, received T2 and answered T3 on the browser's. One
exchange says that the browser's clock is ahead of the room's by

    offset = ((T2 - T1) + (T3 - T4)) / 2,   give or take   delay / 2 = ((T4 - T1) - (T3 - T2)) / 2,

for neither message can have arrived before it was sent. An exchange is therefore an interval that
the truth lies in, and all of them together leave what they have in common: the least delay of each
direction counts, whichever exchanges they came from, and long ones do no harm.
"""

from __future__ import annotations

import math
import statistics
from collections import deque
from dataclasses import dataclass
from itertools import combinations

KEPT = 120
"""Exchanges looked at: four minutes of one every two seconds."""

WANDER = 50e-6
"""By how much a quartz clock may wander from its fitted rate, seconds a second. RFC 5905 takes
15e-6 for a computer's; a phone in a warm hand is given more (a guess of ours)."""

FASTEST_DRIFT = 100e-6
"""How far off a clock's rate may be, seconds a second (from memory: quartz is good to that)."""

JUMP_S = 0.005
"""A clock that says something impossible by more than this has jumped. Browsers round their clocks
to 1 ms or less, and add as much noise, so that nobody can be recognised by them."""

SETTLED_AFTER = 5
"""Exchanges that show a clock well enough for taps."""


@dataclass(frozen=True)
class Exchange:
    """One question and its answer, all in seconds.

    Attributes:
        asked_s: T1, on the room's clock.
        received_s: T2, on the browser's.
        answered_s: T3, on the browser's.
        heard_s: T4, on the room's.
    """

    asked_s: float
    received_s: float
    answered_s: float
    heard_s: float

    @property
    def offset_s(self) -> float:
        """How far the browser's clock is ahead of the room's, if both ways took equally long."""
        return (self.received_s - self.asked_s + self.answered_s - self.heard_s) / 2.0

    @property
    def delay_s(self) -> float:
        """How long both messages were on their way together."""
        return (self.heard_s - self.asked_s) - (self.answered_s - self.received_s)


@dataclass(frozen=True)
class Relation:
    """How a browser's clock stands to the room's about one moment.

    Attributes:
        at_s: that moment, on the room's clock.
        offset_s: how far the browser's is ahead then.
        drift: by how much that grows a second.
        uncertainty_s: half the width of what the offset may be.
    """

    at_s: float
    offset_s: float
    drift: float
    uncertainty_s: float

    def room_s(self, browser_s: float) -> float:
        """A time of the browser's clock on the room's."""
        ahead_s = browser_s - self.offset_s - self.at_s
        return self.at_s + ahead_s / (1.0 + self.drift)


class BrowserClock:
    """A browser's clock, learned from exchanges."""

    def __init__(self) -> None:
        self._exchanges: deque[Exchange] = deque(maxlen=KEPT)
        self._relation: Relation | None = None

    @property
    def settled(self) -> bool:
        """Whether it is known well enough for taps."""
        return len(self._exchanges) >= SETTLED_AFTER

    @property
    def relation(self) -> Relation | None:
        """How it stands to the room's; None before the first exchange."""
        if self._relation is None and self._exchanges:
            self._relation = _related(tuple(self._exchanges))
        return self._relation

    @property
    def uncertainty_ms(self) -> float | None:
        """Half the width of what its offset may be; None before it is known well enough."""
        if not self.settled or self.relation is None:
            return None
        return round(1000.0 * self.relation.uncertainty_s, 1)

    @property
    def heard_s(self) -> float:
        """When the last answer came, on the room's clock; minus infinity before it."""
        return self._exchanges[-1].heard_s if self._exchanges else float("-inf")

    def learn(self, exchange: Exchange) -> bool:
        """Take an exchange in.

        Returns:
            Whether the clock has jumped (the phone slept, or was set): what it said before is then
            forgotten, and this exchange is the first of the new clock. An exchange that cannot be
            (it took less than no time) is left out.
        """
        if exchange.delay_s < -JUMP_S:
            return False
        known = self.relation
        jumped = False
        if known is not None:
            expected = known.offset_s + known.drift * (exchange.heard_s - known.at_s)
            room = known.uncertainty_s + exchange.delay_s / 2.0 + JUMP_S
            jumped = abs(exchange.offset_s - expected) > room
        if jumped:
            self._exchanges.clear()
        self._exchanges.append(exchange)
        self._relation = None
        return jumped


def _related(exchanges: tuple[Exchange, ...]) -> Relation:
    """What the exchanges have in common at the last one's time, their drift taken off."""
    now = exchanges[-1].heard_s
    drift, wander = _drift(exchanges)
    low, high = float("-inf"), float("inf")
    for one in exchanges:
        age = now - one.heard_s
        moved = one.offset_s + drift * age
        half = max(one.delay_s, 0.0) / 2.0 + wander * age
        low, high = max(low, moved - half), min(high, moved + half)
    # Rounded clocks may leave less than nothing in common: the middle is still the best guess.
    return Relation(now, (low + high) / 2.0, drift, abs(high - low) / 2.0)


def _drift(exchanges: tuple[Exchange, ...]) -> tuple[float, float]:
    """A clock's rate, and how far it may be from that.

    The rate is that of the quicker exchanges by their middle slope (Theil and Sen); none where
    their delays leave more doubt of it than a clock wanders: the more of them, the less.
    """
    quick = sorted(exchanges, key=lambda one: one.delay_s)[: max(2, len(exchanges) // 4)]
    times = [one.heard_s for one in quick]
    span = max(times) - min(times)
    if len(quick) < SETTLED_AFTER or span <= 0.0:
        return 0.0, FASTEST_DRIFT
    doubt = (quick[-1].delay_s - quick[0].delay_s) / (span * math.sqrt(len(quick)))
    if doubt > WANDER:
        return 0.0, FASTEST_DRIFT
    slope = statistics.median(
        (b.offset_s - a.offset_s) / (b.heard_s - a.heard_s)
        for a, b in combinations(quick, 2)
        if abs(b.heard_s - a.heard_s) > span / 4.0
    )
    return max(-FASTEST_DRIFT, min(FASTEST_DRIFT, slope)), WANDER


_REPORTS = 15
_APART_S = 0.05


class Loudspeaker:
    """What was heard when: the soundtrack's position against the room's clock.

    The instructor's page tells about twice a second. Between two pauses or jumps the sound moves
    on by one second in a second, so each report is one guess at when position 0 would have been
    heard, and the middle one of the last few is taken.
    """

    def __init__(self) -> None:
        self._spells: list[_Spell] = []

    def heard(self, room_s: float, position_s: float, playing: bool) -> None:
        """At that time of the room's clock that position was heard, and went on or stood."""
        last = self._spells[-1] if self._spells else None
        origin_s = room_s - position_s
        if last is None or playing != last.playing or abs(origin_s - last.origin_s) > _APART_S:
            last = _Spell(room_s, playing)
            self._spells.append(last)
        last.origins.append(origin_s)

    def position_s(self, room_s: float) -> float | None:
        """What was heard then; None while nothing was playing."""
        for spell in reversed(self._spells):
            if room_s >= spell.begin_s or spell is self._spells[0]:
                return room_s - spell.origin_s if spell.playing else None
        return None

    @property
    def known(self) -> bool:
        """Whether it has told anything yet."""
        return bool(self._spells)


class _Spell:
    """Sound that plays, or stands, from one moment on."""

    def __init__(self, begin_s: float, playing: bool) -> None:
        self.begin_s = begin_s
        self.playing = playing
        self.origins: deque[float] = deque(maxlen=_REPORTS)

    @property
    def origin_s(self) -> float:
        return statistics.median(self.origins)
