"""The screen a student glances at while the model moves: what now, what next, large and calm."""

from __future__ import annotations

import math
import re
import textwrap

from rich.cells import cell_len, set_cell_size
from rich.text import Text

from coach.taps.order import KEYS, by_key
from coach.terminal.horizon import NOSE, PLAIN_NOSE, horizon
from coach.terminal.lettering import big
from coach.terminal.seen import MarkState, View
from coach.words import side_of

Row = list[tuple[str, str]]
"""One row of the screen: stretches of text, each with its style."""

_LABEL = 7  # columns of the words that stand before a block
_LEAST_PICTURE = 5  # rows
_WORDS_BESIDE = 13  # columns for "you 31° right" after a big number
_MARKS: dict[MarkState, tuple[str, str, str]] = {
    "tapped": ("●", "(o)", "bold green"),
    "missed": ("×", "(x)", "bold yellow"),
    "unheard": ("?", "(?)", "bold"),
    "passed": ("–", "(-)", ""),
    "coming": ("○", "( )", ""),
}
"""Each one's sign, the same in ASCII, and its style."""

_PLAIN_SIGNS = str.maketrans({"°": " deg", "·": "-", "–": "-", "—": "-", "’": "'", "…": "..."})


def draw(view: View, width: int, height: int, plain: bool = False) -> Text:
    """The whole screen as text of at most ``height`` lines, none wider than ``width`` cells.

    Below 60 by 16 it is a few plain lines, the most needed first.

    Args:
        view: what to show.
        width: columns of the terminal.
        height: rows of the terminal.
        plain: ASCII only, for a console that can show nothing else
            (``console.options.ascii_only``).
    """
    small = width < 60 or height < 16
    lines = _few_lines(view, width) if small else _full(view, width, height, plain)
    whole = Text(no_wrap=True, overflow="crop", end="")
    for number, line in enumerate(lines[: max(0, height)]):
        whole.append("\n" if number else "")
        left = max(0, width)
        for text, style in line:
            text = _shown(text, left, plain)
            whole.append(text, style)
            left -= cell_len(text)
    return whole


def _full(view: View, width: int, height: int, plain: bool) -> list[Row]:
    """Every row belongs to a block; blank rows and the picture share what the blocks leave."""
    room = width - _LABEL - 1
    now_rows = 11 if height >= 36 else 6 if height >= 24 else 3
    next_rows = 5 if height >= 36 else 3
    word_rows = 3 if height >= 24 else 2
    spare = height - (now_rows + _LEAST_PICTURE + next_rows + word_rows + 3)
    gaps = min(4, spare // 3)
    return [
        _title(view, width),
        *_gap(gaps >= 2),
        *_labelled("now", [[(row, "bold")] for row in big(_now(view), room, now_rows, plain)]),
        *_gap(gaps >= 4),
        *_attitude(view, width, _LEAST_PICTURE + spare - gaps, plain),
        *_gap(gaps >= 1),
        *_next(view, room, next_rows, plain),
        *_gap(gaps >= 3),
        *_words(view, room, word_rows),
        _taps(view, width, plain),
        _keys(view),
    ]


def _few_lines(view: View, width: int) -> list[Row]:
    ahead = view.next_name and view.shows != "nothing ahead"
    numbers = view.shows == "everything"
    lines = (
        _now(view),
        f"nose {_told(*_pitch(view))}, {_told(*_bank(view))}" if numbers else "",
        f"{view.next_name} in {_seconds(view.next_in_s)} s" if ahead else "",
        view.caption,
        f"hand {view.hand}" if view.hand else "",
        re.sub(" {2,}", "  ", "".join(text for text, _ in _keys(view)).strip()),
        view.message,
        ", ".join(_figures(view)) if numbers else "",
        _title_words(view).strip(),
    )
    return [[(row, "")] for line in lines for row in textwrap.wrap(line, max(1, width))]


def _title_words(view: View) -> str:
    which = f"loop {view.loop} of {view.loops}, " if view.loops > 1 else ""
    leg = "" if view.state in ("running", "finished") else f" · {view.leg}"
    return f" {view.title} · {which}to the {view.side}{leg}"


def _title(view: View, width: int) -> Row:
    words = _title_words(view)
    right, ink = (f"hand {view.hand}", "bold") if view.hand else (view.airplane, "dim")
    if view.hand:  # which is always told
        words = _shown(words, max(0, width - len(right) - 3), plain=False)
    space = width - cell_len(words) - cell_len(right) - 1
    return [(words, "bold"), (" " * space + right if space >= 2 else "", ink)]


def _now(view: View) -> str:
    if view.state == "count-in":
        return f"starting in {_seconds(view.count_in_s)}"
    if view.state == "running":
        return f"loop {view.loop}" if view.shows == "nothing ahead" else view.leg
    return view.state


def _attitude(view: View, width: int, rows: int, plain: bool) -> list[Row]:
    """The picture over the nose on the left, the same attitude in numbers on the right."""
    if view.shows == "nothing ahead":
        return _gap(rows)
    each = 5 if rows >= 12 else 3 if rows >= 7 else 2
    across = 22 if each >= 5 else 12
    figures: list[Row] = []
    pitch, bank = view.hand_pitch_deg, view.hand_bank_deg
    own = None if pitch is None or bank is None else (pitch, bank)
    sign = "" if plain else "°"
    yours = (_own(pitch, sign, "up", "down"), _own(bank, sign, "right", "left"))
    for label, (degrees, side), own_words in zip(
        ("nose", "bank"), (_pitch(view), _bank(view)), yours, strict=True
    ):
        number = f"{degrees} deg" if plain else f"{degrees}°"
        for row, drawn in enumerate(big(number, across, each, plain)):
            beside = row == (each - 1) // 2
            figures.append(
                [
                    (f"{label if beside else '':<{_LABEL}}", "dim"),
                    (f"{drawn:<{across}}", "bold"),
                    (side if beside else own_words if row == (each + 1) // 2 else "", "bold"),
                ]
            )
    spare = rows - 1 - len(figures)
    figures[each:each] = _gap(min(1, spare))
    figures += _gap(spare - min(1, spare))
    figures.append([(" " * _LABEL + "    ".join(_figures(view)), "bold")])
    if view.shows == "no numbers":
        figures = _gap(rows)
    land = horizon(
        view.pitch_deg,
        view.bank_deg,
        width - 4 - _LABEL - across - _WORDS_BESIDE,
        rows,
        plain,
        own,
    )
    lines: list[Row] = []
    for picture_row, figure in zip(land, figures, strict=True):
        left, nose, right = picture_row.partition(PLAIN_NOSE if plain else NOSE)
        lines.append(
            [(f" {left}", "dim green"), (nose, "bold"), (f"{right}   ", "dim green"), *figure]
        )
    return lines


def _next(view: View, room: int, rows: int, plain: bool) -> list[Row]:
    if not view.next_name or view.state == "finished" or view.shows == "nothing ahead":
        return _gap(rows)
    across = 18 if rows >= 5 else 13
    number = _seconds(view.next_in_s)
    words: list[Row] = [
        [("second to " if number == "1" else "seconds to ", ""), (view.next_name, "bold")],
        [(view.next_reference, "")],
        [(_bar(view.next_in_s, view.next_of_s, room - across - 1, plain), "cyan")],
    ]
    above = (rows - len(words)) // 2
    words = _gap(above) + words + _gap(rows - len(words) - above)
    drawn = big(number, across, rows, plain)
    return _labelled(
        "next",
        [[(f"{row:<{across}}", "bold"), *word] for row, word in zip(drawn, words, strict=True)],
    )


def _bar(left_s: float, whole_s: float, width: int, plain: bool) -> str:
    share = max(0.0, min(1.0, left_s / whole_s)) if whole_s > 0 else 0.0
    if plain:
        return "#" * round(share * width)
    eighths = round(share * width * 8)
    return "█" * (eighths // 8) + " ▏▎▍▌▋▊▉"[eighths % 8].strip()


def _words(view: View, room: int, rows: int) -> list[Row]:
    """What is being said, and in the last rows a message where there is one."""
    message = textwrap.wrap(view.message, room, max_lines=rows - 1, placeholder=" …")
    said = min(2, rows - len(message))
    caption = textwrap.wrap(view.caption, room, max_lines=said, placeholder=" …")
    lines: list[Row] = [[(row, "bold")] for row in caption]
    lines += _gap(rows - len(caption) - len(message)) + [[(row, "yellow")] for row in message]
    return _labelled("coach", lines)


def _taps(view: View, width: int, plain: bool) -> Row:
    dots = {state: signs[plain] for state, signs in _MARKS.items()}
    if view.counts:
        counts = "   ".join(f"{name} {count}" for name, count in view.counts)
        return [(f" {'taps':<{_LABEL}}", "dim"), (counts, "bold")]
    if not view.marks:
        return []
    marks = [(f"{dots[mark.state]} {mark.name}   ", _MARKS[mark.state][2]) for mark in view.marks]
    line = [(f" {'taps':<{_LABEL}}", "dim"), *marks]
    legend = f"   {dots['tapped']} tapped   {dots['missed']} missed"
    if any(mark.state == "passed" for mark in view.marks):
        legend = f"   {dots['tapped']} tapped   {dots['passed']} passed"
    if any(mark.state == "unheard" for mark in view.marks):
        legend += f"   {dots['unheard']} not perceived"
    used = sum(cell_len(text) for text, _ in line) + cell_len(legend)
    return [*line, (legend, "dim")] if used <= width else line


def _keys(view: View) -> Row:
    given = [(key, by_key(key, paused=view.state == "paused")) for key in KEYS]
    keys = [(key, str(order)) for key, order in given if view.state != "finished" or key != "p"]
    if view.state in ("count-in", "running"):
        keys = [("own key" if view.counts else "space", "tap"), *keys]
    line: Row = [(" ", "")]
    for key, what in keys:
        line += [(key, "bold"), (f" {what}    ", "dim")]
    return line


def _labelled(label: str, block: list[Row]) -> list[Row]:
    """A block with a quiet word before its first used row."""
    used = (row for row, line in enumerate(block) if any(text.strip() for text, _ in line))
    first = next(used, 0)
    return [
        [(f" {label if row == first else '':<{_LABEL}}", "dim"), *line]
        for row, line in enumerate(block)
    ]


def _gap(rows: int) -> list[Row]:
    return [[] for _ in range(rows)]


def _seconds(left_s: float) -> str:
    """Whole seconds still to go, so that 0 stands exactly when the moment has come."""
    return str(max(0, math.ceil(left_s)))


def _pitch(view: View) -> tuple[int, str]:
    """Whole degrees, and to which side."""
    degrees = round(view.pitch_deg)
    side = f"{'above' if degrees > 0 else 'below'} level" if degrees else "level"
    return abs(degrees), side


def _bank(view: View) -> tuple[int, str]:
    """Whole degrees, and to which side."""
    degrees = round(view.bank_deg)
    return abs(degrees), side_of(degrees) if degrees else "wings level"


def _own(degrees: float | None, sign: str, above: str, below: str) -> str:
    """The same of the student's own hand, in as few letters as there is room for."""
    if degrees is None:
        return ""
    whole = round(degrees)
    return f"you {abs(whole)}{sign} {above if whole > 0 else below}" if whole else "you level"


def _told(degrees: int, side: str) -> str:
    return f"{degrees}° {side}" if degrees else side


def _figures(view: View) -> tuple[str, str]:
    return f"{round(view.ias_kt)} kt", f"{round(view.altitude_ft):,} ft"


def _shown(text: str, width: int, plain: bool) -> str:
    """Text cut to ``width`` after a word, without signs that move the cursor or cannot be shown."""
    text = "".join(sign if sign.isprintable() else " " for sign in text)
    if plain:
        text = text.translate(_PLAIN_SIGNS).encode("ascii", "replace").decode()
    if cell_len(text) <= width:
        return text
    fits = set_cell_size(text, width)
    if text.startswith(f"{fits.rstrip()} "):
        return fits
    words, _, _ = fits.rpartition(" ")
    return set_cell_size(words, width) if words.strip() else fits
