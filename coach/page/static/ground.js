// A third drawing: the track over the ground, north up, with what the maneuver is flown by.

import { drawn } from "./dom.js";
import { points, spread } from "./scene.js";
import { knots } from "./units.js";

const EDGE_PX = 30; // left free around the track
const LEAST_FT = 1500; // shown at least, so that a straight track is no speck
const NAME = { letter: 8.5, high: 20, off: 16 }; // about, in pixels
const DART = "M0-16 10 12 0 6-10 12z";
const TREE = "M-12 6q-3-11 6-14 3-9 10-6 9-1 8 8 6 4 2 12z";
const ARROW = "M0 14V-14M-6-7 0-14 6-7";

export class GroundTrack {
  #rehearsal;
  #rows;
  #loop;
  #taps = []; // rows
  #last = null; // what was drawn last
  #names = []; // where names are already
  #places = []; // the track, in pixels

  /** `rows` are those of the whole flight; `loop` is the one that is flown. */
  constructor(rehearsal, rows, loop) {
    this.#rehearsal = rehearsal;
    this.#rows = rows;
    this.#loop = loop;
    this.root = drawn("svg", { class: "ground", role: "img" });
    // Drawn in pixels, anew for every size: names are as large on a phone as on a wide screen.
    new ResizeObserver(() => this.#lay()).observe(this.root);
  }

  /** The rows of this loop that are flown, and where the airplane is now. */
  draw(flown, now) {
    this.#last = [flown, now];
    if (!this.path) return; // it has no size yet
    this.path.setAttribute("points", this.#line([...flown, now]));
    const first = this.#rows[0];
    const heading_deg = first.heading_deg + now.across_deg - first.across_deg;
    this.now.setAttribute("transform", `translate(${this.#at(now)}) rotate(${heading_deg})`);
  }

  /** A tap where the airplane was. */
  tap(row) {
    this.#taps.push(row);
    this.taps?.append(this.#tapped(row));
  }

  #lay() {
    const { width, height } = this.root.getBoundingClientRect();
    if (!width || !height) return;
    this.#fit(width, height);
    this.#names = [
      { left: 0, base: 37, right: 150 }, // the wind
      { left: width - 70, base: 37, right: width }, // north
    ];
    this.#places = this.#rows.map(this.#at);
    const { ground, moments } = this.#rehearsal;
    const here = moments.filter((moment) => moment.loop === this.#loop);
    const names = here.map((moment) => this.#name(moment.name, this.#at(moment), true));
    const rows = this.#rows.filter((row) => row.loop === this.#loop);
    this.path = drawn("polyline", { class: "path" });
    this.taps = drawn("g", {}, ...this.#taps.map((row) => this.#tapped(row)));
    this.now = drawn("path", { class: "point", d: DART });
    this.root.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.root.replaceChildren(
      drawn("title", {}, "The track over the ground, north up"),
      drawn("rect", { class: "far", width, height }),
      ...ground.references.map((one) => this.#reference(one)),
      drawn("polyline", { class: "to-come faint", points: points(this.#places) }),
      drawn("polyline", { class: "to-come", points: this.#line(rows) }),
      this.path,
      ...here.map((moment) => this.#dot("checkpoint", moment, 5)),
      ...names.filter(Boolean),
      ...compass(ground, width),
      this.taps,
      this.now,
    );
    if (this.#last) this.draw(...this.#last);
  }

  /** How feet become pixels: everything in the drawing, as large as it can be. */
  #fit(width, height) {
    const areas = this.#rehearsal.ground.references.filter(({ name }) => name !== "line");
    const places = [...this.#rows.map((row) => [row.east_ft, row.north_ft]), ...areas.flatMap((one) => one.corners)];
    const [west, east] = spread(places.map(([at]) => at), LEAST_FT);
    const [south, north] = spread(places.map(([, at]) => at), LEAST_FT);
    const scale = Math.min((width - 2 * EDGE_PX) / (east - west), (height - 2 * EDGE_PX) / (north - south));
    this.place = ([east_ft, north_ft]) => [
      width / 2 + scale * (east_ft - (east + west) / 2),
      height / 2 - scale * (north_ft - (north + south) / 2),
    ];
    this.inside = ({ left, base, right }) => left > 4 && right < width - 4 && base > 20 && base < height - 6;
  }

  #at = (row) => this.place([row.east_ft, row.north_ft]);

  #line = (rows) => points(rows.map(this.#at));

  #dot(kind, row, r) {
    const [cx, cy] = this.#at(row);
    return drawn("circle", { class: kind, cx, cy, r });
  }

  #tapped = (row) => this.#dot("tapped", row, 12);

  #reference({ name, corners }) {
    const places = corners.map(this.place);
    const along = { points: points(places) };
    if (name === "line") return drawn("polyline", { class: "street", ...along });
    const middle = [0, 1].map((axis) => places.reduce((sum, place) => sum + place[axis], 0) / places.length);
    const shape =
      name === "runway"
        ? drawn("polyline", { class: "runway", ...along })
        : name === "field"
          ? drawn("polygon", { class: "field", ...along })
          : drawn("path", { class: "mark", d: TREE, transform: `translate(${middle})` });
    return drawn("g", {}, shape, this.#name(name, middle, false));
  }

  /** A name beside its place, clear of other names, and of the track unless it `must` be there. */
  #name(text, [x, y], must) {
    const wide = NAME.letter * text.length;
    const beside = [x + NAME.off, x - NAME.off - wide].flatMap((left) =>
      [y + 6, y - 8, y + 22].map((base) => ({ left, base, right: left + wide })),
    );
    const meets = (one, other) =>
      Math.abs(other.base - one.base) < NAME.high && other.left < one.right && one.left < other.right;
    const free = beside.filter((one) => this.inside(one) && !this.#names.some((other) => meets(one, other)));
    const onTrack = ({ left, base, right }) =>
      this.#places.some(([x, y]) => x > left - 4 && x < right + 4 && y < base + 6 && y > base - NAME.high);
    const best = free.find((one) => !onTrack(one)) ?? (must ? free[0] : undefined);
    if (!best) return null;
    this.#names.push(best);
    return drawn("text", { class: "name", x: best.left, y: best.base }, text);
  }
}

/** Where the wind blows to, and where north is, in the upper corners. */
function compass({ wind_from_deg, wind_kt }, width) {
  const arrow = (x, turn) =>
    drawn("path", { class: "arrow", d: ARROW, transform: `translate(${x} 30) rotate(${turn})` });
  const calm = wind_kt < 0.5;
  return [
    calm ? "" : arrow(28, wind_from_deg + 180),
    drawn("text", { class: "name", x: calm ? 16 : 50, y: 37 }, calm ? "calm" : `wind ${knots(wind_kt)}`),
    arrow(width - 28, 0),
    drawn("text", { class: "name", x: width - 60, y: 37 }, "N"),
  ];
}
