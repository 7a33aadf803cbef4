// The debrief and the logbook on the page.

import { el, picture, table } from "./dom.js";

const ENDINGS = { finished: "flown to the end", stopped: "stopped early", interrupted: "interrupted" };

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
const day = (started) =>
  new Date(started).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });

/** The debrief's elements, the one thing to work on first; `source` is the picture's address or "". */
export function judged(debrief, source) {
  const { run, checkpoints } = debrief;
  const loops = Math.max(1, ...checkpoints.map((row) => row.loop));
  const rows = checkpoints.map((row) => [
    loops > 1 ? `${row.loop} · ${row.name}` : row.name,
    row.error_s === null ? "–" : signed(row.error_s),
    row.word,
    off(row.heading_deg, "°"),
    off(row.speed_kt, " kt"),
  ]);
  return [
    el("p", { class: "next-step" }, debrief.next),
    el("p", {}, debrief.plain),
    source ? picture(source, "Every checkpoint early, late or missed; the taps over speed and bank") : null,
    rows.length
      ? table("Every checkpoint", [loops > 1 ? "loop · at" : "at", "error", "verdict", "heading off", "speed off"], rows)
      : null,
    el("p", { class: "aside" }, debrief.summary),
    el("p", { class: "aside" }, `${run.airplane}, ${day(run.started)}, ${ENDINGS[run.ended] ?? run.ended}.`),
  ].filter((one) => one !== null);
}

/** The logbook's elements; `open(id)` shows one run's debrief. */
export function logbook(runs, open) {
  if (!runs.length) return [el("p", {}, "There is no run yet. The first one will stand here.")];
  const heads = ["maneuver", "on time", "off on average", "when", "airplane", "who", "how it ended"];
  const rows = runs.map((run) => [
    el("button", { class: "quiet", onclick: () => open(run.id), "aria-label": `${run.title}, run ${run.id}` }, run.title),
    run.checkpoints ? `${run.on_time} of ${run.checkpoints}` : "–",
    run.absolute_error_s === null ? "–" : `${run.absolute_error_s.toFixed(1)} s`,
    day(run.started),
    run.airplane,
    run.student || "–",
    ENDINGS[run.ended] ?? run.ended,
  ]);
  return [table("Your runs, newest first", heads, rows)];
}
