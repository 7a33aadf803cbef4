// Who is in the room, who dropped, and who waits to be let in.

import { byId, el, say } from "./dom.js";
import { milliseconds } from "./units.js";

/** A list with a line for each number: a line that stays is the same element, and keeps the focus. */
class Lines {
  #list;
  #make;
  #lines = new Map();

  /** `make(number)` gives {root, show}, and `show(one)` fills the line. */
  constructor(list, make) {
    this.#list = list;
    this.#make = make;
  }

  show(all) {
    const wanted = new Set(all.map((one) => one.number));
    for (const [number, { root }] of this.#lines) if (!wanted.has(number)) this.#drop(number, root);
    all.forEach((one, index) => {
      if (!this.#lines.has(one.number)) this.#lines.set(one.number, this.#make(one.number));
      const line = this.#lines.get(one.number);
      line.show(one);
      const there = this.#list.children[index];
      if (there !== line.root) this.#list.insertBefore(line.root, there ?? null);
    });
  }

  /** Who works with the keyboard goes on from the next line, or from the list's heading. */
  #drop(number, root) {
    const next = root.nextElementSibling ?? root.previousElementSibling;
    if (root.contains(document.activeElement)) (next?.querySelector("button") ?? byId("roster-title")).focus();
    root.remove();
    this.#lines.delete(number);
  }
}

/** Shows the roster as the room tells it; `control(do, number)` is what the instructor wants of it. */
export class Roster {
  #students;
  #guests;

  constructor(control) {
    this.#students = new Lines(byId("roster"), (number) => student(number, control));
    this.#guests = new Lines(byId("guests"), (number) => guest(number, control));
    byId("all-in").addEventListener("click", () => control("let_all_in"));
    byId("sure-no").addEventListener("click", () => byId("sure").close());
  }

  show({ students, guests }) {
    const here = students.filter((one) => one.here).length;
    const away = students.length - here;
    const dropped = away ? `, ${away} dropped` : "";
    say(byId("roster-title"), students.length ? `${here} in${dropped}` : "Nobody is in yet");
    this.#students.show(byName(students));
    const wait = guests.length === 1 ? "One waits" : `${guests.length} wait`;
    const asked = `${wait} to be let in: the logbook has runs by that name. Let in whom you know.`;
    this.#guests.show(byName(guests));
    say(byId("asked"), guests.length ? asked : "");
    byId("guests").hidden = !guests.length;
    byId("all-in").hidden = guests.length < 2;
  }
}

const byName = (all) => [...all].sort((one, other) => one.name.localeCompare(other.name));

function button(words, label, what) {
  return el("button", { class: "quiet", "aria-label": label, onclick: what }, words);
}

/**
 * A student's line. How often somebody tapped is not told: beside everybody's picture it would give
 * away who missed what.
 */
function student(number, control) {
  const called = el("strong");
  const stands = el("small");
  const remove = button("Remove", null, () => control("remove", number));
  const all = button("", null, () => sure(all.textContent, () => control("remove_all_there", number)));
  const root = el("li", {}, el("span", {}, called, stands), el("span", { class: "acts" }, remove, all));
  const show = ({ name, here, uncertainty_ms, taps, hand, there }) => {
    const clock = uncertainty_ms === null ? "clock not known yet" : `clock to ${milliseconds(uncertainty_ms)} ms`;
    root.className = here ? "here" : "away";
    say(called, name);
    const does = [hand, taps ? "taps arrive" : hand ? "" : "no tap yet", clock].filter(Boolean).join(" · ");
    say(stands, here ? does : "dropped; comes back by itself");
    remove.setAttribute("aria-label", `Remove ${name}`);
    all.hidden = there < 2;
    say(all, `Remove all ${there} from this address`);
    all.setAttribute("aria-label", `Remove all ${there} from this address, which is that of ${name}`);
  };
  return { root, show };
}

function guest(number, control) {
  const called = el("strong");
  const inside = button("Let in", null, () => control("let_in", number));
  const away = button("Refuse", null, () => control("refuse", number));
  const root = el("li", {}, el("span", {}, called), el("span", { class: "acts" }, inside, away));
  const show = ({ name }) => {
    say(called, name);
    inside.setAttribute("aria-label", `Let in ${name}`);
    away.setAttribute("aria-label", `Refuse ${name}`);
  };
  return { root, show };
}

/** Ask once more, for many. */
function sure(what, then) {
  say(byId("sure-what"), `${what}?`);
  byId("sure-yes").onclick = () => {
    byId("sure").close();
    then();
  };
  byId("sure").showModal();
}
