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

/** One sentence above everything, or "" to take it away. */
export function trouble(text) {
  say(byId("trouble"), text);
  byId("trouble").hidden = !text;
  if (text) byId("trouble").scrollIntoView({ block: "nearest" });
}

/** Show one of the page's sections, scrolled to its top and with the focus on its heading. */
export function turnTo(id) {
  for (const section of document.querySelectorAll("main > section")) section.hidden = section.id !== id;
  const heading = byId(id).querySelector("h1");
  window.scrollTo(0, 0);
  heading.focus({ preventScroll: true });
  document.title = `${heading.textContent} · Chair flying`;
}

/** A picture of the server's as it lies on the page: as wide as there is room, and never too small
 * to read; where it is wider than the page it can be moved sideways. */
export function picture(source, alternative) {
  const image = el("img", { src: source, alt: alternative });
  return el("div", { class: "picture", tabindex: "0", role: "group", "aria-label": "Picture" }, image);
}

export function table(caption, heads, rows) {
  const cell = (value, index) =>
    el(index === 0 ? "th" : "td", index === 0 ? { scope: "row" } : { "data-head": heads[index] }, value);
  return el(
    "div",
    { class: "across", tabindex: "0", role: "group", "aria-label": caption },
    el(
      "table",
      {},
      el("caption", {}, caption),
      el("thead", {}, el("tr", {}, ...heads.map((head) => el("th", { scope: "col" }, head)))),
      el("tbody", {}, ...rows.map((row) => el("tr", {}, ...row.map(cell)))),
    ),
  );
}

export const list = (sentences) => el("ul", {}, ...sentences.map((one) => el("li", {}, one)));
