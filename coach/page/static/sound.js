// The soundtrack, played on the sound device's own clock.
//
// Every piece is started at its place on the AudioContext's clock, so nothing here waits or sleeps in
// time with the sound. `getOutputTimestamp` says which moment of that clock was heard at which
// `performance.now()`; the middle one of the last seconds' readings relates the two.

const RATE = 48000;
const LOOK_MS = 250;
const SOON_MS = 50; // between two looks for the rest
const LEAD_S = 0.15; // from deciding to sound to its first sample
const READINGS = 60;
const APART_MS = 50; // between two readings that are both kept
const STALE_MS = 1000;
const STUCK_MS = 3000; // with nothing heard for so long, the device stands or the machine slept
const JUMP_MS = 60;
const JUMPED_AFTER = 4; // readings that agree that the clocks have moved against each other

/** A context for one sound; to be made while a key or a finger is handled, or it may not sound. */
export function newContext() {
  const context = new AudioContext({ sampleRate: RATE, latencyHint: "interactive" });
  context.resume();
  return context;
}

export class Sound {
  #rehearsal;
  #piece;
  #told;
  #context;
  #begin_s = 0; // the context's time of position 0
  #readings = [];
  #strays = [];
  #since_ms = 0; // nothing is believed that was heard before: the clocks stood apart then
  #next = 0; // piece to be placed
  #standing_s; // the end of the opening, until something is placed after it
  #resuming = false;
  #closed = false;

  /**
   * `rehearsal` is the server's, or its opening (see `extend`), `context` a new one, `piece(index)` fetches a piece's bytes, and
   * `told(what)` hears "jumped" when the sound was interrupted, "late" when a piece came too late,
   * "stopped" when the device stopped by itself, so that the sound is paused now, and "gone" with a
   * sentence when a piece cannot be had at all.
   */
  constructor(rehearsal, context, piece, told) {
    this.#rehearsal = rehearsal;
    this.#context = context;
    this.#piece = piece;
    this.#told = told;
    this.#standing_s = rehearsal.whole ? Infinity : rehearsal.length_s;
  }

  /** Begin at a position. */
  async play(position_s = 0) {
    this.#next = this.#rehearsal.pieces.findLastIndex((begin_s) => begin_s <= position_s);
    const first = await this.#decoded(this.#next);
    if (this.#closed) return;
    await this.#context.resume();
    this.#begin_s = this.#context.currentTime + LEAD_S - position_s;
    this.#place(first);
    this.#context.onstatechange = () => this.#changed();
    this.#placeOthers();
  }

  /** Go on with the whole of what was begun with its opening. */
  extend(whole) {
    this.#rehearsal = whole;
  }

  /** Whether it stands at the end of the opening, for the rest is not there. */
  get waiting() {
    return this.#unbounded() >= this.#standing_s;
  }

  paused = false;

  async pause() {
    this.paused = true;
    await this.#context.suspend();
  }

  async resume() {
    this.#resuming = true;
    await this.#context.resume();
    this.#resuming = false;
    this.#afresh();
    this.paused = false;
  }

  close() {
    this.#closed = true;
    this.#context.close();
  }

  /** Whether it sounds now. */
  get playing() {
    return !this.paused && this.#begin_s !== 0 && this.#context.state === "running";
  }

  /** Whether the position is not known just now: the clocks have moved, or the device is silent. */
  get unsure() {
    if (!this.playing) return false;
    this.#read();
    const last = this.#readings.at(-1);
    return this.#strays.length > 0 || (last && performance.now() - last.performanceTime > 2 * STALE_MS);
  }

  /** The position that was heard at a time of `performance.now()`, in seconds of the soundtrack. */
  position(at_ms = performance.now()) {
    return Math.min(this.#unbounded(at_ms), this.#standing_s);
  }

  #unbounded(at_ms = performance.now()) {
    if (this.#begin_s === 0) return 0;
    if (this.playing) this.#read();
    const latency_s = this.#context.outputLatency || this.#context.baseLatency || 0;
    const about_s = this.#context.currentTime - latency_s - this.#begin_s;
    if (!this.playing) return Math.max(0, about_s);
    if (!this.#readings.length) return about_s + (at_ms - performance.now()) / 1000;
    return (at_ms - middle(this.#readings)) / 1000 - this.#begin_s;
  }

  #changed() {
    this.#afresh();
    if (this.#closed || this.#resuming) return;
    const running = this.#context.state === "running";
    if (this.paused && running) this.#context.suspend(); // it begins again only when it is asked to
    if (!this.paused && !running) this.#stopped();
  }

  #stopped() {
    this.pause();
    this.#told("stopped");
  }

  #afresh() {
    this.#readings = [];
    this.#strays = [];
    this.#since_ms = performance.now();
  }

  #read() {
    const { contextTime, performanceTime } = this.#context.getOutputTimestamp();
    // What a browser says is old, or nothing at all, until the first block after a start is heard.
    const age_ms = performance.now() - performanceTime;
    if (contextTime <= 0 || performanceTime < this.#since_ms) return;
    if (age_ms > STUCK_MS && this.#readings.length) this.#stopped();
    if (age_ms > STALE_MS) return;
    const reading = { origin_ms: performanceTime - contextTime * 1000, performanceTime };
    const stray = this.#readings.length && Math.abs(reading.origin_ms - middle(this.#readings)) > JUMP_MS;
    if (!stray) this.#strays = [];
    const kept = stray ? this.#strays : this.#readings;
    if (kept.length && performanceTime - kept.at(-1).performanceTime < APART_MS) return;
    kept.push(reading);
    if (this.#readings.length > READINGS) this.#readings.shift();
    if (this.#strays.length < JUMPED_AFTER) return;
    this.#readings = this.#strays;
    this.#strays = [];
    this.#told("jumped");
  }

  async #decoded(index) {
    const bytes = await this.#piece(index);
    return this.#context.decodeAudioData(bytes);
  }

  #place(samples) {
    const source = new AudioBufferSourceNode(this.#context, { buffer: samples });
    source.connect(this.#context.destination);
    const at_s = this.#rehearsal.pieces[this.#next];
    if (at_s >= this.#standing_s) {
      const stood_s = this.#context.currentTime - this.#begin_s - at_s;
      if (stood_s > 0) this.#begin_s += stood_s + LEAD_S;
      this.#standing_s = Infinity;
    }
    const due_s = this.#begin_s + at_s;
    const late_s = Math.max(0, this.#context.currentTime - due_s);
    if (late_s < samples.duration) source.start(Math.max(0, due_s), late_s);
    this.#next += 1;
    return late_s;
  }

  async #placeOthers() {
    let had = true;
    const begin_s = (piece) => this.#rehearsal.pieces[piece];
    while (!this.#closed && !(this.#rehearsal.whole && this.#next >= this.#rehearsal.pieces.length)) {
      let samples = null;
      const there = this.#next < this.#rehearsal.pieces.length;
      try {
        if (there) samples = await this.#decoded(this.#next);
      } catch (error) {
        // The program may be back before the piece is due, or in the middle of it.
        const due = this.position() > begin_s(this.#next);
        if (due && had && !this.#closed) this.#told("gone", error.message);
        if (due) had = false;
      }
      if (this.#closed) return;
      const inMiddle = begin_s(this.#next) > this.position();
      if (samples && this.#place(samples) > 0 && !inMiddle) this.#told("late");
      if (samples) had = true;
      // Two pieces ahead are enough: decoded sound is large.
      do await new Promise((done) => setTimeout(done, there ? LOOK_MS : SOON_MS));
      while (!this.#closed && begin_s(this.#next - 2) > this.position());
    }
  }
}

function middle(readings) {
  const sorted = readings.map((one) => one.origin_ms).sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)];
}
