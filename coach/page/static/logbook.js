// The logbook on the page, and what to fly next.

import { drawn, el, pairs } from "./dom.js";
import { date } from "./units.js";

/** What to fly next; `take(one)` sets one of them up. */
export function session(coming, take) {
  if (!coming.length) return el("p", {}, "Nothing is due today. Fly again what went worst.");
  return el("ul", { class: "session" }, ...coming.map((one) => toFly(one, take)));
}

function toFly(one, take) {
  return el(
    "li",
    {},
    el(
      "div",
      {},
      el("strong", {}, one.title),
      el("small", {}, `${one.minutes.toFixed(1)} min · ${one.how}`),
      el("span", {}, one.reason),
    ),
    el("button", { "aria-label": `Set up: ${one.title}`, onclick: () => take(one) }, "Set it up"),
  );
}

/** What was flown of each maneuver; `open(number)` shows a run's debrief. */
export function flown({ maneuvers, last_runs }, open) {
  if (!maneuvers.length) return [el("p", {}, "There is no run yet. The first one will stand here.")];
  return [el("h2", {}, "What you have flown"), ...maneuvers.map((one) => past(one, last_runs, open))];
}

function past({ title, runs, best, recent, shares, trend, readiness, due }, last_runs, open) {
  const lines = { last: shown(recent[0], open), best: best && shown(best, open), due };
  const all = runs > recent.length ? `The latest ${recent.length} of ${runs} runs` : `All ${runs} runs`;
  return el(
    "article",
    { class: "past" },
    el("h3", {}, title),
    el("p", {}, readiness),
    el("figure", {}, shares.length ? course(shares, last_runs) : null, el("figcaption", {}, trend)),
    pairs(Object.entries(lines).filter(([, value]) => value)),
    runs > 1 ? el("details", {}, el("summary", {}, all), el("ul", {}, ...recent.map((run) => line(run, open)))) : null,
  );
}

const onTime = ({ checkpoints, on_time }) =>
  checkpoints ? `${on_time} of ${checkpoints} on time` : "no checkpoint reached";

const counts = ({ not_counted }) => (not_counted ? ` (does not count: ${not_counted})` : "");

const shown = (run, open) =>
  el("button", { class: "quiet", onclick: () => open(run.id) }, `${onTime(run)}, ${run.when}${counts(run)}`);

const line = (run, open) =>
  el(
    "li",
    {},
    el("button", { class: "quiet", onclick: () => open(run.id) }, date(run.started)),
    el("span", {}, onTime(run)),
    el("small", {}, `${run.how}; ${run.ended_words}${counts(run)}`),
  );

const STEP = 20;
const [TOP, GROUND] = [10, 62];

/** The runs' shares on time as hills, the oldest at the left; the line at the top is all on time. */
function course(shares, most) {
  const points = shares.map((share, index) => [STEP * (index + 0.5), GROUND - (GROUND - TOP) * share]);
  const ends = [points.at(-1), points[0]].map(([x]) => [x, GROUND]);
  const percents = shares.map((share) => Math.round(100 * share)).join(", ");
  const label = `On time in ${shares.length === 1 ? "one run" : `${shares.length} runs, the oldest first`}: ${percents} percent`;
  const width = STEP * most;
  return drawn(
    "svg",
    { class: "course", viewBox: `0 0 ${width} ${GROUND + 4}`, role: "img", "aria-label": label },
    drawn("line", { class: "whole", x1: 0, x2: width, y1: TOP, y2: TOP }),
    drawn("polygon", { class: "near", points: [...points, ...ends].join(" ") }),
    drawn("line", { class: "post", x1: 0, x2: width, y1: GROUND, y2: GROUND }),
    drawn("polyline", { class: "path", points: points.join(" ") }),
    ...points.map(([cx, cy]) => drawn("circle", { class: "point", cx, cy, r: 4.5 })),
  );
}
