"""How a phone is told once to accept this machine's certificate, in words and in one picture.

Browsers differ in what they show. The words are general, and say so: they were tried with Chromium
alone, on no iPhone and no Android phone.
"""

from __future__ import annotations

from typing import Any

from coach.page.server.phones_door import Entrance

PICTURE = "/accept.svg"

STEPS = (
    "The phone’s browser warns that the page is not private, or its certificate not trusted: this "
    "machine vouches for itself, and nobody else does.",
    "Open what the warning keeps back: it may be called Advanced, Details or More.",
    "Go on all the same, which may be called Proceed, Continue, Visit this website or Accept the "
    "risk.",
)

CAREFUL = (
    "Do so for this address alone, and in a network that you trust. The same certificate has this "
    "fingerprint (SHA-256):"
)

UNTRIED = "Phones word it differently; this has not been tried on an iPhone or an Android phone."


def accepting(entrance: Entrance) -> dict[str, Any]:
    """What a page shows of it: {steps, careful, fingerprint, note, picture}."""
    note = UNTRIED
    if not entrance.kept:
        note += " The certificate cannot be kept here, so phones will be asked again the next time."
    return {
        "steps": list(STEPS),
        "careful": CAREFUL,
        "fingerprint": entrance.fingerprint,
        "note": note,
        "picture": PICTURE,
    }


def picture() -> bytes:
    """Three phones side by side, as SVG: the warning, what it keeps back, and the page."""
    warning = (
        '<path d="M50 34 66 62H34z" fill="none" stroke="#94431a" stroke-width="3"/>'
        '<path d="M50 44v9M50 57v1" stroke="#94431a" stroke-width="3"/>'
    )
    page = (
        '<path d="M18 76 82 60v52H18z" fill="#9aa277"/>'
        '<circle cx="50" cy="52" r="7" fill="#9a4a1f"/>'
        '<path d="M36 138 46 148 66 128" fill="none" stroke="#2f5a55" stroke-width="5"/>'
    )
    phones = (
        ("1", "Warning", warning + _lines(74, 3) + _button(128, "Details")),
        ("2", "Details", warning + _lines(74, 4) + _button(128, "Go on")),
        ("3", "The coach", page),
    )
    drawn = "".join(
        f'<g transform="translate({10 + 115 * place} 8)">'
        f'<rect width="100" height="172" rx="12" fill="#fff" stroke="#28302c" stroke-width="2"/>'
        f'{inside}<text x="50" y="198">{number}  {name}</text></g>'
        for place, (number, name, inside) in enumerate(phones)
    )
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 350 216" font-family="sans-serif" '
        'font-size="14" text-anchor="middle" fill="#28302c" stroke-linejoin="round">'
        f'<rect width="350" height="216" rx="8" fill="#fbf7ee"/>{drawn}</svg>'
    ).encode()


def _lines(top: int, count: int) -> str:
    """Lines of small print."""
    return "".join(
        f'<path d="M18 {top + 10 * line}h{64 if line < count - 1 else 40}" stroke="#b9b3a5" '
        'stroke-width="3"/>'
        for line in range(count)
    )


def _button(top: int, name: str) -> str:
    """What to press, with a ring around it."""
    return (
        f'<rect x="20" y="{top}" width="60" height="24" rx="5" fill="#e9ebe2"/>'
        f'<text x="50" y="{top + 17}">{name}</text>'
        f'<rect x="13" y="{top - 7}" width="74" height="38" rx="14" fill="none" stroke="#94431a" '
        'stroke-width="3"/>'
    )
