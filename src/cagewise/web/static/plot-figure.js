// One picture on the page: the plot, its tools, its cursor, its numbers.
import { Cursor, FAMILIES } from "./plot-cursor.js";
import { load, plotly, unpacked } from "./plot-data.js";
import { Backdrop } from "./plot-image.js";
import { legendOf } from "./plot-legend.js";
import { colours, groupsOf, layoutOf, tracesOf } from "./plot-look.js";
import { View } from "./plot-view.js";
import { make, summaryOf, tableOf } from "./plot-words.js";

const CONFIG = { displayModeBar: false, displaylogo: false, responsive: true, doubleClick: "reset", scrollZoom: false, showTips: false };
const FILES = { svg: "SVG", png: "PNG", csv: "CSV" };
const KEYS =
  "Keys on the cursor: arrows move it, with Shift further; plus and minus zoom about it; Page Up and Page Down move the view; " +
  "N and P go to the next and previous marked place; zero shows everything. Wheel with Ctrl zooms, a drag zooms into a part, two fingers zoom.";

export class PictureFigure {
  constructor(element) {
    this.element = element;
    this.address = element.dataset.picture;
    this.hiddenBars = new Set();
  }

  async show() {
    const { element } = this;
    element.setAttribute("aria-busy", "true");
    this.status = make("p", { className: "picture-status", role: "status" }, "Loading the picture…");
    element.append(this.status);
    try {
      const library = plotly();
      this.picture = unpacked(await load(this.address));
      this.caption();
      if (this.picture.reason) this.tell(`Nothing to be seen: ${this.picture.reason}.`);
      else await this.draw(await library);
    } catch (error) {
      this.tell(`The picture could not be shown: ${error.message}.`);
    }
    element.removeAttribute("aria-busy");
    element.dataset.state = "shown";
  }

  tell(words) {
    this.status.textContent = words;
  }

  caption() {
    const caption = this.element.querySelector("figcaption") ?? this.element.appendChild(make("figcaption"));
    const title = make("strong", {}, this.picture.title);
    if (!caption.textContent.trim()) caption.replaceChildren(title, make("span", {}, this.picture.meaning));
  }

  async draw(library) {
    this.library = library;
    const { picture } = this;
    this.plot = make("div", { className: "picture-plot" });
    const drawing = make("div", { role: "img", "aria-label": summaryOf(picture) }, this.plot);
    this.frame = make("div", { className: `picture-frame${picture.plane ? " plane" : ""}` }, drawing);
    this.readout = make("p", { className: "picture-readout" });
    this.legend = make("div");
    const numbers = tableOf(picture);
    this.element.append(this.tools(), this.frame, this.legend, this.readout, ...(numbers ? [numbers] : []));
    this.tell("");
    if (picture.raster) this.backdrop = new Backdrop(picture.raster, this.frame);
    await this.paint();
    this.home = this.homeRange();
    this.whole = picture.plane || picture.x.ticks.length ? null : [...this.axes().x.range].map(Number);
    this.view = new View(this);
    if (this.whole && groupsOf(picture).length === 1) this.addCursor();
    this.redrawn();
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.paint());
  }

  async paint() {
    const palette = colours(this.element);
    this.palette = palette;
    const traces = tracesOf(this.picture, palette);
    for (const trace of traces) trace.visible = !this.hiddenBars.has(trace.meta?.bars);
    const layout = layoutOf(this.picture, palette);
    if (this.plot.layout?.xaxis?.range) layout.xaxis.range = [...this.plot.layout.xaxis.range];
    this.legend.replaceChildren(legendOf(traces, this.picture.raster));
    await this.library.react(this.plot, traces, layout, CONFIG);
    this.fixHeight();
    this.backdrop?.paint(palette.ink);
  }

  // the level axis stays where it is while the view moves along
  fixHeight() {
    const { y } = this.axes();
    if (y.fixedrange) this.plot.layout.yaxis.range ??= [...y.range];
  }

  homeRange() {
    const home = {};
    for (const name of Object.keys(this.plot._fullLayout)) {
      if (/^[xy]axis\d*$/.test(name)) home[`${name}.range`] = [...this.plot._fullLayout[name].range];
    }
    return home;
  }

  axes() {
    const { xaxis, yaxis } = this.plot._fullLayout;
    return { x: xaxis, y: yaxis };
  }

  redrawn() {
    if (!this.plot._fullLayout?.xaxis) return;
    this.backdrop?.place(this.axes());
    if (this.cursor) this.cursor.show();
    this.links?.();
  }

  replaceLong(curves) {
    const places = [];
    const update = { x: [], y: [] };
    this.plot.data.forEach((trace, place) => {
      const fresh = curves[trace.meta?.index];
      if (!fresh || !this.picture.curves[trace.meta.index].long) return;
      Object.assign(this.picture.curves[trace.meta.index], fresh);
      places.push(place);
      update.x.push(fresh.x);
      update.y.push(fresh.y);
    });
    this.library.restyle(this.plot, update, places);
  }

  tools() {
    const bar = make("div", { className: "picture-tools", role: "group", "aria-label": `Tools: ${this.picture.title}` });
    bar.append(...this.barButtons(), ...this.viewButtons(), ...this.familyChoice(), this.files());
    return bar;
  }

  barButtons() {
    const bars = [...this.picture.markers, ...this.picture.curves].map((each) => each.open_bars);
    const counts = [...new Set(bars.filter((count) => count !== null))].sort();
    if (counts.length < 2) return [];
    return counts.map((count) => {
      const label = count === 0 ? "No open bar" : count === 1 ? "1 open bar" : `${count} open bars`;
      const button = make("button", { type: "button", "aria-pressed": "true" }, label);
      button.addEventListener("click", () => this.toggle(count, button));
      return button;
    });
  }

  toggle(count, button) {
    const hidden = this.hiddenBars.has(count);
    if (hidden) this.hiddenBars.delete(count);
    else this.hiddenBars.add(count);
    button.setAttribute("aria-pressed", String(hidden));
    const places = this.plot.data.flatMap((trace, place) => (trace.meta?.bars === count ? [place] : []));
    this.library.restyle(this.plot, { visible: hidden }, places);
  }

  viewButtons() {
    if (this.picture.plane) return [];
    const kinds = [
      ["+", "Zoom in", () => this.view.zoom(2, this.cursor?.x ?? null)],
      ["−", "Zoom out", () => this.view.zoom(0.5)],
      ["←", "Move left", () => this.view.pan(-0.4)],
      ["→", "Move right", () => this.view.pan(0.4)],
      ["All", "Show everything", () => this.view.reset()],
    ];
    if (this.picture.x.ticks.length) return [];
    return kinds.map(([text, label, act]) => {
      const button = make("button", { type: "button", "aria-label": label, title: label }, text);
      button.addEventListener("click", act);
      return button;
    });
  }

  familyChoice() {
    const scale = this.picture.frequency;
    if (!scale) return [];
    const options = Object.entries(FAMILIES)
      .filter(([name]) => name === "none" || name === "multiples" || scale.slip)
      .map(([value, text]) => make("option", { value }, text));
    const select = make("select", {}, ...options);
    select.addEventListener("change", () => {
      this.cursor.family = select.value;
      this.cursor.show();
    });
    return [make("label", {}, "Lines ", select)];
  }

  files() {
    const links = Object.entries(FILES).map(([kind, text]) => make("a", { download: "" }, text));
    this.links = () => {
      const query = this.whole && String(this.axes().x.range) !== String(this.whole) ? this.part() : "";
      Object.keys(FILES).forEach((kind, k) => links[k].setAttribute("href", `${this.address}/file.${kind}${query}`));
    };
    return make("span", { className: "picture-files" }, "Save as ", ...links.flatMap((link) => [link, " "]));
  }

  part() {
    const [low, high] = this.axes().x.range.map(Number).sort((a, b) => a - b);
    return `?${new URLSearchParams({ low, high })}`;
  }

  addCursor() {
    this.cursor = new Cursor(this.picture, this.frame, () => this.axes());
    const keys = make("p", { id: this.cursor.keysId }, KEYS);
    this.element.append(make("details", { className: "picture-numbers" }, make("summary", {}, "Keys and gestures"), keys));
    this.frame.addEventListener("pointermove", (event) => {
      if (event.buttons || event.pointerType === "touch") return;
      const left = event.clientX - this.frame.getBoundingClientRect().left;
      const { x } = this.axes();
      if (left >= x._offset && left <= x._offset + x._length) this.say(this.cursor.toPixel(left));
    });
    this.cursor.line.addEventListener("keydown", (event) => this.key(event));
  }

  say(words) {
    this.readout.textContent = words;
  }

  key(event) {
    const step = event.shiftKey ? 20 : 2;
    const { cursor, view } = this;
    const act = {
      ArrowLeft: () => cursor.moveBy(-step),
      ArrowRight: () => cursor.moveBy(step),
      PageUp: () => view.pan(0.5),
      PageDown: () => view.pan(-0.5),
      "+": () => view.zoom(2, cursor.x),
      "=": () => view.zoom(2, cursor.x),
      "-": () => view.zoom(0.5, cursor.x),
      0: () => view.reset(),
      n: () => cursor.toPlace(this.nextMark(1)),
      p: () => cursor.toPlace(this.nextMark(-1)),
    }[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    act();
    this.say(cursor.show());
  }

  nextMark(sense) {
    const places = [...new Set(this.picture.markers.map((mark) => mark.x))].sort((a, b) => sense * (a - b));
    const here = this.cursor.x;
    if (!places.length) return here;
    return places.find((place) => here === null || sense * (place - here) > 1e-9) ?? places[0];
  }
}
