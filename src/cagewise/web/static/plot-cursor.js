// A cursor that reads frequency, order, distance in slip frequencies and level, and families of lines.
import { make, number } from "./plot-words.js";

const REACH = 6; // pixels within which the cursor jumps to the top of a line
const SIDES = 4;
const MOST_LINES = 60;
const CAGE_LINES = [
  [-1, 5, 4, "(5−4s)f"],
  [-1, 5, 6, "(5−6s)f"],
  [1, 7, 6, "(7−6s)f"],
  [1, 7, 8, "(7−8s)f"],
];
export const FAMILIES = {
  none: "no family",
  supply: "side lines of the supply, f(1±2ks)",
  cage: "cage lines of the 5th and 7th",
  cursor: "side lines of the cursor's place",
  multiples: "multiples of the supply",
};

let made = 0;

export class Cursor {
  constructor(picture, frame, axes) {
    Object.assign(this, { picture, frame, axes, x: null, family: "none" });
    made += 1;
    this.keysId = `picture-keys-${made}`;
    this.line = make("div", {
      className: "picture-cursor",
      role: "slider",
      tabIndex: 0,
      "aria-label": `Cursor: ${picture.title}`,
      "aria-describedby": this.keysId,
    });
    this.layer = make("div", { className: "picture-family", "aria-hidden": "true" });
    frame.append(this.layer, this.line);
  }

  get curve() {
    return this.picture.curves.find((curve) => curve.long) ?? this.picture.curves[0];
  }

  toPixel(pixel, snap = true) {
    const { x } = this.axes();
    const reach = snap ? REACH : 0;
    this.x = this.top(x.p2d(pixel - x._offset - reach), x.p2d(pixel - x._offset + reach), x.p2d(pixel - x._offset));
    return this.show();
  }

  moveBy(pixels) {
    const { x } = this.axes();
    const from = this.x === null ? x._length / 2 : x.d2p(this.x);
    const to = Math.min(Math.max(from + pixels, 0), x._length);
    this.x = x.p2d(to);
    return this.show();
  }

  toPlace(place) {
    this.x = place;
    return this.show();
  }

  top(low, high, middle) {
    const { x, y } = this.curve;
    const [first, last] = low < high ? [low, high] : [high, low];
    let best = -1;
    for (let k = from(x, first); k < x.length && x[k] <= last; k += 1) {
      if (best < 0 || y[k] > y[best]) best = k;
    }
    return best < 0 ? middle : x[best];
  }

  value() {
    if (this.x === null || !this.curve) return null;
    const { x, y } = this.curve;
    let k = from(x, this.x);
    if (k > 0 && (k === x.length || this.x - x[k - 1] < x[k] - this.x)) k -= 1;
    return y[k];
  }

  words() {
    if (this.x === null) return "";
    const { frequency, x, y } = this.picture;
    const level = `${number(this.value())} ${y.unit}`;
    if (!frequency) return `${number(this.x)} ${x.unit}: ${level}`;
    const at = this.x + frequency.centre_hz;
    const parts = [`${number(at, 7)} Hz`, `order ${number(at / frequency.supply_hz, 6)}`];
    if (frequency.slip) {
      const off = frequency.centre_hz ? this.x : at - frequency.supply_hz;
      parts.push(`${number(off / (frequency.slip * frequency.supply_hz), 4)} slip frequencies off`);
    }
    return [...parts, level].join(" · ");
  }

  show() {
    const { x, y } = this.axes();
    const at = this.x === null ? null : x.d2p(this.x);
    const inside = at !== null && at >= 0 && at <= x._length;
    const left = x._offset + (inside ? at : 0);
    this.line.classList.toggle("unset", !inside);
    Object.assign(this.line.style, { left: `${left}px`, top: `${y._offset}px`, height: `${y._length}px` });
    const [low, high] = x.range.map((end) => Number(end)).sort((a, b) => a - b);
    this.line.setAttribute("aria-valuemin", String(low));
    this.line.setAttribute("aria-valuemax", String(high));
    this.line.setAttribute("aria-valuenow", String(this.x ?? low));
    this.line.setAttribute("aria-valuetext", this.words() || "not set");
    this.drawFamily();
    return this.words();
  }

  drawFamily() {
    const { x, y } = this.axes();
    const placed = [];
    for (const [place, label] of this.lines()) {
      const at = x.d2p(place);
      if (!(at >= 0 && at <= x._length)) continue;
      if (placed.length >= MOST_LINES) break;
      const line = make("div", { className: "picture-family-line" }, make("span", {}, label));
      Object.assign(line.style, {
        left: `${x._offset + at}px`,
        top: `${y._offset}px`,
        height: `${y._length}px`,
      });
      placed.push(line);
    }
    this.layer.replaceChildren(...placed);
  }

  lines() {
    const scale = this.picture.frequency;
    if (!scale || this.family === "none") return [];
    const { supply_hz: f, slip: s, centre_hz: centre } = scale;
    if (this.family === "multiples") return multiples(f).map(([at, label]) => [at - centre, label]);
    if (!s) return [];
    if (this.family === "cage") {
      return CAGE_LINES.map(([sense, order, k, label]) => [sense * (order - k * s) * f - centre, label]);
    }
    const about = this.family === "supply" ? f - centre : this.x;
    return about === null ? [] : sides(about, 2 * s * f, this.family === "supply");
  }
}

function sides(about, distance, supply) {
  const found = [[about, supply ? "f" : ""]];
  for (let k = 1; k <= SIDES; k += 1) {
    found.push([about - k * distance, `−${2 * k}s`], [about + k * distance, `+${2 * k}s`]);
  }
  return found;
}

function multiples(f) {
  const found = [];
  for (let k = 1; k <= MOST_LINES / 2; k += 1) found.push([k * f, `${k}f`], [-k * f, `−${k}f`]);
  return found;
}

// first place of a rising row that is not below a value
function from(row, value) {
  let low = 0;
  let high = row.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (row[middle] < value) low = middle + 1;
    else high = middle;
  }
  return low;
}
