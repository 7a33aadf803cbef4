"""What the hand did loop by loop, for the eyes."""

from __future__ import annotations

from rich import box
from rich.console import RenderableType
from rich.table import Table

from coach.debrief.hand import Hand, Loop
from coach.debrief.words import signed
from coach.hand.peaks import Peak, What
from coach.tables import Whole

COLUMNS: dict[What, str] = {
    "greatest pitch": "highest",
    "lowest pitch": "lowest",
    "greatest bank": "steepest",
}


def table(hand: Hand) -> RenderableType:
    """How far off the hand was in each loop, how late, how smooth, and its extremes.

    Off is the root mean square; late by cross-correlation; smooth the spectral arc length, nearer
    to 0 is smoother; what belongs is in brackets, and how late it came beside it, all in own
    seconds. See `coach.hand`.
    """
    columns = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False)
    for name in ("loop", "bank", "pitch", "late", "smooth", *COLUMNS.values()):
        columns.add_column(name, justify="right", no_wrap=True)
    for loop in hand.loops:
        found = {peak.what: _peak(peak, hand) for peak in loop.peaks}
        columns.add_row(*_cells(loop, hand), *(found.get(what, "") for what in COLUMNS))
    return Whole(columns)


def _cells(loop: Loop, hand: Hand) -> list[str]:
    found = loop.whole
    if found is None:
        return [str(loop.loop), "", "", "", ""]
    smooth = (
        ""
        if found.smoothness is None
        else f"{found.smoothness:.1f} ({found.planned_smoothness:.1f})"
    )
    late = None if found.lag_s is None else found.lag_s / hand.pace
    return [
        str(loop.loop),
        f"{found.rms_bank_deg:.1f}°",
        f"{found.rms_pitch_deg:.1f}°",
        signed(late, "", decimals=1),
        smooth,
    ]


def _peak(peak: Peak, hand: Hand) -> str:
    """``"18° (17) +0.3"``; of bank without its side."""
    flown, planned = peak.flown_deg, peak.planned_deg
    if peak.of == "bank":
        flown, planned = flown * (1.0 if planned > 0.0 else -1.0), abs(planned)
    when = signed(peak.late_s and peak.late_s / hand.pace, "", decimals=1)
    return f"{flown:.0f}° ({planned:.0f}){when and f' {when}'}"
