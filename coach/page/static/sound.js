// The soundtrack, played on the sound device's own clock.
//
// Every piece is started at its place on the AudioContext's clock, so nothing here waits or sleeps in
// time with the sound. `getOutputTimestamp` says which moment of that clock was heard at which
// `performance.now()`; the middle one of the last seconds' readings relates the two.

const RATE = 48000;
const LEAD_S = 0.15; // from deciding to sound to its first sample
const READINGS = 60;
const APART_MS = 50; // between two readings that are both kept
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
  #next = 0; // piece to be placed
  #closed = false;

  /**
   * `rehearsal` is the server's, `context` a new one, `piece(index)` fetches a piece's bytes, and `told(what)` hears
   * "jumped" when the sound was interrupted, "late" when a piece came too late, "stopped" when the
   * device stopped by itself and "gone" with a sentence when a piece cannot be had at all.
   */
  constructor(rehearsal, context, piece, told) {
    this.#rehearsal = rehearsal;
    this.#context = context;
    this.#piece = piece;
    this.#told = told;
  }

  /** Begin at a position. */
  async play(position_s = 0) {
    this.#next = Math.floor(position_s / this.#rehearsal.piece_s);
    const first = await this.#decoded(this.#next);
    if (this.#closed) return;
    await this.#context.resume();
    this.#begin_s = this.#context.currentTime + LEAD_S - position_s;
    this.#place(first);
    this.#context.onstatechange = () => {
      this.#readings = [];
      if (!this.#closed && !this.paused && this.#context.state !== "running") this.#told("stopped");
    };
    this.#placeOthers();
  }

  paused = false;

  async pause() {
    this.paused = true;
    await this.#context.suspend();
  }

  async resume() {
    await this.#context.resume();
    this.#readings = [];
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

  /** The position that was heard at a time of `performance.now()`, in seconds of the soundtrack. */
  position(at_ms = performance.now()) {
    if (this.#begin_s === 0) return 0;
    if (!this.playing) return Math.max(0, this.#heardBy().contextTime - this.#begin_s);
    this.#read();
    return (at_ms - middle(this.#readings)) / 1000 - this.#begin_s;
  }

  #read() {
    const { contextTime, performanceTime } = this.#heardBy();
    const origin_ms = performanceTime - contextTime * 1000;
    const last = this.#readings.at(-1);
    if (last === undefined) this.#readings = [{ origin_ms, performanceTime }];
    else if (Math.abs(origin_ms - middle(this.#readings)) > JUMP_MS) {
      if (performanceTime !== this.#strays.at(-1)?.performanceTime)
        this.#strays.push({ origin_ms, performanceTime });
      if (this.#strays.length < JUMPED_AFTER) return;
      this.#readings = this.#strays;
      this.#strays = [];
      this.#told("jumped");
    } else {
      this.#strays = [];
      if (performanceTime - last.performanceTime < APART_MS) return;
      this.#readings.push({ origin_ms, performanceTime });
      if (this.#readings.length > READINGS) this.#readings.shift();
    }
  }

  #heardBy() {
    const context = this.#context;
    const told = context.getOutputTimestamp?.();
    const behind_s = context.currentTime - (told?.contextTime ?? 0);
    // Before its first block a browser says 0; an absurd answer is no better than none.
    if (told?.contextTime > 0 && behind_s >= 0 && behind_s < 2) return told;
    const latency_s = context.outputLatency || context.baseLatency || 0;
    return { contextTime: context.currentTime - latency_s, performanceTime: performance.now() };
  }

  async #decoded(index) {
    const bytes = await this.#piece(index);
    return this.#context.decodeAudioData(bytes);
  }

  #place(samples) {
    const source = new AudioBufferSourceNode(this.#context, { buffer: samples });
    source.connect(this.#context.destination);
    const due_s = this.#begin_s + this.#next * this.#rehearsal.piece_s;
    const late_s = Math.max(0, this.#context.currentTime - due_s);
    if (late_s < samples.duration) source.start(Math.max(0, due_s), late_s);
    this.#next += 1;
    return late_s;
  }

  async #placeOthers() {
    try {
      while (this.#next < this.#rehearsal.pieces && !this.#closed) {
        const samples = await this.#decoded(this.#next);
        if (this.#closed) return;
        const inMiddle = this.#next * this.#rehearsal.piece_s > this.position();
        if (this.#place(samples) > 0 && !inMiddle) this.#told("late");
        // Two pieces ahead are enough: decoded sound is large.
        while (!this.#closed && (this.#next - 2) * this.#rehearsal.piece_s > this.position())
          await new Promise((done) => setTimeout(done, 250));
      }
    } catch (error) {
      if (!this.#closed) this.#told("gone", error.message);
    }
  }
}

function middle(readings) {
  const sorted = readings.map((one) => one.origin_ms).sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)];
}
