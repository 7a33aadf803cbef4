// The brief on the page: the same as `coach brief` prints.

import { el, list, table } from "./dom.js";
import { picture } from "./picture.js";
import { clock, feet, heading, knots, tilt } from "./units.js";

/** The board's elements, of what was `chosen`. */
export async function board(brief, chosen) {
  const loops = brief.entry.loops;
  const seen = brief.entry.references.length ? "what the nose does" : "the track over the ground";
  const alternative = `${brief.title}: ${seen}, with speed, altitude, pitch and bank over time`;
  const first = brief.checkpoints.filter((one) => one.loop === 1);
  return [
    el("p", { class: "purpose" }, brief.purpose),
    brief.warnings.length ? el("div", { class: "warning" }, el("h2", {}, "Take care"), list(brief.warnings)) : null,
    el("h2", {}, "Entry"),
    entry(brief.entry),
    list(brief.entry.steps),
    await picture("/api/brief.svg", alternative, { body: chosen }),
    el("h2", {}, loops > 1 ? "Checkpoints of the first loop" : "Checkpoints"),
    table(
      loops > 1 ? `The first of ${loops} loops` : "All checkpoints",
      ["at", "time", "heading", "nose", "bank", "speed", "altitude"],
      first.map((one) => [
        one.name,
        clock(one.time_s),
        heading(one.heading_deg),
        tilt(one.pitch_deg, "up", "down"),
        tilt(one.bank_deg, "right", "left"),
        knots(one.ias_kt),
        feet(one.altitude_ft),
      ]),
    ),
    ...part("Good to know", brief.notes),
    ...part("Common errors", brief.common_errors),
    ...standard(brief.standard),
    ...part("Cautions", brief.cautions),
  ].filter((one) => one !== null);
}

function part(title, sentences) {
  return sentences?.length ? [el("h2", {}, title), list(sentences)] : [];
}

function standard(judged) {
  if (!judged?.limits?.length) return [];
  const limits = judged.limits.flatMap(({ what, within }) => [el("dt", {}, what), el("dd", {}, within)]);
  return [
    el("h2", {}, "How it is judged"),
    el("dl", { class: "pairs" }, ...limits),
    el("p", { class: "aside" }, judged.source),
  ];
}

function entry(given) {
  const wind = given.wind_kt < 0.5 ? "calm" : `${heading(given.wind_from_deg)} at ${knots(given.wind_kt)}`;
  const airplane = given.invented ? `${given.airplane} (invented)` : given.airplane;
  const pairs = {
    airplane: `${airplane}, ${Math.round(given.weight_lb).toLocaleString("en-US")} lb`,
    speed: `${knots(given.ias_kt)} indicated`,
    power: `${Math.round(given.power_percent)} %`,
    altitude: `${feet(given.altitude_ft)}, the ground at ${feet(given.ground_ft)}`,
    heading: `${heading(given.heading_deg)}, first turn ${given.first_turn}`,
    wind,
  };
  return el(
    "dl",
    { class: "pairs" },
    ...Object.entries(pairs).flatMap(([name, value]) => [el("dt", {}, name), el("dd", {}, value)]),
  );
}
