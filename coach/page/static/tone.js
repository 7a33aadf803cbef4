// A soft low tone while the hand is off the plan, beside the soundtrack and as loud as its bed.

const HZ = 330; // below every checkpoint's tone, between the engine's and the voice's
const LEVEL = 0.05;
const SOFTLY_S = 0.15;

export class Tone {
  #gain;
  #context;

  /** On the soundtrack's own context: where that is paused or closed, so is this. */
  constructor(context) {
    this.#context = context;
    this.#gain = new GainNode(context, { gain: 0 });
    const tone = new OscillatorNode(context, { type: "sine", frequency: HZ });
    tone.connect(this.#gain).connect(context.destination);
    tone.start();
  }

  /** Let it sound, or not; nothing clicks. */
  sound(on) {
    this.#gain.gain.setTargetAtTime(on ? LEVEL : 0, this.#context.currentTime, SOFTLY_S);
  }
}
