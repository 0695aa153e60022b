// What part of a picture is looked at: by mouse, fingers, keys; long curves come for each view.
import { load, numbers } from "./plot-data.js";

const WAIT = 80; // milliseconds without movement before the server is asked
const STEP = 1.6;

export class View {
  constructor(figure) {
    this.figure = figure;
    this.asked = null;
    this.timer = 0;
    this.fingers = new Map();
    this.turned = 1;
    const { frame, plot } = figure;
    plot.on("plotly_relayout", () => this.changed());
    plot.on("plotly_afterplot", () => figure.redrawn());
    frame.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    // one finger moves the page or the picture, two zoom: the library would take both for itself
    frame.addEventListener("touchstart", (event) => event.stopPropagation(), { capture: true, passive: true });
    for (const kind of ["pointerdown", "pointermove", "pointerup", "pointercancel"]) {
      frame.addEventListener(kind, (event) => this.finger(event), { capture: true });
    }
  }

  get range() {
    return this.figure.axes().x.range.map(Number);
  }

  get whole() {
    return this.figure.whole;
  }

  changed() {
    this.figure.redrawn();
    if (!this.figure.picture.curves.some((curve) => curve.long)) return;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.fetch(), WAIT);
  }

  async fetch() {
    this.asked?.abort();
    const asked = new AbortController();
    this.asked = asked;
    const [low, high] = [...this.range].sort((a, b) => a - b);
    const columns = Math.max(200, Math.min(4000, Math.round(this.figure.axes().x._length)));
    const margin = 0.25 * (high - low); // so that a small move shows something at once
    const query = new URLSearchParams({ low: low - margin, high: high + margin, columns: Math.min(4000, Math.round(1.5 * columns)) });
    try {
      const window = await load(`${this.figure.address}/window?${query}`, asked.signal);
      if (this.asked === asked) this.figure.replaceLong(window.curves.map((c) => ({ x: numbers(c.x), y: numbers(c.y) })));
    } catch (error) {
      if (error.name !== "AbortError") this.figure.tell(`Not refreshed: ${error.message}.`);
    }
  }

  zoom(factor, about = null) {
    const [first, last] = this.range;
    const centre = about ?? 0.5 * (first + last);
    this.to(centre + (first - centre) / factor, centre + (last - centre) / factor);
  }

  pan(part) {
    const [first, last] = this.range;
    const step = part * (last - first);
    this.to(first + step, last + step);
  }

  to(first, last) {
    const [low, high] = this.whole;
    const [from, till] = [...this.whole].sort((a, b) => a - b);
    let width = Math.min(Math.abs(last - first), till - from);
    width = Math.max(width, (till - from) * 1e-6);
    const start = Math.min(Math.max(Math.min(first, last), from), till - width);
    const range = low > high ? [start + width, start] : [start, start + width];
    window.Plotly.relayout(this.figure.plot, { "xaxis.range": range });
  }

  reset() {
    window.Plotly.relayout(this.figure.plot, this.figure.home);
  }

  wheel(event) {
    const mine = event.ctrlKey || event.metaKey || this.figure.frame.contains(document.activeElement);
    if (!mine || !this.whole) return;
    event.preventDefault();
    const waiting = this.turned !== 1;
    this.turned *= event.deltaY < 0 ? STEP : 1 / STEP;
    if (waiting) return; // one picture per frame of the screen, however fast the wheel turns
    requestAnimationFrame(() => {
      const factor = this.turned;
      this.turned = 1;
      this.zoom(factor, this.placeOf(event.clientX));
    });
  }

  placeOf(clientX) {
    const { x } = this.figure.axes();
    return x.p2l(clientX - this.figure.frame.getBoundingClientRect().left - x._offset);
  }

  finger(event) {
    if (event.pointerType !== "touch" || !this.whole) return;
    if (event.type === "pointerup" || event.type === "pointercancel") {
      this.fingers.delete(event.pointerId);
      return;
    }
    if (event.type === "pointermove" && this.fingers.has(event.pointerId)) this.moved(event);
    else if (event.type === "pointerdown") this.fingers.set(event.pointerId, event.clientX);
  }

  moved(event) {
    const before = [...this.fingers.values()];
    this.fingers.set(event.pointerId, event.clientX);
    const after = [...this.fingers.values()];
    const width = this.figure.axes().x._length;
    if (after.length === 1) this.pan((before[0] - after[0]) / width);
    if (after.length !== 2) return;
    const grown = Math.abs(after[0] - after[1]) / Math.max(Math.abs(before[0] - before[1]), 1);
    this.zoom(Math.max(grown, 0.1), this.placeOf(0.5 * (after[0] + after[1])));
  }
}
