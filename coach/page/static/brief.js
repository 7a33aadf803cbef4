// The brief on the page, of the same values as `coach brief` prints.

import { el, list, pairs, table } from "./dom.js";
import { picture } from "./picture.js";
import { clock, feet, heading, knots, tilt } from "./units.js";

const READING =
  "The nose is above or below where it points in level flight at entry; the margin is what the speed is above " +
  "the stall at that load; the rudder’s side and size are a model’s guess.";

/** The board's elements; its picture comes from a `path`, where it is drawn from a `body` or is. */
export async function board(brief, path, body) {
  const loops = brief.entry.loops;
  const seen = brief.entry.references.length ? "what the nose does" : "the track over the ground";
  const alternative = `${brief.title}: ${seen}, with speed, altitude, pitch and bank over time`;
  const first = brief.checkpoints.filter((one) => one.loop === 1);
  return [
    el("p", { class: "purpose" }, brief.purpose),
    brief.warnings.length ? el("div", { class: "warning" }, el("h2", {}, "Take care"), list(brief.warnings)) : null,
    el("h2", {}, "Entry"),
    entry(brief.entry, brief.length_s),
    list(brief.entry.steps),
    await picture(path, alternative, { body, upright: true }),
    el("h2", {}, loops > 1 ? "Checkpoints of the first loop" : "Checkpoints"),
    table(
      loops > 1 ? `The first of ${loops} loops` : "All checkpoints",
      ["at", "time", "heading", "nose", "bank", "speed", "altitude", "load", "margin", "rudder"],
      first.map((one) => [
        one.name,
        clock(one.time_s),
        heading(one.heading_deg),
        tilt(one.pitch_deg, "up", "down"),
        tilt(one.bank_deg, "right", "left"),
        knots(one.ias_kt),
        feet(one.altitude_ft),
        `${one.load_factor.toFixed(2)} g`,
        knots(one.stall_margin_kt),
        one.rudder_words.replace(/ ?rudder ?/, ""), // the column says it
      ]),
    ),
    el("p", { class: "aside" }, READING),
    ...part("Good to know", brief.notes),
    ...part("Common errors", brief.common_errors),
    ...judgedBy(brief),
    ...part("Cautions", brief.cautions),
  ].filter((one) => one !== null);
}

function part(title, sentences) {
  return sentences?.length ? [el("h2", {}, title), list(sentences)] : [];
}

/** What a maneuver is judged by at each of a brief's or a debrief's checkrides. */
export const judgedBy = ({ standards, not_asked: elsewhere }) =>
  standards.flatMap(({ title, limits }, place) => [
    place ? null : el("h2", {}, "How it is judged"),
    place || !elsewhere ? null : el("p", {}, elsewhere),
    pairs(limits.map(({ what, within }) => [what, within])),
    el("p", { class: "aside" }, `${title[0].toUpperCase()}${title.slice(1)}.`),
  ]);

function entry(given, length_s) {
  const wind = given.wind_kt < 0.5 ? "calm" : `${heading(given.wind_from_deg)} at ${knots(given.wind_kt)}`;
  const airplane = given.invented ? `${given.airplane} (invented)` : given.airplane;
  return pairs(Object.entries({
    airplane: `${airplane}, ${Math.round(given.weight_lb).toLocaleString("en-US")} lb`,
    speed:
      `${knots(given.ias_kt)} indicated (maneuvering ${knots(given.maneuvering_speed_kt)}, ` +
      `stall ${knots(given.stall_speed_kt)})`,
    ...(given.handbook.length
      ? { handbook: given.handbook.map(({ what, value }) => `${what} ${value}`).join("; ") }
      : {}),
    power: power(given, length_s),
    altitude: `${feet(given.altitude_ft)}, the ground at ${feet(given.ground_ft)}${estimate(given)}`,
    heading: `${heading(given.heading_deg)}, first turn ${given.first_turn}`,
    wind,
    ...(given.references.length ? { references: references(given.references) } : {}),
  }));
}

/** The setting, in revolutions where the throttle says them, and how these wander when it is left alone. */
function power({ power_percent: percent, rpm, rpm_left_alone: alone }, length_s) {
  const turns = (rpm) => (10 * Math.round(rpm / 10)).toLocaleString("en-US");
  const share = `${Math.round(percent)} % of rated`;
  const set = percent < 0.5 ? "idle" : rpm === null ? share : `${turns(rpm)} rpm, ${share}`;
  if (alone === null || turns(alone.least) === turns(alone.most)) return set;
  const throttle = { 0: "idle", 100: "full" }[Math.round(alone.throttle_percent)] ?? "left alone";
  const whole = alone.to_s - alone.from_s > length_s - 1;
  const when = whole ? "left alone" : `${throttle} from ${clock(alone.from_s)} to ${clock(alone.to_s)}`;
  return `${set}; ${when}, its revolutions wander from ${turns(alone.least)} to ${turns(alone.most)} rpm`;
}

/** What a pilot works out beforehand around pylons, which wind makes differ from what is flown. */
const estimate = ({ pivotal_estimate_ft: height }) =>
  height === null ? "" : `; groundspeed squared over 11.3 says ${feet(height)} above it`;

/** Each reference with its headings, one for each side that it is seen from. */
function references(given) {
  const headings = {};
  for (const one of given) (headings[one.name] ??= []).push(heading(one.heading_deg));
  return Object.entries(headings)
    .map(([name, at]) => `${name} ${at.join(" / ")}`)
    .join(", ");
}
