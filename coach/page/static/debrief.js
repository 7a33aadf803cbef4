// A run's debrief on the page.

import { judgedBy } from "./brief.js";
import { el, list, table } from "./dom.js";
import { picture } from "./picture.js";
import { clock, date } from "./units.js";

const NONE = "–";

/** Seconds with their sign, early negative. */
const signed = (seconds) => {
  const rounded = Math.abs(seconds).toFixed(1);
  return rounded === "0.0" ? "0 s" : `${seconds < 0 ? "−" : "+"}${rounded} s`;
};
const off = (value, unit) => {
  if (value === null) return NONE;
  const whole = Math.round(value);
  return whole ? `${whole < 0 ? "−" : "+"}${Math.abs(whole)}${unit}` : `0${unit}`;
};

/** A run's picture from its address; see `picture`. */
export const ofRun = (path, secret) =>
  picture(path, "Every checkpoint early, late or missed, and what was flown over what was planned", { secret, upright: true });

/**
 * The debrief's elements, the one thing to work on first; `drawing` is the run's, or null, and
 * `interrupted_s` when the sound was interrupted, where that is known.
 */
export function judged(debrief, drawing, interrupted_s = []) {
  const { run, checkpoints } = debrief;
  const loops = Math.max(1, ...checkpoints.map((row) => row.loop));
  const columns = {
    [loops > 1 ? "loop · at" : "at"]: (row) => (loops > 1 ? `${row.loop} · ${row.name}` : row.name),
    error: (row) => (row.error_s === null ? NONE : signed(row.error_s)),
    verdict: (row) => row.word,
    "bank held (due)": (row) => row.held.bank ?? NONE,
    "nose held (due)": (row) => row.held.pitch ?? NONE,
    "heading off": (row) => off(row.heading_deg, "°"),
    "speed off": (row) => off(row.speed_kt, " kt"),
    "altitude off": (row) => off(row.altitude_ft, " ft"),
  };
  return [
    el("p", { class: "next-step" }, debrief.next),
    el("p", {}, debrief.plain),
    ...errors(debrief),
    debrief.hand ? el("p", {}, `The hand: ${debrief.hand.words}`) : null,
    debrief.perceived ? el("p", {}, `Left out: ${debrief.perceived}`) : null,
    debrief.tones ? el("p", {}, `On the tone: ${debrief.tones}`) : null,
    debrief.not_counted ? el("p", {}, debrief.not_counted) : null,
    interruptions(interrupted_s),
    drawing,
    checkpoints.length ? filledTable("Every checkpoint", columns, checkpoints) : null,
    debrief.summary ? el("p", { class: "aside" }, debrief.summary) : null,
    el("p", { class: "aside" }, `${run.airplane}, ${date(run.started)}, ${run.ended_words}.`),
    ...judgedBy(debrief),
  ].filter((one) => one !== null);
}

/** The largest errors, where there is more to tell than the one thing to work on. */
function errors({ largest }) {
  return largest.length > 1 ? [el("h2", {}, "The largest errors"), list(largest)] : [];
}

/** A table without the columns in which nothing stands. */
function filledTable(caption, columns, rows) {
  const shown = Object.entries(columns).filter(([, cell]) => rows.some((row) => cell(row) !== NONE));
  const cells = rows.map((row) => shown.map(([, cell]) => cell(row)));
  return table(caption, shown.map(([head]) => head), cells);
}

/** Taps are judged by the sound as it was heard, but nobody keeps time through a gap in it. */
function interruptions(at_s) {
  const times = new Set(at_s.filter((one) => one > 0).map(clock));
  if (!times.size) return null;
  const told = [...times].join(" and ");
  return el("p", {}, `The sound was interrupted at ${told}: taps near there may be off through no fault of yours.`);
}
