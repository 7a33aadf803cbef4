// How a phone is turned, as fast as it tells, and kept until the program has taken it.

const HZ = 60;
const BATCH_MS = 100;
const MOST_READINGS = 60; // in one message
const MOST_KEPT = 20 * 60 * HZ; // readings: twenty minutes without a connection
const NONE_MS = 2000; // a sensor that has told nothing for so long tells nothing at all
const STILL_MS = 1000; // browsers tell what changes: what has not come for so long is as it was
const AGAIN_MS = 50; // and is told again so often
const SLEPT_MS = 500; // a clock that is so far off the day's has stood while the phone slept

/** How far the time of day is ahead of the page's own clock. */
const ahead_ms = () => Date.now() - performance.now();

/**
 * The phone's sensor. `read(at_ms, turned)` has every reading, `turned` is {quaternion} or {angles};
 * `became(what)` hears "reads", "none" (no sensor), "refused", "unasked" (it is to be begun in a
 * press) or "hidden" (the page is not seen).
 */
export class Sensor {
  #read;
  #became;
  #what = "";
  #sensor = null;
  #last = null; // since the page has been seen
  #last_ms = -Infinity;
  #changed_ms = -Infinity;
  #by = ""; // which of the two it is that reads

  constructor(read, became) {
    this.#read = read;
    this.#became = became;
    document.addEventListener("visibilitychange", () => {
      this.#last = null;
      if (document.hidden) this.#is("hidden");
      else this.#awaits();
    });
    setInterval(() => this.#still(), AGAIN_MS);
  }

  /** Begin to read, in a press if it can be: some browsers ask the person then, and only then. */
  async start() {
    const asked = window.DeviceOrientationEvent?.requestPermission?.().catch(() => "unasked");
    if (window.RelativeOrientationSensor && !this.#sensor) this.#begin();
    const answer = (await asked) ?? "granted";
    if (answer === "granted") {
      window.addEventListener("deviceorientation", this.#event);
      this.#awaits();
    } else if (!this.#by) this.#is(answer === "unasked" ? "unasked" : "refused");
  }

  /** What became of it, told again. */
  again() {
    if (this.#what) this.#became(this.#what);
  }

  #is(what) {
    if (what === this.#what) return;
    this.#what = what;
    this.#became(what);
  }

  #begin() {
    try {
      this.#sensor = new RelativeOrientationSensor({ frequency: HZ });
    } catch {
      return; // not for this page: there are still the events
    }
    this.#sensor.onreading = ({ target }) =>
      this.#take("sensor", target.timestamp, { quaternion: [...target.quaternion] });
    this.#sensor.onerror = ({ error }) => {
      this.#sensor = null;
      if (error.name === "NotAllowedError") this.#is("refused");
    };
    this.#sensor.start();
  }

  #event = ({ timeStamp, alpha, beta, gamma }) => {
    // A computer without a sensor tells once that it knows nothing.
    if (beta === null || gamma === null || this.#by === "sensor") return;
    this.#take("events", timeStamp, { angles: [alpha ?? 0, beta, gamma] });
  };

  #take(by, at_ms, turned) {
    const now_ms = performance.now();
    const known = at_ms > this.#last_ms && at_ms <= now_ms && at_ms > now_ms - NONE_MS;
    this.#by = by;
    this.#last = turned;
    this.#last_ms = known ? at_ms : now_ms;
    this.#changed_ms = now_ms;
    this.#is("reads");
    this.#read(this.#last_ms, turned);
  }

  #still() {
    const now_ms = performance.now();
    if (!this.#last || document.hidden || now_ms - this.#changed_ms < STILL_MS) return;
    if (this.#by === "sensor" && !this.#sensor?.activated) return;
    this.#last_ms = now_ms;
    this.#read(now_ms, this.#last);
  }

  #awaits() {
    setTimeout(() => {
      if (!this.#last && !document.hidden && this.#what !== "refused") this.#is(this.#by ? "reads" : "none");
    }, NONE_MS);
  }
}

/** Readings in messages, each kept until it has been taken, wherever the page or its connection went. */
export class Batches {
  #send;
  #where;
  #readings = []; // not sent yet: {at_ms, ahead_ms, quaternion or angles}
  #sent = []; // {number, readings}
  #number = 0;
  #open = false;

  /** `send(message)` sends it; `where` is the name under which they are kept where the page is left. */
  constructor(send, where) {
    this.#send = send;
    this.#where = where;
    this.#load();
    setInterval(() => this.#next(), BATCH_MS);
    // Before a sensor that was made later tells that the page is not seen: readings take that back.
    document.addEventListener("visibilitychange", () => this.#leave());
    window.addEventListener("pagehide", () => this.#leave());
  }

  take(at_ms, turned) {
    this.#readings.push({ at_ms, ahead_ms: ahead_ms(), ...turned });
    if (this.#readings.length > MOST_KEPT) this.#readings.shift();
  }

  /** All up to this number has been taken. */
  kept(number) {
    this.#sent = this.#sent.filter((one) => one.number > number);
  }

  /** A connection is open and has said what was taken: the rest is sent again. */
  opened(number) {
    this.kept(number);
    this.#readings = [...this.#sent.flatMap((one) => one.readings), ...this.#readings];
    this.#sent = [];
    this.#number = number;
  }

  /** Whether the clock of this page is known, so that readings can be sent. */
  set open(is) {
    this.#open = is;
  }

  /** Forget all, as of another rehearsal. */
  clear() {
    this.#readings = [];
    this.#sent = [];
    this.#keep();
  }

  #next() {
    if (!this.#open || !this.#readings.length) return;
    const kind = "quaternion" in this.#readings[0] ? "quaternion" : "angles";
    const other = this.#readings.findIndex((one) => !(kind in one));
    const readings = this.#readings.splice(0, Math.min(MOST_READINGS, other < 0 ? Infinity : other));
    this.#number += 1;
    this.#sent.push({ number: this.#number, readings });
    const now_ms = ahead_ms();
    const rotations = readings.map((one) => one[kind].map((part) => Number(part.toFixed(5))));
    this.#send({
      type: "held",
      number: this.#number,
      at_s: readings.map((one) => Number((onThisClock(one, now_ms) / 1000).toFixed(4))),
      [kind === "angles" ? "angles" : "quaternions"]: rotations,
    });
  }

  #leave() {
    this.#next();
    this.#keep();
  }

  #load() {
    try {
      [this.#sent, this.#readings] = JSON.parse(sessionStorage.getItem(this.#where)) ?? [[], []];
      sessionStorage.removeItem(this.#where);
    } catch {
      // Then there are none.
    }
  }

  #keep() {
    try {
      sessionStorage.setItem(this.#where, JSON.stringify([this.#sent, this.#readings]));
    } catch {
      // Then they are kept only as long as the page stays open.
    }
  }
}

/**
 * When a reading was made, on this page's clock: it began anew with the page, or stood in between.
 * Where that would be in the future somebody has set the day's clock back.
 */
function onThisClock({ at_ms, ahead_ms: then_ms }, now_ms) {
  const off_ms = now_ms - then_ms;
  const slept = Math.abs(off_ms) > SLEPT_MS && at_ms - off_ms <= performance.now();
  return slept ? at_ms - off_ms : at_ms;
}
