// The page's elements. Data gets into them as text only, never as markup.

export const byId = (id) => document.getElementById(id);

/** A new element; `children` are elements or texts, null and "" are left out. */
export function el(name, attributes = {}, ...children) {
  return filled(document.createElement(name), attributes, children);
}

/** The same for drawings. */
export function drawn(name, attributes = {}, ...children) {
  return filled(document.createElementNS("http://www.w3.org/2000/svg", name), attributes, children);
}

function filled(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== null) element.setAttribute(name, value);
  }
  element.append(...children.filter((child) => child !== null && child !== ""));
  return element;
}

/** Put a text into an element, if it is another one: a live region speaks at every change. */
export function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

/** A line that tells how things are; a sentence in passing stands before that for some seconds. */
export class Notice {
  #element;
  #stands = "";
  #leaving = null;

  constructor(element) {
    this.#element = element;
  }

  /** Tell what is so until something else is; "" where nothing is to be told. */
  stands(sentence) {
    if (sentence === this.#stands) return; // what passes may stand before it
    this.#leaving?.cancel();
    this.#stands = sentence;
    say(this.#element, sentence);
  }

  /** Tell what has passed: said once, and gone when there was time to look up and read it. */
  passes(sentence) {
    this.#leaving?.cancel();
    say(this.#element, sentence);
    const times = { delay: PASSES_MS, duration: calm.matches ? 0 : FADES_MS, fill: "forwards" };
    const leaving = this.#element.animate({ opacity: [1, 0] }, times);
    leaving.onfinish = () => {
      say(this.#element, this.#stands);
      leaving.cancel();
    };
    this.#leaving = leaving;
  }
}

const PASSES_MS = 8000;
const FADES_MS = 600;
export const calm = matchMedia("(prefers-reduced-motion: reduce)");
const above = new Notice(byId("trouble"));

/** One sentence above everything, or "" to take it away. */
export function trouble(text) {
  above.stands(text);
  if (text) byId("trouble").scrollIntoView({ block: "nearest" });
}

/** The same for what has passed. */
export function note(text) {
  above.passes(text);
  byId("trouble").scrollIntoView({ block: "nearest" });
}

/** Show one of the page's sections, scrolled to its top and with the focus on its heading. */
export function turnTo(id) {
  for (const section of document.querySelectorAll("main > section")) section.hidden = section.id !== id;
  const heading = byId(id).querySelector("h1");
  window.scrollTo(0, 0);
  heading.focus({ preventScroll: true });
  document.title = `${heading.textContent} · Chair flying`;
}

export function table(caption, heads, rows) {
  const cell = (value, index) =>
    index === 0 ? el("th", { scope: "row" }, value) : el("td", { "data-head": heads[index] }, value);
  const many = heads.length > 6 ? "many" : "";
  return el(
    "div",
    { class: `across ${many}`, tabindex: "0", role: "group", "aria-label": caption },
    el(
      "table",
      {},
      el("caption", {}, caption),
      el("thead", {}, el("tr", {}, ...heads.map((head) => el("th", { scope: "col" }, head)))),
      el("tbody", {}, ...rows.map((row) => el("tr", {}, ...row.map(cell)))),
    ),
  );
}

/** Names, each with what it is. */
export const pairs = (entries) =>
  el("dl", { class: "pairs" }, ...entries.flatMap(([name, value]) => [el("dt", {}, name), el("dd", {}, value)]));

export const list = (sentences) => el("ul", {}, ...sentences.map((one) => el("li", {}, one)));
