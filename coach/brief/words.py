"""The brief for the eyes: one page in a terminal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from rich import box
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from coach.brief.board import called, entry, fastest, handbook, least_margin
from coach.brief.loops import alike
from coach.brief.warnings import warnings
from coach.callouts.controls import RUDDER_SIZES
from coach.callouts.wording import say_wind
from coach.flight.flight import Flight
from coach.flight.moment import Moment
from coach.script.quantities import DEGREE
from coach.script.standards import Checkride, asked_at, not_asked
from coach.script.targets import AS_NEEDED
from coach.tables import Whole
from coach.words import CAUTION, clock, listed, side_of, three_figures, titled


def page(flight: Flight, checkride: Checkride | None = None) -> RenderableType:
    """The brief: entry, a row per checkpoint, standard, errors, cautions; see `board` there."""
    maneuver = flight.maneuver
    parts: list[RenderableType] = [
        Text(titled(maneuver.title, called(flight.airplane)), style="bold"),
        *([_paragraph(maneuver.purpose), Text()] if maneuver.purpose else []),
    ]
    if told := warnings(flight):
        parts += [*(Text(f"WARNING  {line}", style="bold") for line in told), Text()]
    parts += [_entry(flight), _checkpoints(flight)]
    parts.append(
        Text(
            "Pitch is relative to level flight at entry; margin is knots above the stall at that "
            "load; rudder side and size are a model's guess.",
            style="dim",
        )
    )
    parts += [_paragraph(note) for note in maneuver.notes]
    if elsewhere := not_asked(maneuver.standard, checkride):
        parts += [Text(), _paragraph(elsewhere)]
    for standard in asked_at(maneuver.standard, checkride):
        parts += _bullets(f"Standard ({standard.title})", standard.lines)
    parts += _bullets("Common errors", list(maneuver.errors))
    parts += _bullets("Cautions", [*maneuver.cautions, CAUTION])
    return Group(*parts)


def _paragraph(text: str) -> Text:
    return Text(" ".join(text.split()))


def _bullets(title: str, lines: list[str]) -> list[RenderableType]:
    if not lines:
        return []
    return [Text(f"\n{title}", style="bold"), _list(lines)]


def _list(lines: Sequence[str]) -> RenderableType:
    grid = Table.grid(padding=(0, 1))
    for line in lines:
        grid.add_row("-", _paragraph(line))
    return Padding(grid, (0, 0, 0, 1), expand=False)


def _entry(flight: Flight) -> RenderableType:
    facts, power, heading = entry(flight), entry_power(flight), entry_heading(flight)
    references: dict[str, list[str]] = {}
    for one in facts["references"]:
        references.setdefault(one["name"], []).append(three_figures(one["heading_deg"]))
    power += _wandering(flight, facts["rpm_left_alone"])
    loops = f" for {facts['loops']} loops" if facts["loops"] > 1 else ""
    rows = [
        (
            "speed",
            f"{facts['ias_kt']:.0f} kt indicated (maneuvering {facts['maneuvering_speed_kt']:.0f}, "
            f"stall {facts['stall_speed_kt']:.0f} at {facts['weight_lb']:,.0f} lb)",
        ),
        ("power", power),
        (
            "altitude",
            f"{facts['altitude_ft']:,.0f} ft, the ground at {facts['ground_ft']:,.0f} ft "
            f"({facts['temperature_c']:.0f} °C, density altitude "
            f"{facts['density_altitude_ft']:,.0f} ft)",
        ),
        ("heading", heading),
        ("time", f"{clock(flight.length_s)}{loops}"),
        ("nearest stall", nearest_stall(flight)),
        ("fastest", _fastest(flight)),
    ]
    if (estimate := facts["pivotal_estimate_ft"]) is not None:
        height = facts["altitude_ft"] - facts["ground_ft"]
        told = f"{height:,.0f} ft above the ground; groundspeed squared over 11.3 says"
        rows.insert(3, ("pivotal", f"{told} {estimate:,.0f}"))
    if own := handbook_row(flight):
        rows.insert(1, ("handbook", own))
    if references:
        listed = (f"{name} {' / '.join(at)}" for name, at in references.items())
        rows.insert(-2, ("references", ", ".join(listed)))
    grid = Table.grid(padding=(0, 2))
    for name, value in rows:
        grid.add_row(Text(name, style="bold"), value)
    return Group(
        Text("Entry", style="bold"),
        Padding(grid, (0, 0, 0, 1), expand=False),
        _list(flight.maneuver.entry.steps),
    )


def entry_row(flight: Flight) -> str:
    """What must be true before the maneuver begins, in one line."""
    facts, groups = entry(flight), alike(flight)
    power = _power(facts).partition(", ")[0].removesuffix(" of rated")
    if entry_power(flight).endswith("left alone"):
        power += " left alone"
    heading = entry_heading(flight).replace("first turn", "turn")
    if facts["loops"] > 1:
        sides = listed([side_of(side) for side in flight.sides])
        heading = heading.partition(", turn")[0]
        heading += f", {facts['loops']} loops: {sides}{', alike' if len(groups) == 1 else ''}"
    return f"{facts['ias_kt']:.0f} kt, {facts['altitude_ft']:,.0f} ft, {power}, heading {heading}"


def handbook_row(flight: Flight) -> str:
    """The airplane's own numbers that are flown or said here, in one line; "" where none are."""
    return "; ".join(f"{row['what']} {row['value']}" for row in handbook(flight))


def entry_power(flight: Flight) -> str:
    """The setting to begin with, and whether it is left alone."""
    powers = {leg.power for leg in flight.maneuver.legs} - {None}
    kept = powers <= {flight.maneuver.entry.power} - {AS_NEEDED}
    return _power(entry(flight)) + (", left alone" if kept else ", to begin with")


def entry_heading(flight: Flight) -> str:
    """Heading and course, the wind, and the side of the first turn."""
    facts = entry(flight)
    heading, course = three_figures(facts["heading_deg"]), three_figures(facts["course_deg"])
    if heading != course:
        heading += f" to keep the course {course}"
    heading += f", wind {say_wind(flight).text}"
    if abs(flight.recorded("bank")).max() > 2.0 * DEGREE:
        heading += f", first turn {facts['first_turn']}"
    return heading


def _power(facts: dict[str, Any]) -> str:
    """The setting; in revolutions too, which is what a fixed-pitch propeller is set by."""
    percent = round(facts["power_percent"])
    if not percent:
        return "idle"
    share = f"{percent} % of rated"
    return share if facts["rpm"] is None else f"{10 * round(facts['rpm'] / 10):,} rpm, {share}"


def _wandering(flight: Flight, alone: dict[str, float] | None) -> str:
    """How the revolutions change by themselves; "" where they do not."""
    if alone is None:
        return ""
    least, most = (10 * round(alone[which] / 10) for which in ("least", "most"))
    if least == most:
        return ""
    whole = alone["to_s"] - alone["from_s"] > flight.length_s - 1.0
    throttle = {0: "idle", 100: "full"}.get(round(alone["throttle_percent"]), "left alone")
    when = f"{throttle} from {clock(alone['from_s'])} to {clock(alone['to_s'])}, "
    return f"; {'' if whole else when}its revolutions wander from {least:,} to {most:,} rpm"


def _fastest(flight: Flight) -> str:
    most = fastest(flight)
    above = round(most["above_maneuvering_kt"])
    over = f", {above} above maneuvering speed" if above > 0 else ""
    return f"{most['ias_kt']:.0f} kt{over}, at {clock(most['time_s'])}"


def nearest_stall(flight: Flight) -> str:
    """How fast it is where it is nearest to the stall, how far above it, and when."""
    least = least_margin(flight)
    margin = round(least["stall_margin_kt"])
    above = f"{margin} above the stall" if margin > 0 else "the stall itself"
    return f"{least['ias_kt']:.0f} kt, {above}, at {clock(least['time_s'])}"


def _checkpoints(flight: Flight) -> RenderableType:
    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False)
    several = len(flight.sides) > 1
    if several:
        table.add_column("loop", justify="right", no_wrap=True)
    for name, _ in COLUMNS:
        table.add_column(name, **_LOOKS.get(name, {"justify": "right", "no_wrap": True}))
    for moment in flight.moments:
        last = moment.name == flight.maneuver.checkpoints[-1].name
        loop = [str(moment.loop)] if several else []
        table.add_row(*loop, *(cell(moment) for _, cell in COLUMNS), end_section=last)
    return Whole(table)


def pitch(moment: Moment) -> str:
    """Degrees with their sign."""
    return f"{moment.pitch_deg:+.0f}" if round(moment.pitch_deg) else "0"


def bank(moment: Moment) -> str:
    """Degrees with the first letter of their side."""
    bank = round(moment.bank_deg)
    return f"{abs(bank)} {_letter(bank)}" if bank else "0"


def _rudder(moment: Moment) -> str:
    """Its side, and a mark for each size in words that it passes."""
    marks = sum(abs(moment.rudder) >= size for size, _ in RUDDER_SIZES)
    return f"{_letter(moment.rudder)} {'•' * marks}" if marks else "-"


def _letter(turn: float) -> str:
    return side_of(turn)[0].upper()


COLUMNS: tuple[tuple[str, Callable[[Moment], str]], ...] = (
    ("at", lambda moment: moment.name),
    ("time", lambda moment: clock(moment.time_s)),
    ("hdg", lambda moment: three_figures(moment.heading_deg)),
    ("pitch", pitch),
    ("bank", bank),
    ("kt", lambda moment: f"{moment.ias_kt:.0f}"),
    ("feet", lambda moment: f"{round(moment.altitude_ft):,}"),
    ("°/s", lambda moment: f"{abs(moment.turn_rate_dps):.1f}"),
    ("g", lambda moment: f"{moment.load_factor:.2f}"),
    ("margin", lambda moment: f"{moment.stall_margin_kt:.0f}"),
    ("rudder", _rudder),
)
"""The table of checkpoints: each column's head, and what stands under it."""

_LOOKS: dict[str, dict[str, Any]] = {
    # A long name takes a second line, so that no number is cut off.
    "at": {"justify": "right", "max_width": 14},
    "rudder": {"justify": "left", "no_wrap": True},
}
