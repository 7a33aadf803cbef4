"""An outside reference: JSBSim's six-degree-of-freedom models, flown by attitude and power.

The PyPI package `jsbsim` brings the airplane models, each known by its file id (``c182``). Here one
is trimmed in level flight and then flown along a history of pitch and bank, as a careful pilot
would, with the engine's power kept as asked.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.interpolate import PchipInterpolator

from tests.reference.aloft import RATE, Aloft

Array = npt.NDArray[np.float64]

RECORDED_EVERY = 12
"""Steps from one recorded instant to the next: 10 Hz."""


@dataclass(frozen=True)
class Flown:
    """What a model flew: a value an instant, 10 Hz; a weight and an attitude for the whole.

    Attributes:
        t_s: seconds since the schedule began.
        turned_deg: heading turned since then, continuous, right positive.
        ias_kt: calibrated airspeed.
        tas_kt: true airspeed.
        altitude_ft: above mean sea level.
        pitch_deg: pitch attitude relative to `entry_pitch_deg`.
        bank_deg: right positive.
        alpha_deg: angle of attack.
        sideslip_deg: positive with the wind from the right.
        power_hp: engine power.
        rpm: of the propeller.
        thrust_lbf: of the propeller, negative where it holds back.
        drag_lbf: of the airframe alone.
        lift_lbf: of the airframe alone.
        dynamic_psf: dynamic pressure.
        elevator: its command, -1 to 1, back negative.
        aileron: theirs, right positive.
        load_factor: lift over weight.
        weight_lb: constant, no fuel is burnt.
        entry_pitch_deg: pitch attitude in level flight just before the schedule.
    """

    t_s: Array
    turned_deg: Array
    ias_kt: Array
    tas_kt: Array
    altitude_ft: Array
    pitch_deg: Array
    bank_deg: Array
    alpha_deg: Array
    sideslip_deg: Array
    power_hp: Array
    rpm: Array
    thrust_lbf: Array
    drag_lbf: Array
    lift_lbf: Array
    dynamic_psf: Array
    elevator: Array
    aileron: Array
    load_factor: Array
    weight_lb: float
    entry_pitch_deg: float


_READ = {
    "turned_deg": "attitude/psi-deg",
    "ias_kt": "velocities/vc-kts",
    "tas_kt": "velocities/vtrue-kts",
    "altitude_ft": "position/h-sl-ft",
    "pitch_deg": "attitude/theta-deg",
    "bank_deg": "attitude/phi-deg",
    "alpha_deg": "aero/alpha-deg",
    "sideslip_deg": "aero/beta-deg",
    "power_hp": "propulsion/engine/power-hp",
    "rpm": "propulsion/engine/propeller-rpm",
    "thrust_lbf": "propulsion/engine/thrust-lbs",
    "drag_lbf": "forces/fwx-aero-lbs",
    "lift_lbf": "forces/fwz-aero-lbs",
    "dynamic_psf": "aero/qbar-psf",
    "elevator": "fcs/elevator-cmd-norm",
    "aileron": "fcs/aileron-cmd-norm",
}


def fly(
    model: str,
    times_s: npt.ArrayLike,
    pitch_deg: npt.ArrayLike,
    bank_deg: npt.ArrayLike,
    *,
    entry_ias_kt: float,
    altitude_ft: float,
    weight_lb: float | None = None,
    power_hp: npt.ArrayLike | None = None,
    held_altitude_ft: npt.ArrayLike | None = None,
    held_ias_kt: npt.ArrayLike | None = None,
    powered_ias_kt: npt.ArrayLike | None = None,
    level_first_s: float = 20.0,
    climb_fps: float = 0.0,
    warmer_c: float = 0.0,
) -> Flown:
    """Fly a history of pitch and bank.

    Args:
        model: file id of a JSBSim model with one piston engine.
        times_s: seconds, increasing from 0, shape (n,).
        pitch_deg: pitch attitude relative to level flight at entry, shape (n,).
        bank_deg: right positive, shape (n,).
        entry_ias_kt: calibrated airspeed at entry.
        altitude_ft: entry altitude above mean sea level.
        weight_lb: all-up weight; what the model's file loads when left out.
        power_hp: engine power, one value or shape (n,); that of level flight at entry when left
            out. Zero is the throttle closed, infinity full throttle, and nan leaves it alone.
        held_altitude_ft: altitude to be held, one value or shape (n,): the nose follows the pitch
            history and is corrected towards it; nan where it is not.
        held_ias_kt: the same with an airspeed.
        powered_ias_kt: airspeed to be held by the throttle, instead of a power; nan where it is
            not.
        level_first_s: how long level flight is held before the schedule begins.
        climb_fps: the same on a path that climbs, or sinks, so fast; the pitch attitude is then
            relative to that.
        warmer_c: how much warmer than standard the day is.

    Raises:
        Problem: the model cannot be had, weighed or trimmed so.
    """
    below = climb_fps * level_first_s
    aloft = Aloft(model, entry_ias_kt, altitude_ft - below, weight_lb, warmer_c)
    for step in range(round(level_first_s * RATE)):
        aloft.altitude(altitude_ft - below + climb_fps * step / RATE, climb_fps=climb_fps)
        aloft.speed_by_power(entry_ias_kt)
        aloft.step()
    entry_pitch = aloft["attitude/theta-deg"]
    at = np.asarray(times_s, dtype=np.float64)
    steps = round(float(at[-1]) * RATE)
    clock = np.arange(steps + 1) / RATE
    level_power = aloft["propulsion/engine/power-hp"]
    power = np.broadcast_to(level_power if power_hp is None else power_hp, at.shape)
    pitch = PchipInterpolator(at, entry_pitch + np.asarray(pitch_deg, dtype=np.float64))
    bank = PchipInterpolator(at, np.asarray(bank_deg, dtype=np.float64))
    nothing = np.full_like(at, math.nan)
    altitude, speed, powered = (
        np.interp(clock, at, nothing if one is None else np.broadcast_to(one, at.shape))
        for one in (held_altitude_ft, held_ias_kt, powered_ias_kt)
    )
    latest = np.clip(np.searchsorted(at, clock, "right") - 1, 0, None)
    schedule = zip(
        altitude.tolist(),
        np.gradient(altitude, 1.0 / RATE).tolist(),
        speed.tolist(),
        pitch(clock).tolist(),
        bank(clock).tolist(),
        pitch.derivative()(clock).tolist(),
        bank.derivative()(clock).tolist(),
        powered.tolist(),
        power[latest].tolist(),
        strict=True,
    )
    instants: list[list[float]] = []
    for step, (height, climb, fast, nose, lean, nosing, rolling, by_power, horsepower) in enumerate(
        schedule
    ):
        if step % RECORDED_EVERY == 0:
            instants.append([aloft[path] for path in _READ.values()])
        if not math.isnan(height):
            climb = 0.0 if math.isnan(climb) else climb
            aloft.altitude(height, lean, nosing, rolling, climb)
        elif not math.isnan(fast):
            aloft.speed_by_pitch(fast, lean, nosing, rolling)
        else:
            aloft.pitch(nose, lean, nosing, rolling)
        if not math.isnan(by_power):
            aloft.speed_by_power(by_power)
        elif not math.isnan(horsepower):
            aloft.power(horsepower)
        aloft.step()
    seen = dict(zip(_READ, np.array(instants).T, strict=True))
    weight = aloft["inertia/weight-lbs"]
    turned = np.unwrap(seen["turned_deg"], period=360.0)
    return Flown(
        t_s=np.arange(len(turned)) * RECORDED_EVERY / RATE,
        **seen
        | {
            "turned_deg": turned - turned[0],
            "pitch_deg": seen["pitch_deg"] - entry_pitch,
            "load_factor": seen["lift_lbf"] / weight,
        },
        weight_lb=weight,
        entry_pitch_deg=entry_pitch,
    )
