// What is heard when, told to the program: it puts there what students did.

const APART_S = 0.05; // reports that differ by more tell of a jump

/** What is heard of a run now, or null where that is not known. */
export function heard(run, sound, length_s) {
  if (!sound || sound.unsure) return null;
  const at_ms = performance.now();
  const position_s = Math.min(sound.position(at_ms), length_s);
  return { type: "heard", run, position_s, at_s: at_ms / 1000, playing: sound.playing };
}

export class Reports {
  #untold = []; // what the program has not had

  /** Tell what is heard now over a link, and before that what was heard while it was away; kept
   * where the program does not know this page's clock (`settled`). */
  tell(link, settled, now) {
    if (now) {
      if (this.#untold.length > 1 && this.#untold.slice(-2).every((one) => goesOn(one, now))) this.#untold.pop();
      this.#untold.push(now);
    }
    if (!settled) return;
    for (const one of this.#untold) link.send(one);
    this.#untold = [];
  }
}

/** Whether the sound went on from one report to the other, or stood all the while. */
function goesOn(one, other) {
  const moved_s = other.playing ? other.at_s - one.at_s : 0;
  return (
    one.run === other.run &&
    one.playing === other.playing &&
    Math.abs(other.position_s - one.position_s - moved_s) < APART_S
  );
}
