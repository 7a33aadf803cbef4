"""Letters of several rows, made of block characters, to be read from two metres."""

from __future__ import annotations

import textwrap

# Five rows of dots a glyph, from the top.
_GLYPHS = {
    "A": ".#. #.# ### #.# #.#",
    "B": "##. #.# ##. #.# ##.",
    "C": ".## #.. #.. #.. .##",
    "D": "##. #.# #.# #.# ##.",
    "E": "### #.. ##. #.. ###",
    "F": "### #.. ##. #.. #..",
    "G": ".## #.. #.# #.# .##",
    "H": "#.# #.# ### #.# #.#",
    "I": "# # # # #",
    "J": "..# ..# ..# #.# .#.",
    "K": "#.# #.# ##. #.# #.#",
    "L": "#.. #.. #.. #.. ###",
    "M": "#...# ##.## #.#.# #...# #...#",
    "N": "#..# ##.# #.## #..# #..#",
    "O": ".#. #.# #.# #.# .#.",
    "P": "##. #.# ##. #.. #..",
    "Q": ".#. #.# #.# #.# .##",
    "R": "##. #.# ##. #.# #.#",
    "S": ".## #.. .#. ..# ##.",
    "T": "### .#. .#. .#. .#.",
    "U": "#.# #.# #.# #.# ###",
    "V": "#.# #.# #.# #.# .#.",
    "W": "#...# #...# #.#.# ##.## #...#",
    "X": "#.# #.# .#. #.# #.#",
    "Y": "#.# #.# .#. .#. .#.",
    "Z": "### ..# .#. #.. ###",
    "0": "### #.# #.# #.# ###",
    "1": ".# ## .# .# .#",
    "2": "##. ..# .#. #.. ###",
    "3": "### ..# .## ..# ###",
    "4": "#.# #.# ### ..# ..#",
    "5": "### #.. ##. ..# ##.",
    "6": ".## #.. ### #.# ###",
    "7": "### ..# .#. .#. .#.",
    "8": "### #.# ### #.# ###",
    "9": "### #.# ### ..# ##.",
    " ": ".. .. .. .. ..",
    ",": ". . . # #",
    ".": ". . . . #",
    "'": "# # . . .",
    ":": ". # . # .",
    "-": ".. .. ## .. ..",
    "+": "... .#. ### .#. ...",
    "/": "..# ..# .#. #.. #..",
    "°": "## ## .. .. ..",
}


def big(text: str, columns: int, rows: int, plain: bool = False) -> list[str]:
    """A text in the largest letters that fit, broken between words where that helps.

    Args:
        text: shown in capitals; a sign that has no large form keeps the whole text small.
        columns: room across, in character cells.
        rows: room down.
        plain: ASCII only.

    Returns:
        ``rows`` strings, the text in their middle; upper-case text where no large letters fit.
    """
    text = text.upper()
    if all(sign in _GLYPHS for sign in text):
        # Square dots of two cells, tall dots of one, small square dots of half a cell.
        for across, halved in ((2, False), (1, False), (1, True)):
            lines = _wrapped(text, columns, across)
            height = 3 * len(lines) if halved else 6 * len(lines) - 1
            if lines and height <= rows and not (halved and plain):
                drawn: list[str] = []
                for line in lines:
                    dots = _dots(line)
                    drawn += _half_cells(dots) if halved else _cells(dots, across, plain)
                return _middle(drawn[:height], rows)
    small = textwrap.wrap(text, columns) or [""]
    return _middle([line[:columns] for line in small[:rows]], rows)


def _width(text: str) -> int:
    """Dots across, one free dot after each glyph."""
    return sum(_GLYPHS[sign].index(" ", 1) if sign != " " else 2 for sign in text) + len(text)


def _wrapped(text: str, columns: int, across: int) -> list[str]:
    """Lines that fit, or none where a single word does not."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and _width(longer) * across <= columns:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines if all(_width(line) * across <= columns for line in lines) else []


def _dots(text: str) -> list[str]:
    """Five rows of ``#`` and ``.``."""
    glyphs = [_GLYPHS[sign].split() for sign in text]
    return ["".join(glyph[row] + "." for glyph in glyphs) for row in range(5)]


def _cells(dots: list[str], across: int, plain: bool) -> list[str]:
    ink = "#" if plain else "█"
    drawn = ["".join(ink * across if dot == "#" else " " * across for dot in line) for line in dots]
    return [*drawn, ""]


def _half_cells(dots: list[str]) -> list[str]:
    below = [*dots[1::2], "." * len(dots[0])]
    forms = {"..": " ", "#.": "▀", ".#": "▄", "##": "█"}
    return [
        "".join(forms[upper + lower] for upper, lower in zip(top, bottom, strict=True))
        for top, bottom in zip(dots[::2], below, strict=True)
    ]


def _middle(lines: list[str], rows: int) -> list[str]:
    above = (rows - len(lines)) // 2
    return [""] * above + lines + [""] * (rows - len(lines) - above)
