// One rehearsal alone: the sound, the stage, and the taps on their way to the logbook.

import { byId, el, Notice, say } from "./dom.js";
import { Outbox } from "./outbox.js";
import { heard } from "./reports.js";
import { ask, bytes, Gone, patience, pause } from "./server.js";
import { newContext, Sound } from "./sound.js";
import { Stage } from "./stage.js";
import { listen } from "./taps.js";
import { Tone } from "./tone.js";

const LOOK_MS = 250; // for the end, which a page in the background must find as well
const REACHED_MS = 1000;
const HEARD_MS = 250;
const AGAIN_MS = 50; // a tap waits until the sound's clock is known
const QUIET_S = 0.5; // so long before something is heard the tone of a hand that is off is over
const PASSED = {
  jumped: "The sound was interrupted for a moment. It goes on from here, and taps count.",
  late: "A part of the sound came too late and left a gap.",
};
const STOPPED = "The sound stopped. Taps do not count until you press Go on.";
const WAITING = "The rest is still being spoken: the count-in comes as soon as it is there.";
const AWAY = "While this page was in the background the sound went on, but the space bar could not tap.";
const told = new Notice(byId("told"));

export class Flying {
  #context = newContext(); // allowed to sound only because a click is being handled now
  #button = el("button", { class: "tap" }, el("span", {}, "Tap"), el("small", {}, "at every checkpoint, or press space"));
  #outbox = new Outbox(told);
  #tone = new Tone(this.#context);
  #off = false; // the hand
  #hand;
  #run = "";
  #refused = ""; // why nothing of it can be kept
  #sound = null;
  #left = false;
  #waiting = false;
  #interrupted_s = [];
  #end;

  /** With a phone in the hand, if there is one. */
  constructor(hand) {
    this.#hand = hand;
  }

  /** Fly it. Answers when it is over with the run's number, null where it was stopped before its
   * first checkpoint or was `refused`, and why; and with the seconds of the maneuver at which the sound
   * was interrupted. Or with null where it was left for something else. */
  async fly(rehearsal, student) {
    this.rehearsal = rehearsal;
    this.stage = new Stage(rehearsal, this.#button, (title) => say(byId("flown"), title), this.#hand.joined);
    byId("stage").replaceChildren(this.stage.root);
    told.stands("");
    say(byId("pause"), "Pause");
    this.#button.focus({ preventScroll: true });
    this.stage.draw(0);
    const over = new Promise((done) => (this.#end = done)); // "finished" or "stopped"
    this.#sound = new Sound(rehearsal, this.#context, (index) => this.#had(() => this.#piece(index)), (what, why) => {
      if (PASSED[what]) told.passes(PASSED[what]);
      else told.stands(why ?? STOPPED);
      if (what === "stopped") say(byId("pause"), "Go on");
      this.#interrupted_s.push(this.#sound.position() - rehearsal.flight_start_s);
      this.#sounds();
    });
    await this.#sound.play();
    this.#goOn(student);
    const lock = await navigator.wakeLock?.request("screen").catch(() => null);
    const quiet = [
      listen(this.stage.root, this.#button, (at_ms) => this.#tap(at_ms)),
      every(LOOK_MS, () => this.#look()),
      every(REACHED_MS, () => this.#reached()),
      every(HEARD_MS, () => this.#sounds()),
      whenBack(() => this.#sound.playing && told.passes(AWAY)),
      () => lock?.release(),
      this.#hand.flies((now) => this.#moved(now)),
    ];
    if (this.#left) this.#end("stopped");
    this.#draw();
    const ended = await over;
    const position_s = ended === "finished" ? this.rehearsal.length_s : this.#sound.position();
    this.#sounds();
    quiet.forEach((stop) => stop());
    this.#sound.close();
    this.#sound = null;
    const { number = null, refused = this.#refused } = this.path
      ? await this.#outbox.send(`${this.path}/end`, { position_s, ended })
      : {};
    return this.#left ? null : { number, refused, interrupted_s: this.#interrupted_s };
  }

  /** Begin the attempt, and go on with all of what was begun with its opening. */
  async #goOn(student) {
    const { id, whole, note } = this.rehearsal;
    try {
      const all = whole ? this.rehearsal : await this.#had(() => ask(`/api/rehearsals/${id}`));
      const { run } = await this.#had(() => ask("/api/attempts", { rehearsal: id, student }));
      this.path = `/api/attempts/${run}`;
      this.#run = run;
      this.rehearsal = all;
      this.stage.extend(all);
      this.#sound?.extend(all);
      if (all.note && all.note !== note) told.passes(all.note);
    } catch (error) {
      this.#refused = error.message;
      if (this.#sound) told.stands(error.message);
    }
  }

  /** Whether it is over, or stands because the rest is not there. */
  #look() {
    if (this.rehearsal.whole && this.#known() >= this.rehearsal.length_s) this.#end("finished");
    const waiting = this.#sound.playing && this.#sound.waiting;
    if (waiting !== this.#waiting && this.#sound.playing) told.stands(waiting ? WAITING : "");
    this.#waiting = waiting;
    this.#warn();
  }

  /** Pause, or go on. */
  async turn() {
    if (!this.#sound) return;
    if (this.#sound.playing) {
      await this.#sound.pause();
      told.stands("Paused. Taps do not count until you go on.");
      say(byId("pause"), "Go on");
    } else {
      await this.#sound.resume();
      told.stands("");
      say(byId("pause"), "Pause");
      this.#button.focus({ preventScroll: true });
    }
    this.#sounds();
  }

  stop() {
    this.#end?.("stopped");
  }

  /** It is left for something else; what was flown of it is kept. */
  leave() {
    this.#left = true;
    this.stop();
  }

  #draw() {
    if (!this.#sound) return;
    const position_s = this.#known();
    if (position_s !== null) this.stage.draw(position_s);
    requestAnimationFrame(() => this.#draw());
  }

  /** The position, or null where it is not known just now: the drawing waits, and so does a tap. */
  #known() {
    return this.#sound.unsure ? null : this.#sound.position();
  }

  #tap(at_ms) {
    if (!this.#sound?.playing) return;
    if (this.#sound.unsure) {
      setTimeout(() => this.#tap(at_ms), AGAIN_MS);
      return;
    }
    const position_s = this.#sound.position(at_ms);
    this.stage.tap(position_s);
    this.#button.animate([{ opacity: 0.55 }, { opacity: 1 }], 250);
    if (this.path) this.#outbox.send(`${this.path}/taps`, { position_s });
  }

  #reached() {
    const position_s = this.#known();
    // While taps wait for the program, nobody needs to know an old position.
    if (this.#sound.playing && position_s !== null && this.path && this.#outbox.empty)
      this.#outbox.send(`${this.path}/reached`, { position_s });
  }

  /** Tell what is heard, so that what the phone reads is put there. */
  #sounds() {
    if (this.#run) this.#hand.sounds(heard(this.#run, this.#sound, this.rehearsal.length_s));
  }

  /** What the hand does just now. */
  #moved({ pitch_deg, bank_deg, off }) {
    this.stage.hand(pitch_deg === null || bank_deg === null ? null : { pitch_deg, bank_deg });
    this.#off = off;
    this.#warn();
  }

  /** Let the tone be heard of a hand that is off, where nothing else is and nothing is to be said. */
  #warn() {
    if (!this.#sound) return;
    const position_s = this.#sound.position();
    const heard = ({ start_s, end_s, gap_s }) => start_s - QUIET_S < position_s && position_s < end_s + gap_s;
    this.#tone.sound(this.#off && !this.rehearsal.cues.some(heard));
  }

  #piece(index) {
    return bytes(`/api/rehearsals/${this.rehearsal.id}/sound/${index}.wav`);
  }

  /** What is asked for, as soon as the program answers. */
  async #had(asking) {
    for (let attempt = 1; ; attempt++) {
      try {
        return await asking();
      } catch (error) {
        if (!(error instanceof Gone) || !this.#sound) throw error;
        await pause(patience(attempt));
      }
    }
  }
}

function every(milliseconds, doing) {
  const timer = setInterval(doing, milliseconds);
  return () => clearInterval(timer);
}

function whenBack(doing) {
  const changed = () => document.hidden || doing();
  document.addEventListener("visibilitychange", changed);
  return () => document.removeEventListener("visibilitychange", changed);
}
