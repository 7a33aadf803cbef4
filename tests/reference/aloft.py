"""A JSBSim model in the air, held to an attitude, altitude, speed or power by plain PID loops.

The air is still. The earth is made round and does not turn, with standard gravity at sea level, so
that a difference between two flight models is not one between two earths.
"""

from __future__ import annotations

import math
import tempfile
from pathlib import Path

import jsbsim

from coach.problems import Problem

RATE = 120
"""Steps a second."""

_SEA_LEVEL_PSF = 2116.2

BALL, BALL_S = 75.0, 8.0
"""Degrees of sideslip for each g sideways, about, at 100 kt; and seconds in which it is mended."""

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
        self._aileron = self._rudder = self._sideslip = 0.0

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
        self._lean()
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
        """Move the controls towards an attitude (absolute, deg, deg/s), the ball in the middle.

        Without sideslip it would not be: rudder held against propeller or yaw pushes sideways.
        """
        fdm = self.fdm
        scale = (100.0 / max(30.0, self["velocities/vc-kts"])) ** 2
        pitch = pitch_deg - self["attitude/theta-deg"]
        bank = bank_deg - self["attitude/phi-deg"]
        self._sideslip += BALL / BALL_S * scale * self["accelerations/Ny"] / RATE
        slip = self["aero/beta-deg"] - self._sideslip
        swing = math.degrees(self["aero/betadot-rad_sec"])
        # A roll goes on only as long as the ailerons are out, and rudder belongs to them.
        rolling = 0.02 * math.sqrt(scale) * bank_rate
        pitch_rate -= math.degrees(self["velocities/thetadot-rad_sec"])
        bank_rate -= math.degrees(self["velocities/phidot-rad_sec"])
        self._elevator = _lever(self._elevator - 0.08 * scale * pitch / RATE)
        self._aileron = _lever(self._aileron + 0.04 * scale * bank / RATE)
        self._rudder = _lever(self._rudder - 0.1 * scale * slip / RATE)
        fdm["fcs/elevator-cmd-norm"] = self._elevator - scale * (0.08 * pitch + 0.04 * pitch_rate)
        fdm["fcs/aileron-cmd-norm"] = (
            self._aileron + rolling + scale * (0.08 * bank + 0.02 * bank_rate)
        )
        fdm["fcs/rudder-cmd-norm"] = (
            self._rudder - 0.4 * rolling - scale * (0.15 * slip + 0.04 * swing)
        )

    def pitch(
        self, pitch_deg: float, bank_deg: float, pitch_rate: float = 0.0, bank_rate: float = 0.0
    ) -> None:
        """The same, as what an altitude or a speed held later begins with."""
        self._pitch = pitch_deg
        self.attitude(pitch_deg, bank_deg, pitch_rate, bank_rate)

    def power(self, power_hp: float) -> None:
        """Move the throttle towards an engine power; to idle for none, and full for infinity."""
        missing = power_hp - self["propulsion/engine/power-hp"]
        self._throttle = _lever(self._throttle + 0.02 * missing / RATE, 0.0)
        self.fdm["fcs/throttle-cmd-norm"] = self._throttle if power_hp > 0.0 else 0.0

    def step(self) -> None:
        """Fly on by one step."""
        self._lean()
        self.fdm.run()

    def _lean(self) -> None:
        """Full rich at sea level; higher up fuel and air stay in the same ratio.

        With the lever left alone JSBSim's engines lose a tenth of their power from 5,000 to
        6,500 ft.
        """
        self.fdm["fcs/mixture-cmd-norm"] = self["atmosphere/P-psf"] / _SEA_LEVEL_PSF

    def altitude(
        self,
        altitude_ft: float,
        bank_deg: float = 0.0,
        pitch_rate: float = 0.0,
        bank_rate: float = 0.0,
        climb_fps: float = 0.0,
    ) -> None:
        """Move the controls towards an altitude and a bank; the nose moves on by ``pitch_rate``.

        The altitude itself moves by ``climb_fps``.
        """
        climb_fps += (altitude_ft - self["position/h-sl-ft"]) / 5.0 - self["velocities/h-dot-fps"]
        path = math.degrees(climb_fps / self["velocities/vt-fps"])
        self._pitch += (pitch_rate + 0.3 * path) / RATE
        self.attitude(self._pitch + 0.5 * path, bank_deg, pitch_rate, bank_rate)

    def speed_by_pitch(
        self, ias_kt: float, bank_deg: float = 0.0, pitch_rate: float = 0.0, bank_rate: float = 0.0
    ) -> None:
        """Move the controls towards an airspeed with the power as it is, and a bank."""
        fast = self["velocities/vc-kts"] - ias_kt
        self._pitch += (pitch_rate + 0.3 * fast) / RATE
        self.attitude(self._pitch + 1.5 * fast, bank_deg, pitch_rate, bank_rate)

    def speed_by_power(self, ias_kt: float) -> None:
        """Move the throttle towards an airspeed."""
        slow = ias_kt - self["velocities/vc-kts"]
        self._throttle = _lever(self._throttle + 0.03 * slow / RATE, 0.0)
        self.fdm["fcs/throttle-cmd-norm"] = _lever(self._throttle + 0.2 * slow, 0.0)
