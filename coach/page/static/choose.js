// The form that chooses a maneuver, an airplane, the day and how it is heard.

import { el, say } from "./dom.js";

const SUPPORTS = {
  auto: "as my last runs suggest",
  everything: "everything: calls, numbers and tones",
  checkpoints: "only the checkpoints, and tones",
  asking: "it asks, I answer aloud",
  tones: "only tones",
  start: "only the start",
};
const PACES = { 1: "the airplane’s own", 0.75: "three quarters", 0.5: "half", 1.25: "a quarter faster", 1.5: "half as fast again" };
const DAY = {
  wind: ["Wind", "as the maneuver asks, or 240@12, across@10, calm"],
  weight: ["Weight", "gross weight, or 2300lb"],
  altitude: ["Altitude", "as the maneuver asks, or 4500ft"],
  ground: ["Ground", "0ft"],
  temperature: ["Temperature", "standard day, or 30C"],
  altimeter: ["Altimeter", "standard, or 29.80"],
  heading: ["Heading", "as the wind asks, or 150"],
  entry_speed: ["Entry speed", "as the maneuver asks, or 95kt"],
};
const SIDES = { "": "as usual", right: "to the right", left: "to the left" };

const FIRST = { maneuver: "lazy-eight", airplane: "meadow-four" }; // where nothing was chosen before

export class Choice {
  /** Fill the form; `chosen(values)` is called when it is sent. Without a student for a room. */
  constructor(form, library, send, chosen, alone = true) {
    this.form = form;
    const purpose = el("p", { class: "purpose", id: "purpose" });
    const maneuver = select("maneuver", named(library.maneuvers));
    maneuver.setAttribute("aria-describedby", "purpose");
    maneuver.addEventListener("change", () => this.#describe());
    this.purposes = new Map(library.maneuvers.map((one) => [one.name, one.purpose]));
    this.purpose = purpose;
    const supports = library.supports.filter((name) => alone || name !== "auto");
    const support = alone ? ["auto", ...supports.filter((name) => name !== "auto")] : supports;
    form.replaceChildren(
      labelled("Maneuver", maneuver),
      purpose,
      labelled("Airplane", select("airplane", named(library.airplanes))),
      ...(alone ? [this.#student(library.students)] : []),
      el(
        "details",
        {},
        el("summary", {}, "The day: wind, weight, altitude …"),
        el("div", { class: "fields" }, ...Object.entries(DAY).map(dayField), ...turns()),
      ),
      el(
        "details",
        { open: !alone },
        el("summary", {}, "How much the coach says, and how fast"),
        el(
          "div",
          { class: "fields" },
          labelled("The coach says", select("support", support.map((name) => [name, SUPPORTS[name] ?? name]))),
          labelled("Pace", select("pace", Object.entries(PACES).sort((a, b) => a[0] - b[0]))),
        ),
      ),
      el("button", { class: "large" }, send),
    );
    form.elements.pace.value = "1";
    for (const [name, value] of Object.entries(FIRST))
      if (form.elements[name].querySelector(`[value="${value}"]`)) form.elements[name].value = value;
    this.#describe();
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      chosen(this.values);
    });
  }

  /** What the server takes as the choice. */
  get values() {
    const given = Object.fromEntries(new FormData(this.form));
    const day = { direction: given.direction, loops: given.loops ? Number(given.loops) : null };
    for (const name of Object.keys(DAY)) day[name] = given[name].trim();
    return {
      maneuver: given.maneuver,
      airplane: given.airplane,
      day,
      support: given.support,
      pace: Number(given.pace),
      student: (given.student ?? "").trim(),
    };
  }

  /** Set a maneuver of a student's next session up; "auto" comes to the support it was told with. */
  setUp(student, { maneuver, pace }) {
    const { elements } = this.form;
    elements.student.value = student;
    elements.maneuver.value = maneuver;
    this.#describe();
    elements.support.value = "auto";
    if (![...elements.pace.options].some((one) => Number(one.value) === pace))
      elements.pace.append(el("option", { value: pace }, String(pace)));
    elements.pace.value = String(pace);
    elements.pace.closest("details").open = true;
  }

  #describe() {
    say(this.purpose, this.purposes.get(this.form.elements.maneuver.value) ?? "");
  }

  #student(students) {
    const known = el("datalist", { id: "students" }, ...students.map((name) => el("option", { value: name })));
    const field = el("input", {
      name: "student",
      maxlength: 24,
      list: "students",
      placeholder: "only if several people share this logbook",
      autocomplete: "off",
    });
    return el("div", {}, labelled("Your name", field), known);
  }
}

const named = (entries) =>
  entries.map(({ name, title, invented }) => [name, invented ? `${title} (invented)` : title]);

const labelled = (text, field) => el("label", {}, text, " ", field);

function select(name, options) {
  return el("select", { name }, ...options.map(([value, text]) => el("option", { value }, text)));
}

function dayField([name, [text, placeholder]]) {
  return labelled(text, el("input", { name, placeholder, maxlength: 40, autocomplete: "off" }));
}

function turns() {
  return [
    labelled("First turn", select("direction", Object.entries(SIDES))),
    labelled("Loops", el("input", { name: "loops", type: "number", min: 1, max: 16, placeholder: "all" })),
  ];
}
