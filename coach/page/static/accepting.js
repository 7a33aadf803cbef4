// How a phone's browser is told once to trust this machine, as the server words it.

import { el } from "./dom.js";
import { fill } from "./picture.js";

/** Its elements: what the browser warns of, what to press, and the certificate's fingerprint. */
export async function accepting({ steps, careful, fingerprint, note, picture }) {
  const shown = el("img", { class: "accept", alt: "" }); // the steps say the same
  await fill(shown, picture);
  return [
    shown,
    el("ol", {}, ...steps.map((one) => el("li", {}, one))),
    el("p", {}, careful),
    el("p", { class: "fingerprint" }, fingerprint),
    el("p", { class: "aside" }, note),
  ];
}
