// What is shown while a maneuver is flown: large, calm, for eyes that are on the model in the hand.

import { calm, el, say } from "./dom.js";
import { GroundTrack } from "./ground.js";
import { NosePath, OverTheNose } from "./scene.js";
import { feet, knots, tilt } from "./units.js";

const FIGURES = {
  nose: (row) => tilt(row.pitch_deg, "up", "down"),
  bank: (row) => tilt(row.bank_deg, "right", "left"),
  speed: (row) => knots(row.ias_kt),
  altitude: (row) => feet(row.altitude_ft),
};
const BETWEEN = ["across_deg", "pitch_deg", "bank_deg", "ias_kt", "altitude_ft", "east_ft", "north_ft"];
const CAPTION_STAYS_S = 1;
const BACK_S = 0.5;
const CALM_MS = 1000; // between two drawings for those who want little motion

export class Stage {
  /** `tapping` is the button that the student taps, or null on the screen of a room; `titled`
   * hears the title, which changes with the loop. Where a hand flies, the view over the nose comes
   * first (`flown`): its attitude is what is to be followed. */
  constructor(rehearsal, tapping, titled, flown = false) {
    this.rehearsal = rehearsal;
    this.titled = titled;
    const { ground, shows } = rehearsal;
    const numbers = shows === "everything";
    const ahead = shows !== "nothing ahead";
    this.shows = { numbers, ahead };
    this.rows = rehearsal.track.position_s.map((position_s, index) =>
      Object.fromEntries(Object.entries(rehearsal.track).map(([name, column]) => [name, column[index]])),
    );
    this.loops = Math.max(...this.rows.map((row) => row.loop));
    this.drawn_ms = -Infinity;
    this.furthest_s = -Infinity;
    this.loop = 0;
    this.over = new OverTheNose(rehearsal.references, rehearsal.own);
    this.track = el("div", {}); // a drawing for each loop
    const byGround = ground && !(flown && rehearsal.own);
    const [first, second] = byGround ? [this.track, this.over.root] : [this.over.root, this.track];
    this.figures = Object.keys(FIGURES).map((name) => [name, el("dd", {})]);
    this.leg = el("strong", {});
    this.when = el("small", {});
    this.count = el("span", { class: "count" });
    this.next = el("span", { class: "next" });
    this.caption = el("p", { class: "caption", "aria-live": "polite" });
    const hidden = "From memory: close your eyes if you like, and tap where you think you are.";
    this.root = el(
      "div",
      { class: `stage ${tapping ? "alone" : ""} ${byGround ? "by-ground" : ""}` },
      ahead ? el("div", { class: "first" }, first) : el("p", { class: "first memory" }, hidden),
      ahead ? el("p", { class: "now" }, this.when, " ", this.leg) : null,
      el("p", { class: "ahead" }, this.count, " ", this.next),
      this.caption,
      numbers ? el("dl", { class: "figures" }, ...this.figures.map(together)) : null,
      ahead ? el("div", { class: "second" }, second) : null,
      tapping,
    );
  }

  /** Show what is said in the whole of what was begun with its opening. */
  extend(whole) {
    this.rehearsal = whole;
  }

  /** Show the flight at a position of the soundtrack. */
  draw(position_s) {
    // Where the clocks are put right the position goes back a little: nothing is told twice for it.
    const back_s = this.furthest_s - position_s;
    if (!(back_s > 0 && back_s < BACK_S)) this.furthest_s = position_s;
    say(this.caption, this.#caption(this.furthest_s));
    const now_ms = performance.now();
    if (calm.matches && now_ms - this.drawn_ms < CALM_MS) return;
    this.drawn_ms = now_ms;
    const row = this.at(position_s);
    if (row.loop !== this.loop) this.#turnPage(row.loop);
    this.#now(position_s);
    this.#ahead(position_s);
    if (this.shows.ahead) {
      this.over.draw(row);
      this.path.draw(this.loopRows.filter((one) => one.position_s < position_s), row);
    }
    if (this.shows.numbers) for (const [name, figure] of this.figures) say(figure, FIGURES[name](row));
  }

  /** Show how the student's hand holds the nose, where that is shown; see `OverTheNose`. */
  hand(attitude) {
    this.over.hand(attitude);
  }

  /** Mark a tap where the nose, or the airplane, was. */
  tap(position_s) {
    if (position_s < this.rehearsal.flight_start_s) return;
    const row = this.at(position_s);
    if (this.shows.ahead && row.loop === this.loop) this.path?.tap(row);
  }

  /** The track between two of its rows. */
  at(position_s) {
    const { rows } = this;
    let low = 0;
    let high = rows.length - 1;
    while (high - low > 1) {
      const half = (low + high) >> 1;
      if (rows[half].position_s <= position_s) low = half;
      else high = half;
    }
    const [a, b] = [rows[low], rows[high]];
    const span = b.position_s - a.position_s;
    const share = span > 0 ? Math.max(0, Math.min(1, (position_s - a.position_s) / span)) : 0;
    const between = { ...(share < 1 ? a : b) };
    for (const name of BETWEEN) between[name] = a[name] + (b[name] - a[name]) * share;
    return between;
  }

  #turnPage(loop) {
    this.loop = loop;
    const which = this.loops > 1 ? `loop ${loop} of ${this.loops}` : "";
    this.titled([this.rehearsal.title, which, this.rehearsal.airplane].filter(Boolean).join(" · "));
    this.loopRows = this.rows.filter((row) => row.loop === loop);
    this.path = new (this.rehearsal.ground ? GroundTrack : NosePath)(this.rehearsal, this.rows, loop);
    this.track.replaceChildren(this.path.root);
  }

  /** The leg that is flown, or that comes first. */
  #now(position_s) {
    const { flight_start_s, legs } = this.rehearsal;
    const leg = legs.findLast((one) => one.position_s <= position_s) ?? legs[0];
    say(this.when, position_s < flight_start_s ? "first" : "now");
    say(this.leg, leg.name);
  }

  #ahead(position_s) {
    const { flight_start_s, moments } = this.rehearsal;
    const next = moments.find((moment) => moment.position_s > position_s);
    const until = position_s < flight_start_s ? flight_start_s : next?.position_s;
    const left_s = Math.max(0, Math.ceil((until ?? 0) - position_s));
    const begun = position_s >= flight_start_s;
    const shown = until !== undefined && (!begun || this.shows.ahead);
    say(this.count, shown ? String(left_s) : "");
    const reference = next && this.at(next.position_s).reference;
    const name = reference ? `${next.name}, ${reference}` : next?.name;
    const unit = left_s === 1 ? "second" : "seconds";
    say(this.next, shown ? `${unit} to ${begun ? name : "the start"}` : "");
  }

  #caption(position_s) {
    const spoken = this.rehearsal.cues.filter((cue) => cue.text && cue.start_s <= position_s);
    const last = spoken.at(-1);
    if (!last) return "";
    return position_s <= last.end_s + Math.max(CAPTION_STAYS_S, last.gap_s) ? last.text : "";
  }
}

const together = ([name, figure]) => el("div", {}, el("dt", {}, name), figure);
