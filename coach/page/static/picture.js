// Pictures that the server draws, as they lie on the page.

import { el } from "./dom.js";
import { bytes } from "./server.js";

const narrow = matchMedia("(max-width: 46rem)");

/** Fill an image from the server; from a `body`, where it is drawn from that. */
export async function fill(image, path, { body, secret } = {}) {
  show(image, await drawing(path, { body, secret }));
}

/**
 * A picture, once it is there. One that the server draws `upright` as well is upright where the
 * screen is narrow. Any other is never too small to read: it moves sideways where it is wider.
 */
export async function picture(path, alternative, { upright = false, ...from } = {}) {
  const image = el("img", { alt: alternative });
  const moves = upright ? {} : { tabindex: "0", role: "group", "aria-label": "Picture" };
  const root = el("div", { class: `picture ${upright ? "fits" : ""}`, ...moves }, image);
  const shapes = {}; // each is drawn once
  const wanted = () => (upright && narrow.matches ? `${path}?upright` : path);
  const draw = async () => {
    const shape = wanted();
    shapes[shape] ??= drawing(shape, from);
    const found = await shapes[shape];
    if (shape === wanted()) await show(image, found);
  };
  await draw();
  const turned = () => (root.isConnected ? draw() : narrow.removeEventListener("change", turned));
  if (upright) narrow.addEventListener("change", turned);
  return root;
}

const drawing = async (path, from) => new Blob([await bytes(path, from)], { type: "image/svg+xml" });

async function show(image, found) {
  const source = URL.createObjectURL(found);
  image.src = source;
  await image.decode().catch(() => {}); // where another one has taken its place
  URL.revokeObjectURL(source);
}
