// An airplane against the horizon: as it is to be held, and as it is held.

import { drawn } from "./dom.js";

const LIFT = 1.2; // of the drawing for a degree of pitch
const POSES = { level: ["side", 0], "nose up": ["side", -40], "bank right": ["behind", 40] };

const SIDE =
  "M-74 -4 L-22 -9 C-14 -21 8 -21 18 -9 L54 -5 C62 -2 62 5 54 7 L-10 11 C-40 10 -66 4 -74 -4Z" +
  "M-74 -3 L-86 -30 L-71 -30 L-52 -5Z M60 -18 H64 V20 H60Z M26 1 H-16 L-8 6 H26Z";
const BEHIND =
  "M-9 2 A9 9 0 1 1 9 2 A9 9 0 1 1 -9 2Z M-86 -1 L0 -3 L86 -1 L86 3 L0 6 L-86 3Z" +
  "M-3 -4 L0 -36 L3 -4Z M-26 -14 L26 -14 L26 -10 L-26 -10Z";

/** The drawing, and what turns it. */
export class Airplane {
  element = drawn("svg", { viewBox: "-100 -70 200 140", "aria-hidden": "true" });
  #side = drawn("path", { d: SIDE, class: "plane" });
  #behind = drawn("path", { d: BEHIND, class: "plane" });

  constructor() {
    const horizon = drawn("path", { d: "M-100 0 H100", class: "horizon" });
    this.element.append(horizon, this.#side, this.#behind);
  }

  /** A pose that is asked for, or "". */
  pose(name) {
    const [view, turned] = POSES[name] ?? ["", 0];
    this.#turn(this.#side, view === "side", turned, 0);
    this.#turn(this.#behind, view === "behind", turned, 0);
  }

  /** How it is held, seen from behind. */
  held(pitch_deg, bank_deg) {
    this.#turn(this.#side, false, 0, 0);
    this.#turn(this.#behind, true, bank_deg, -LIFT * pitch_deg);
  }

  #turn(path, shown, turned, down) {
    path.style.display = shown ? "" : "none";
    path.style.transform = `translate(0px, ${down}px) rotate(${turned}deg)`;
  }
}
