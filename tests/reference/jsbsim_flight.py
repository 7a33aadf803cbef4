"""An outside reference: JSBSim's six-degree-of-freedom models, flown by attitude and power.

The PyPI package `jsbsim` brings the airplane models, each known by its file id (``c182``). Here one
is trimmed in level flight and then flown along a history of pitch and bank by plain PID loops on
elevator, aileron and rudder, as a careful pilot would, with the engine's power kept as asked.

The air is still. The earth is made round and does not turn, with standard gravity at sea level, so
that a difference between two flight models is not one between two earths.
"""

from __future__ import annotations

import math
import tempfile
from dataclasses import dataclass
from pathlib import Path

import jsbsim
import numpy as np
import numpy.typing as npt
from scipy.interpolate import PchipInterpolator

from coach.problems import Problem

Array = npt.NDArray[np.float64]

RATE = 120
"""Steps a second."""

RECORDED_EVERY = 12
"""Steps from one recorded instant to the next: 10 Hz."""

_RADIUS_FT = 20_902_254
_PLANET = f"""<?xml version="1.0"?>
<planet name="standing earth">
  <semimajor_axis unit="FT">{_RADIUS_FT}</semimajor_axis>
  <semiminor_axis unit="FT">{_RADIUS_FT}</semiminor_axis>
  <rotation_rate unit="RAD/SEC">0</rotation_rate>
  <GM unit="FT3/SEC2">{9.80665 / 0.3048 * _RADIUS_FT**2}</GM>
  <J2>0</J2>
</planet>
"""


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
        thrust_lbf: of the propeller, negative where it holds back.
        drag_lbf: of the airframe alone.
        lift_lbf: of the airframe alone.
        dynamic_psf: dynamic pressure.
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
    thrust_lbf: Array
    drag_lbf: Array
    lift_lbf: Array
    dynamic_psf: Array
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
    "thrust_lbf": "propulsion/engine/thrust-lbs",
    "drag_lbf": "forces/fwx-aero-lbs",
    "lift_lbf": "forces/fwz-aero-lbs",
    "dynamic_psf": "aero/qbar-psf",
}


def _lever(position: float, lowest: float = -1.0) -> float:
    """A control's position within its stops."""
    return min(1.0, max(lowest, position))


def load(model: str) -> jsbsim.FGFDMExec:
    """A JSBSim model as its file has it, silent, over the standing earth.

    Raises:
        Problem: JSBSim has no such model, it does not run by itself, or has no piston engine.
    """
    # The logger belongs to the thread; at this level it holds back JSBSim's banner as well.
    jsbsim.set_logger(jsbsim.DefaultLogger(jsbsim.LogLevel.STDOUT))
    fdm = jsbsim.FGFDMExec(None)
    fdm.set_debug_level(0)
    with tempfile.TemporaryDirectory() as folder:
        planet = Path(folder) / "planet.xml"
        planet.write_text(_PLANET)
        fdm.load_planet(str(planet), False)
        fdm.set_output_path(folder)  # some models write a file of their own as soon as they run
        if not fdm.load_model(model):
            raise Problem(f"JSBSim has no model {model}.")
        fdm.disable_output()
        try:
            fdm.run_ic()
        except jsbsim.BaseError as fault:
            raise Problem(f"JSBSim's {model} does not run by itself.") from fault
    if not fdm.get_property_manager().hasNode("propulsion/engine/power-hp"):
        raise Problem(f"JSBSim's {model} has no piston engine.")
    return fdm


class Aloft:
    """A JSBSim model in the air, trimmed level, ready to be flown.

    The PID gains are in commands per degree, degree second and degree a second, at 100 kt; they
    fall with the square of the speed as the controls gain force.
    """

    def __init__(
        self,
        model: str,
        ias_kt: float,
        altitude_ft: float,
        weight_lb: float | None = None,
        warmer_c: float = 0.0,
    ) -> None:
        """Load, weigh and trim a model.

        Args:
            model: file id of a JSBSim model with one piston engine.
            ias_kt: calibrated airspeed.
            altitude_ft: above mean sea level; the pressure there is made the standard one.
            weight_lb: all-up weight; what the model's file loads when left out.
            warmer_c: how much warmer than standard the day is.

        Raises:
            Problem: no such model, a weight it cannot have, or a speed it cannot hold level.
        """
        self.fdm = fdm = load(model)
        fdm.set_dt(1.0 / RATE)
        fdm["simulation/gravity-model"] = 0
        fdm["ic/h-sl-ft"] = altitude_ft
        try:
            fdm.run_ic()
            # Warm air thins out more slowly upwards: keep the pressure standard where it is flown.
            standard = self["atmosphere/P-psf"]
            fdm["atmosphere/delta-T"] = 1.8 * warmer_c
            fdm.run_ic()
            fdm["atmosphere/P-sl-psf"] *= standard / self["atmosphere/P-psf"]
            fdm["ic/vc-kts"] = ias_kt
            fdm.run_ic()
            if weight_lb is not None:
                self._weigh(weight_lb)
            self._trim()
        except jsbsim.BaseError as fault:
            raise Problem(
                f"JSBSim's {model} cannot be trimmed at {ias_kt:.0f} kt and {altitude_ft:.0f} ft."
            ) from fault
        self._pitch = self["attitude/theta-deg"]
        self._throttle = self["fcs/throttle-cmd-norm"]
        self._elevator = self["fcs/elevator-cmd-norm"]
        self._aileron = self._rudder = 0.0

    def _weigh(self, weight_lb: float) -> None:
        """Keep the fuel, put a payload at the centre of gravity; too heavy so, leave fuel out."""
        fdm = self.fdm
        fuel = self["propulsion/total-fuel-lbs"]
        payload = weight_lb - self["inertia/empty-weight-lbs"] - fuel
        if payload < -fuel:
            raise Problem(f"{weight_lb:.0f} lb is less than the empty model weighs.")
        known = fdm.get_property_manager().hasNode
        for name, share in (
            ("propulsion/tank{}/contents-lbs", min(1.0, 1.0 + payload / fuel)),
            ("inertia/pointmass-weight-lbs{}", 0.0),
        ):
            for number in range(20):
                path = name.format(f"[{number}]" if number else "")
                if known(path):
                    fdm[path] = share * self[path]
        fdm["inertia/pointmass-weight-lbs"] = max(0.0, payload)
        fdm["inertia/pointmass-location-X-inches"] = self["inertia/cg-x-in"]
        fdm["inertia/pointmass-location-Y-inches"] = 0.0
        fdm["inertia/pointmass-location-Z-inches"] = self["inertia/cg-z-in"]

    def _trim(self) -> None:
        fdm = self.fdm
        fdm["propulsion/fuel_freeze"] = 1
        fdm["propulsion/magneto_cmd"] = 3
        fdm["fcs/mixture-cmd-norm"] = 0.87
        fdm["fcs/throttle-cmd-norm"] = 0.5
        fdm["propulsion/set-running"] = -1
        # The trim cannot cope with a propeller governor at work, only with blades that stand still.
        governed = self["propulsion/engine/constant-speed-mode"]
        fdm["propulsion/engine/constant-speed-mode"] = 0
        fdm["simulation/do_simple_trim"] = 0
        fdm["propulsion/engine/constant-speed-mode"] = governed
        fdm["fcs/advance-cmd-norm"] = 1.0

    def __getitem__(self, path: str) -> float:
        """The value of a JSBSim property."""
        return float(self.fdm[path])

    def attitude(
        self, pitch_deg: float, bank_deg: float, pitch_rate: float = 0.0, bank_rate: float = 0.0
    ) -> None:
        """Move the controls towards an attitude (absolute, deg, deg/s) without sideslip."""
        fdm = self.fdm
        scale = (100.0 / max(30.0, self["velocities/vc-kts"])) ** 2
        pitch = pitch_deg - self["attitude/theta-deg"]
        bank = bank_deg - self["attitude/phi-deg"]
        slip = self["aero/beta-deg"]
        pitch_rate -= math.degrees(self["velocities/thetadot-rad_sec"])
        bank_rate -= math.degrees(self["velocities/phidot-rad_sec"])
        self._elevator = _lever(self._elevator - 0.08 * scale * pitch / RATE)
        self._aileron = _lever(self._aileron + 0.04 * scale * bank / RATE)
        self._rudder = _lever(self._rudder - 0.1 * scale * slip / RATE)
        fdm["fcs/elevator-cmd-norm"] = self._elevator - scale * (0.08 * pitch + 0.04 * pitch_rate)
        fdm["fcs/aileron-cmd-norm"] = self._aileron + scale * (0.08 * bank + 0.02 * bank_rate)
        fdm["fcs/rudder-cmd-norm"] = self._rudder - scale * 0.15 * slip

    def power(self, power_hp: float) -> None:
        """Move the throttle slowly towards an engine power; to idle for none at all."""
        missing = power_hp - self["propulsion/engine/power-hp"]
        self._throttle = _lever(self._throttle + 0.004 * missing / RATE, 0.0)
        self.fdm["fcs/throttle-cmd-norm"] = self._throttle if power_hp > 0.0 else 0.0

    def step(self) -> None:
        """Fly on by one step."""
        self.fdm.run()

    def altitude(self, altitude_ft: float) -> None:
        """Move the controls towards an altitude, wings level."""
        climb_fps = (altitude_ft - self["position/h-sl-ft"]) / 5.0 - self["velocities/h-dot-fps"]
        path = math.degrees(climb_fps / self["velocities/vt-fps"])
        self._pitch += 0.3 * path / RATE
        self.attitude(self._pitch + 0.5 * path, 0.0)

    def speed_by_pitch(self, ias_kt: float) -> None:
        """Move the controls towards an airspeed with the power as it is, wings level."""
        fast = self["velocities/vc-kts"] - ias_kt
        self._pitch += 0.3 * fast / RATE
        self.attitude(self._pitch + 1.5 * fast, 0.0)

    def speed_by_power(self, ias_kt: float) -> None:
        """Move the throttle towards an airspeed."""
        slow = ias_kt - self["velocities/vc-kts"]
        self._throttle = _lever(self._throttle + 0.01 * slow / RATE, 0.0)
        self.fdm["fcs/throttle-cmd-norm"] = self._throttle + 0.05 * slow


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
    level_first_s: float = 20.0,
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
            out. Zero is the throttle closed.
        level_first_s: how long level flight is held before the schedule begins.
        warmer_c: how much warmer than standard the day is.

    Raises:
        Problem: the model cannot be had, weighed or trimmed so.
    """
    aloft = Aloft(model, entry_ias_kt, altitude_ft, weight_lb, warmer_c)
    for _ in range(round(level_first_s * RATE)):
        aloft.altitude(altitude_ft)
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
    schedule = zip(
        pitch(clock).tolist(),
        bank(clock).tolist(),
        pitch.derivative()(clock).tolist(),
        bank.derivative()(clock).tolist(),
        np.interp(clock, at, power).tolist(),
        strict=True,
    )
    instants: list[list[float]] = []
    for step, (*wanted, horsepower) in enumerate(schedule):
        if step % RECORDED_EVERY == 0:
            instants.append([aloft[path] for path in _READ.values()])
        aloft.attitude(*wanted)
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
