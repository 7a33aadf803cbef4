"""Captions: a cue sheet's phrases as WebVTT, for the eyes and for people who cannot hear.

Format: W3C, WebVTT: The Web Video Text Tracks Format, https://www.w3.org/TR/webvtt1/
"""

from __future__ import annotations

from coach.callouts.cuesheet import CueSheet
from coach.words import timestamp


def webvtt(sheet: CueSheet) -> str:
    """Every phrase with its time; tones have no caption.

    Args:
        sheet: what is said when. A phrase that would not show for a millisecond shows for one,
            because WebVTT wants an end after the start.

    Returns:
        The text of a ``.vtt`` file, to be written as UTF-8.
    """
    blocks = ["WEBVTT\n"]
    for cue in sheet.cues:
        if cue.phrase is None:
            continue
        start_ms = round(cue.start_s * 1000)
        end_ms = max(round(cue.end_s * 1000), start_ms + 1)
        blocks.append(f"{timestamp(start_ms)} --> {timestamp(end_ms)}\n{_plain(cue.phrase.text)}\n")
    return "\n".join(blocks)


def _plain(text: str) -> str:
    # One line, because a blank line would end the cue; and no markup by accident.
    line = " ".join(text.split())
    return line.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
