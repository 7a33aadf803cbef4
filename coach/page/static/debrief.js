// A run's debrief on the page.

import { judgedBy } from "./brief.js";
import { el, table } from "./dom.js";
import { picture } from "./picture.js";
import { clock, date } from "./units.js";

/** Seconds with their sign, early negative. */
const signed = (seconds) => {
  const rounded = Math.abs(seconds).toFixed(1);
  return rounded === "0.0" ? "0 s" : `${seconds < 0 ? "−" : "+"}${rounded} s`;
};
const off = (value, unit) => {
  if (value === null) return "–";
  const whole = Math.round(value);
  return whole ? `${whole < 0 ? "−" : "+"}${Math.abs(whole)}${unit}` : `0${unit}`;
};

/** A run's picture from its address; see `picture`. */
export const ofRun = (path, secret) =>
  picture(path, "Every checkpoint early, late or missed; the taps over speed and bank", { secret, upright: true });

/**
 * The debrief's elements, the one thing to work on first; `drawing` is the run's, or null, and
 * `interrupted_s` when the sound was interrupted, where that is known.
 */
export function judged(debrief, drawing, interrupted_s = []) {
  const { run, checkpoints } = debrief;
  const loops = Math.max(1, ...checkpoints.map((row) => row.loop));
  const rows = checkpoints.map((row) => [
    loops > 1 ? `${row.loop} · ${row.name}` : row.name,
    row.error_s === null ? "–" : signed(row.error_s),
    row.word,
    off(row.heading_deg, "°"),
    off(row.speed_kt, " kt"),
    off(row.altitude_ft, " ft"),
  ]);
  return [
    el("p", { class: "next-step" }, debrief.next),
    el("p", {}, debrief.plain),
    debrief.perceived ? el("p", {}, `Not perceived: ${debrief.perceived}`) : null,
    debrief.tones ? el("p", {}, `On the tone: ${debrief.tones}`) : null,
    debrief.not_counted ? el("p", {}, debrief.not_counted) : null,
    interruptions(interrupted_s),
    drawing,
    rows.length
      ? table("Every checkpoint", [loops > 1 ? "loop · at" : "at", "error", "verdict", "heading off", "speed off", "altitude off"], rows)
      : null,
    el("p", { class: "aside" }, debrief.summary),
    el("p", { class: "aside" }, `${run.airplane}, ${date(run.started)}, ${run.ended_words}.`),
    ...judgedBy(debrief),
  ].filter((one) => one !== null);
}

/** Taps are judged by the sound as it was heard, but nobody keeps time through a gap in it. */
function interruptions(at_s) {
  const times = new Set(at_s.filter((one) => one > 0).map(clock));
  if (!times.size) return null;
  const told = [...times].join(" and ");
  return el("p", {}, `The sound was interrupted at ${told}: taps near there may be off through no fault of yours.`);
}
