// Who is in the room, and who dropped.

import { byId, el, say } from "./dom.js";
import { milliseconds } from "./units.js";

/**
 * Show the students by name; `remove(number)` takes one out. How often somebody tapped is not told:
 * beside everybody's picture it would give away who missed what.
 */
export function roster(students, remove) {
  const here = students.filter((student) => student.here).length;
  const away = students.length - here;
  const dropped = away ? `, ${away} dropped` : "";
  say(byId("roster-title"), students.length ? `${here} in${dropped}` : "Nobody is in yet");
  const sorted = [...students].sort((one, other) => one.name.localeCompare(other.name));
  byId("roster").replaceChildren(...sorted.map((student) => line(student, remove)));
}

function line({ number, name, here, uncertainty_ms, taps }, remove) {
  const clock = uncertainty_ms === null ? "clock not known yet" : `clock to ${milliseconds(uncertainty_ms)} ms`;
  const state = here ? `${taps ? "taps arrive" : "no tap yet"} · ${clock}` : "dropped; comes back by itself";
  return el(
    "li",
    { class: here ? "here" : "away" },
    el("span", {}, el("strong", {}, name), el("small", {}, state)),
    el("button", { class: "quiet", "aria-label": `Remove ${name}`, onclick: () => remove(number) }, "Remove"),
  );
}
