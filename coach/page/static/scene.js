// Two drawings: what shows over the nose, and the nose's path against the outside references.

import { drawn } from "./dom.js";

const WIDE = 1000;
const HIGH = 460;
const EACH = 7.5; // units a degree: a view of 80 degrees across in most windows
const EYE = { x: WIDE / 2, y: 205 }; // where the nose points
const EDGE_DEG = 25; // the horizon stays in the picture, as far off as this

/** Degrees from 0 to 360, and from -180 to 180. */
const round = (degrees) => ((degrees % 360) + 360) % 360;
const wrapped = (degrees) => round(degrees + 180) - 180;

export const points = (pairs) => pairs.map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`).join(" ");

/** Hills all around, the same again after 360 degrees. */
function hills(height, phase) {
  const edge = [];
  for (let at = -240; at <= 600; at += 3) {
    const turn = (at * Math.PI) / 180;
    const rise = 0.55 + 0.25 * Math.sin(5 * turn + phase) + 0.2 * Math.sin(13 * turn + 2 * phase);
    edge.push([at * EACH, -height * rise]);
  }
  return points([[-240 * EACH, 0], ...edge, [600 * EACH, 0]]);
}

/** A landmark as cut from paper; a line on the ground leads to the horizon. */
function landmark(name, index) {
  if (name.startsWith("line")) return drawn("path", { class: "road", d: "M-2 0h4l70 420h-160z" });
  const shapes = [
    "M-34 4q-2-30 16-34q6-22 24-14q20-4 20 18q14 8 6 30z", // trees
    "M-70 6q40-62 66-62t74 62z", // a hill
    "M-30 5v-28l17-15 17 15v5h26v23z", // a barn
  ];
  return drawn("path", { class: "mark", d: shapes[index % shapes.length] });
}

/** The horizon as it should show over the nose. */
export class OverTheNose {
  constructor(references) {
    this.far = drawn(
      "g",
      {},
      drawn("polygon", { class: "far", points: hills(26, 1) }),
      drawn("polygon", { class: "near", points: hills(13, 4) }),
    );
    let landmarks = 0;
    this.references = references.map((reference) => {
      const lines = reference.name.startsWith("line");
      const shape = landmark(reference.name, lines ? 0 : landmarks++);
      const label = drawn("text", { y: lines ? -44 : -70 }, reference.name);
      return { ...reference, lines, group: drawn("g", {}, shape, label) };
    });
    const inFront = [...this.references].sort((one, other) => other.lines - one.lines); // roads are behind
    this.world = drawn(
      "g",
      {},
      this.far,
      drawn("rect", { class: "land", x: -3000, y: 0, width: 6000, height: 4000 }),
      ...inFront.map((one) => one.group),
    );
    this.root = drawn(
      "svg",
      { class: "over", viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", preserveAspectRatio: "xMidYMid slice" },
      drawn("title", {}, "The land and the sky as they should look over the nose"),
      drawn("rect", { class: "sky", width: WIDE, height: HIGH }),
      this.world,
      drawn("path", { class: "nose", d: `M330 ${HIGH}C400 376 450 342 500 342S600 376 670 ${HIGH}z` }),
      drawn("circle", { class: "point", cx: EYE.x, cy: EYE.y, r: 9 }),
    );
  }

  /** Where the nose points (degrees right of the entry heading, and above level), and the bank. */
  draw({ across_deg, pitch_deg, bank_deg }) {
    const reach = Math.max(-EDGE_DEG, Math.min(EDGE_DEG, pitch_deg));
    this.world.setAttribute(
      "transform",
      `translate(${EYE.x} ${EYE.y}) rotate(${-bank_deg}) translate(0 ${reach * EACH})`,
    );
    this.far.setAttribute("transform", `translate(${-round(across_deg) * EACH} 1)`);
    for (const reference of this.references) {
      const off = wrapped(reference.across_deg - across_deg);
      reference.group.setAttribute("transform", `translate(${off * EACH} 0)`);
      reference.group.style.display = Math.abs(off) < 80 ? "" : "none";
    }
  }
}

const STRIP = { wide: 1000, high: 360, left: 70, right: 930, top: 60, bottom: 250 };
const LEAST = { across: 60, pitch: 16 }; // degrees that a strip shows at least

/** The path that the nose draws in one loop: seen from outside, the horizon stays level. */
export class NosePath {
  /** `rows` are those of the whole flight; `loop` is the one that is flown. */
  constructor(rehearsal, rows, loop) {
    const { references } = rehearsal;
    const moments = rehearsal.moments.filter((moment) => moment.loop === loop);
    rows = rows.filter((row) => row.loop === loop);
    const [left, right] = spread(rows.map((row) => row.across_deg), LEAST.across);
    const [low, high] = spread([0, ...rows.map((row) => row.pitch_deg)], LEAST.pitch);
    const scale = (from, to, a, b) => (value) => a + ((value - from) / (to - from)) * (b - a);
    this.x = scale(left, right, STRIP.left, STRIP.right);
    this.y = scale(low, high, STRIP.bottom, STRIP.top);
    this.names = [];
    this.path = drawn("polyline", { class: "path" });
    this.now = drawn("circle", { class: "point", r: 12 });
    this.taps = drawn("g", {});
    this.root = drawn(
      "svg",
      { class: "strip", viewBox: `0 0 ${STRIP.wide} ${STRIP.high}`, role: "img" },
      drawn("title", {}, "The path of the nose against the outside references"),
      drawn("rect", { class: "land", x: -WIDE, y: this.y(0), width: 3 * WIDE, height: HIGH }),
      ...this.#posts(references, left, right),
      drawn("polyline", { class: "to-come", points: points(rows.map((row) => this.#at(row))) }),
      this.path,
      ...moments.map((moment) => this.#checkpoint(moment)),
      this.taps,
      this.now,
    );
  }

  /** The rows flown so far, and where the nose is now. */
  draw(flown, now) {
    const path = points([...flown, now].map((row) => this.#at(row)));
    this.path.setAttribute("points", path);
    const [x, y] = this.#at(now);
    this.now.setAttribute("cx", x);
    this.now.setAttribute("cy", y);
  }

  /** A tap where the nose was. */
  tap(row) {
    const [cx, cy] = this.#at(row);
    this.taps.append(drawn("circle", { class: "tapped", cx, cy, r: 18 }));
  }

  #at = (row) => [this.x(row.across_deg), this.y(row.pitch_deg)];

  /** A dot with its name, where that does not run into one before it. */
  #checkpoint(moment) {
    const [cx, cy] = this.#at(moment);
    const name = { x: cx + 12, y: cy - 14, wide: 20 * moment.name.length };
    if (name.x + name.wide > STRIP.wide) name.x = cx - 12 - name.wide;
    const meets = (other) =>
      Math.abs(other.y - name.y) < 36 && other.x < name.x + name.wide && name.x < other.x + other.wide;
    const clear = !this.names.some(meets);
    if (clear) this.names.push(name);
    return drawn(
      "g",
      {},
      drawn("circle", { class: "checkpoint", cx, cy, r: 8 }),
      clear ? drawn("text", { class: "name", x: name.x, y: name.y }, moment.name) : null,
    );
  }

  #posts(references, left, right) {
    const posts = [];
    for (const { name, across_deg } of references)
      for (const turn of [-360, 0, 360]) {
        const at = across_deg + turn;
        if (at < left || at > right) continue;
        const x = this.x(at);
        const words = name.split(" ");
        const lines = [words.slice(0, -1).join(" "), words.at(-1)];
        posts.push(
          drawn("line", { class: "post", x1: x, x2: x, y1: 24, y2: STRIP.bottom + 12 }),
          ...lines.map((text, line) => drawn("text", { x, y: STRIP.high - 58 + 40 * line }, text)),
        );
      }
    return posts;
  }
}

/** The least and the greatest of some values, set apart a little, and by so much at least. */
export function spread(values, least) {
  const low = Math.min(...values);
  const high = Math.max(...values);
  const more = Math.max((high - low) * 0.06, (least - (high - low)) / 2);
  return [low - more, high + more];
}
