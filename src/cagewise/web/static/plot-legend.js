// What the lines and shapes of a picture stand for, below it and in words.
import { make, number } from "./plot-words.js";

const SPACE = "http://www.w3.org/2000/svg";
const WIDTH = 30;
const HEIGHT = 14;
const SHAPES = {
  circle: ["circle", { cx: 15, cy: 7, r: 4 }],
  "triangle-up": ["path", { d: "M15 2.5 L20 11 L10 11 Z" }],
  square: ["rect", { x: 11, y: 3, width: 8, height: 8 }],
  diamond: ["path", { d: "M15 1.5 L20.5 7 L15 12.5 L9.5 7 Z" }],
  "line-ew": ["path", { d: "M9 7 H21" }],
  "x-thin": ["path", { d: "M11 3 L19 11 M19 3 L11 11" }],
};

export function legendOf(traces, raster) {
  const shown = traces.filter((trace) => trace.name && trace.showlegend !== false);
  const items = shown.map((trace) => make("li", {}, swatch(trace), make("span", {}, trace.name)));
  if (raster) {
    const span = `${number(raster.lowest)} to ${number(raster.highest)} ${raster.unit}`;
    items.push(make("li", {}, make("span", {}, `the more ink, the stronger: ${span} over the fundamental`)));
  }
  return make("ul", { className: "picture-legend" }, ...items);
}

function swatch({ mode, line, marker }) {
  const drawing = element("svg", { width: WIDTH, height: HEIGHT, viewBox: `0 0 ${WIDTH} ${HEIGHT}`, "aria-hidden": "true" });
  if (mode.includes("lines")) drawing.append(stroke(line));
  if (mode.includes("markers")) drawing.append(shape(marker));
  return drawing;
}

function stroke({ color, width, dash }) {
  const dashes = dash === "solid" ? {} : { "stroke-dasharray": dash.replaceAll("px", "") };
  return element("path", { d: `M0 7 H${WIDTH}`, stroke: color, "stroke-width": width, fill: "none", ...dashes });
}

function shape({ symbol, color }) {
  const open = symbol.endsWith("-open");
  const [tag, place] = SHAPES[symbol.replace("-open", "")];
  return element(tag, { ...place, stroke: color, "stroke-width": 1.6, fill: open ? "none" : color });
}

function element(tag, attributes) {
  const made = document.createElementNS(SPACE, tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  return made;
}
