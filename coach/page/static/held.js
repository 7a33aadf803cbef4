// A phone as the airplane: what it reads, kept until that was taken, and how it is held.

import { Airplane } from "./airplane.js";
import { byId, say } from "./dom.js";
import { Batches, Sensor } from "./sensor.js";

/** What this browser calls itself, so that it is known again how it is held. */
export const phone = remembered() ?? Math.random().toString(36).slice(2);
try {
  localStorage.setItem("phone", phone);
} catch {
  // Then it is known only as long as the page stays open.
}

function remembered() {
  try {
    return localStorage.getItem("phone");
  } catch {
    return null;
  }
}

/** The screen stays on while the page is seen, where browsers let it. */
export async function stayAwake() {
  if (!document.hidden) await navigator.wakeLock?.request("screen").catch(() => null);
}
document.addEventListener("visibilitychange", stayAwake);

export class Held {
  is = false; // whether it is the airplane: only then is kept what it reads
  #send;
  #batches;
  #sensor;
  #airplane = new Airplane();
  #begun = false;
  #pose = ""; // which is shown just now
  #fresh = false; // this connection has not said yet what was taken
  #settled = false; // nor that this page's clock is known

  /** `send(message)` tells the coach; `where` is the name under which is kept what it reads. */
  constructor(send, where) {
    this.#send = send;
    this.#batches = new Batches(send, where);
    this.#sensor = new Sensor(
      (at_ms, turned) => this.is && this.#batches.take(at_ms, turned),
      (what) => {
        byId("allow").hidden = !["refused", "unasked"].includes(what);
        if (this.is) send({ type: "sensing", what });
      },
    );
    byId("figure").append(this.#airplane.element);
    for (const how of ["learn", "easy", "held"]) byId(how).addEventListener("click", () => this.hold(how));
    byId("allow").addEventListener("click", () => this.begin());
  }

  /** Begin to read; in a press, where some browsers ask the person. */
  begin() {
    this.#begun = true;
    byId("allow").hidden = true;
    this.#sensor.start();
  }

  /** Say how it is held, or have it learned. */
  hold(how) {
    this.#send({ type: "hold", do: how, phone });
  }

  /** It is the airplane: what it reads is kept from now on. */
  flies() {
    this.is = true;
    if (!this.#begun) this.begin();
  }

  /** The coach knows it as the airplane, on this connection: what was taken is told first. */
  arrives() {
    this.#fresh = true;
    this.#batches.open = false;
    this.flies();
    this.#sensor.again();
  }

  settled() {
    this.#settled = true;
    this.#batches.open = !this.#fresh;
  }

  kept({ number }) {
    if (this.#fresh) this.#batches.opened(number);
    else this.#batches.kept(number);
    this.#fresh = false;
    this.#batches.open = this.#settled;
  }

  /** The connection is lost: what is read meanwhile is kept. */
  lost() {
    this.#settled = false;
    this.#batches.open = false;
  }

  /** It is the airplane no more, or another's. */
  forget() {
    this.is = false;
    this.#batches.clear();
  }

  /** Show how it is held, or is to be, as the coach told it. */
  show({ state, pose, attitude, pitch_deg, bank_deg }) {
    if (this.#pose && pose !== this.#pose) navigator.vibrate?.(80); // a pose is taken: the screen may look away
    this.#pose = pose;
    if (pitch_deg === null) this.#airplane.pose(pose);
    else this.#airplane.held(pitch_deg, bank_deg);
    byId("figure").hidden = pitch_deg === null && !pose;
    say(byId("attitude"), attitude);
    byId("held").hidden = state !== "learning";
    say(byId("learn"), state === "learning" ? "Begin again" : "Show how I hold it");
  }
}

/** What there is to show where nothing is known. */
export const NOTHING = { state: "", pose: "", attitude: "", trouble: "", pitch_deg: null, bank_deg: null };
