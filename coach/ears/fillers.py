"""What a student says between numbers without meaning anything by it, and to mend one."""

from __future__ import annotations

from collections.abc import Mapping

FILLERS: Mapping[str, float] = {
    "and": 1.0,
    "at": 1.0,
    "uh": 1.0,
    "um": 0.5,
    "about": 0.5,
    "with": 0.3,
    "is": 0.5,
    "of": 0.3,
    "the": 0.5,
    "at the": 0.5,
    "now": 0.3,
    "on": 0.3,
    "a": 0.1,
    "in a": 0.1,
    "okay": 0.2,
    "so": 0.2,
    "then": 0.2,
    "it's": 0.2,
    "that's": 0.2,
    "we're": 0.2,
    "i have": 0.1,
    "should be": 0.2,
    "roughly": 0.1,
    "around": 0.1,
    "approximately": 0.1,
    "passing": 0.2,
    "through": 0.1,
    "coming up on": 0.1,
    "level at": 0.1,
}
"""How common each one is is a guess of ours."""

MENDED: Mapping[str, float] = {
    "correction": 1.0,
    "no": 1.0,
    "sorry": 0.3,
    "i mean": 0.3,
    "make that": 0.3,
    "i say again": 0.1,
}
"""What stands between a number and the one that takes its place. "Correction" and "I say again" are
the words of ICAO Annex 10 volume II, 5.2.1.5, and of the FAA's Pilot/Controller Glossary (from
memory), the others common practice."""
