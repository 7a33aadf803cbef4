// The form that chooses a maneuver, an airplane, the day and how it is heard.

import { el, say } from "./dom.js";

export class Form {
  /** Fill the form as the library has it; `chosen(values)` is called when it is sent. Without a
   * student for a room, where no past runs decide anything. */
  constructor(form, library, send, chosen, alone = true) {
    const { student, checkride, day, heard, first } = library.form;
    this.form = form;
    this.day = day.map(({ name }) => name);
    this.purposes = new Map(library.maneuvers.map((one) => [one.name, one.purpose]));
    this.purpose = el("p", { class: "purpose", id: "purpose" });
    const maneuver = select("maneuver", named(library.maneuvers));
    maneuver.setAttribute("aria-describedby", "purpose");
    maneuver.addEventListener("change", () => this.#describe());
    form.replaceChildren(
      labelled("Maneuver", maneuver),
      this.purpose,
      labelled("Airplane", select("airplane", named(library.airplanes))),
      ...(alone ? [whose(student, library.students), field(checkride)] : []),
      fold("The day: wind, weight, altitude …", day, false),
      fold("How much the coach says, and how fast", heard, !alone),
      el("button", { class: "large" }, send),
    );
    if (alone) form.elements.checkride.value = checkride.value;
    else form.elements.support.querySelector("[value=auto]").remove();
    for (const [name, value] of Object.entries(first))
      if (form.elements[name].querySelector(`[value="${value}"]`)) form.elements[name].value = value;
    this.#describe();
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      chosen(this.values);
    });
  }

  /** What the server takes as the choice. */
  get values() {
    const { maneuver, airplane, support, pace, student = "", ...given } = Object.fromEntries(new FormData(this.form));
    const day = Object.fromEntries(this.day.map((name) => [name, given[name].trim()]));
    day.loops = day.loops ? Number(day.loops) : null;
    return { maneuver, airplane, day, support, pace: Number(pace), student: student.trim() };
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
}

const named = (entries) =>
  entries.map(({ name, title, invented }) => [name, invented ? `${title} (invented)` : title]);

const labelled = (text, field) => el("label", {}, text, " ", field);

const select = (name, options) =>
  el("select", { name }, ...options.map(([value, text]) => el("option", { value }, text)));

/** A field as the server tells it: to be chosen where it has options, else to be written. */
const field = ({ name, label, options, input }) =>
  labelled(label, options ? select(name, options) : el("input", { name, ...input }));

const fold = (title, fields, open) =>
  el("details", { open }, el("summary", {}, title), el("div", { class: "fields" }, ...fields.map(field)));

function whose(student, students) {
  const known = el("datalist", { id: "students" }, ...students.map((value) => el("option", { value })));
  return el("div", {}, field({ ...student, input: { ...student.input, list: "students" } }), known);
}
