// Two drawings: what shows over the nose, and the nose's path against the outside references.

import { drawn } from "./dom.js";

const WIDE = 1000;
const HIGH = 460;
const EACH = 7.5; // units a degree: a view of 80 degrees across in most windows
const EYE = { x: WIDE / 2, y: 205 }; // where the nose points
const EDGE_DEG = 25; // the horizon stays in the picture, as far off as this
const FURTHEST_DEG = 22; // and the student's own nose
const SMOOTH_MS = 80; // which is told ten times a second, and drawn in between

/** Degrees from 0 to 360, and from -180 to 180. */
const round = (degrees) => ((degrees % 360) + 360) % 360;
const clamped = (degrees, most) => Math.max(-most, Math.min(most, degrees));
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

/** The nose as cut from paper, about where it points. */
const NOSE = `M-170 ${HIGH - EYE.y}C-100 171 -50 137 0 137S100 171 170 ${HIGH - EYE.y}`;

/** The horizon as it should show over the nose. */
export class OverTheNose {
  #held = null; // the student's attitude, as it was told
  #own = null; // and as it is drawn, which comes a little after that
  #drawn_ms = 0;

  /** `own` is whether the student's own nose is shown as well, once there is one (see `hand`). */
  constructor(references, own = false) {
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
    this.yours = drawn("g", {}, drawn("path", { d: NOSE }), drawn("circle", { r: 16 }));
    const label = drawn("text", { x: 28, y: -14 }, "yours");
    this.ghost = drawn("g", { class: "ghost", visibility: "hidden" }, this.yours, label);
    const shown = drawn("g", { transform: `translate(${EYE.x} ${EYE.y})` });
    this.root = drawn(
      "svg",
      { class: "over", viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", preserveAspectRatio: "xMidYMid slice" },
      drawn("title", {}, "The land and the sky as they should look over the nose"),
      drawn("rect", { class: "sky", width: WIDE, height: HIGH }),
      this.world,
      shown,
    );
    shown.append(
      drawn("path", { class: "nose", d: NOSE }),
      drawn("circle", { class: "point", r: 9 }),
      ...(own ? [this.ghost] : []),
    );
  }

  /** Where the student's own hand holds the nose, as {pitch_deg, bank_deg}, or null where that is
   * not known: laid over the planned nose it is where it belongs. */
  hand(attitude) {
    this.#held = attitude;
    if (!attitude || !this.#own) this.#own = attitude && { ...attitude };
  }

  /** Where the nose points (degrees right of the entry heading, and above level), and the bank. */
  draw({ across_deg, pitch_deg, bank_deg }) {
    const reach = clamped(pitch_deg, EDGE_DEG);
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
    this.#follow(pitch_deg, bank_deg);
  }

  /** The student's nose as far above the planned one as the hand is, across the horizon of now. */
  #follow(pitch_deg, bank_deg) {
    const own = this.#own;
    this.ghost.setAttribute("visibility", own ? "visible" : "hidden");
    const now_ms = performance.now();
    const share = 1 - Math.exp((this.#drawn_ms - now_ms) / SMOOTH_MS);
    this.#drawn_ms = now_ms;
    if (!own) return;
    own.pitch_deg += share * (this.#held.pitch_deg - own.pitch_deg);
    own.bank_deg += share * wrapped(this.#held.bank_deg - own.bank_deg);
    const above = clamped(own.pitch_deg - pitch_deg, FURTHEST_DEG) * EACH;
    const turn = (bank_deg * Math.PI) / 180;
    const place = [-above * Math.sin(turn), -above * Math.cos(turn)];
    this.ghost.setAttribute("transform", `translate(${place})`);
    this.yours.setAttribute("transform", `rotate(${wrapped(own.bank_deg - bank_deg)})`);
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
