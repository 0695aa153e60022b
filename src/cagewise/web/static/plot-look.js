// From a picture to what the plotting library draws: shapes carry meaning, colour only repeats it.

const DASHES = { 0: "1px,3px", 1: "6px,3px", 2: "10px,3px,2px,3px", 3: "10px,3px,2px,3px,2px,3px" };
const SYMBOLS = { 0: "circle-open", 1: "triangle-up-open", 2: "square-open", 3: "diamond-open" };
const FEW = 60;

const LOOKS = {
  measured: { colour: "line", width: 1.2, dash: "solid", symbol: "circle" },
  floor: { colour: "soft", width: 1.2, dash: "5px,3px", symbol: "circle" },
  fitted: { colour: "ink", width: 1.8, dash: "8px,4px", symbol: "square" },
  expected: { colour: "for", width: 1.5, dash: "6px,3px", symbol: "triangle-up-open" },
  earlier: { colour: "soft", width: 1.1, dash: "1px,2px", symbol: "circle-open" },
  limit: { colour: "ink", width: 1.8, dash: "2px,3px", symbol: "line-ew-open" },
  residual: { colour: "against", width: 2.2, dash: "5px,2px,1px,2px", symbol: "x-thin-open" },
};
const NAMES = ["ink", "soft", "faint", "hidden", "paper", "for", "against", "line"];

export function colours(element) {
  const style = getComputedStyle(element);
  const found = { font: style.fontFamily };
  for (const name of NAMES) found[name] = style.getPropertyValue(`--${name}`).trim();
  return found;
}

export function groupsOf(picture) {
  const groups = [...new Set(picture.curves.map((curve) => curve.group))];
  return groups.length ? groups : [""];
}

export function tracesOf(picture, palette) {
  const groups = groupsOf(picture);
  const traces = [];
  const named = new Set();
  let measured = 0;
  picture.curves.forEach((curve, index) => {
    const panel = groups.indexOf(curve.group);
    const axis = panel ? `x${panel + 1}` : "x";
    const look = { ...LOOKS[curve.part] };
    if (curve.open_bars !== null) look.dash = DASHES[curve.open_bars] ?? look.dash;
    measured += curve.part === "measured" && !curve.group ? 1 : 0;
    if (curve.part === "measured" && measured > 1) Object.assign(look, { colour: "soft" });
    const legend = Boolean(curve.label) && !named.has(curve.label);
    named.add(curve.label);
    const common = { xaxis: axis, legendgroup: curve.label, meta: { bars: curve.open_bars, index } };
    if (curve.low && curve.joined) traces.push(...bandOf(curve, palette[look.colour], common));
    traces.push({ ...lineOf(curve, look, palette, picture.plane), ...common, showlegend: legend });
  });
  // in a plane the ends of lines are the marked places
  const marks = picture.plane ? [] : picture.markers.filter((mark) => mark.y !== null);
  traces.push(...marksOf(marks, palette));
  return traces;
}

function lineOf(curve, look, palette, plane) {
  const points = !curve.joined || (curve.x.length <= FEW && shown(curve.part));
  const trace = {
    type: "scatter",
    name: curve.label,
    x: curve.x,
    y: curve.y,
    mode: curve.joined ? (points ? "lines+markers" : "lines") : "markers",
    line: { color: palette[look.colour], width: plane ? look.width + 0.8 : look.width, dash: look.dash },
    marker: { symbol: look.symbol, size: 7, color: palette[look.colour], line: { width: 1.4 } },
    connectgaps: false,
    hovertemplate: `%{x:.4~g}, %{y:.4~g}<extra>${plain(curve.label)}</extra>`,
  };
  if (curve.low && !curve.joined) trace.error_y = barsOf(curve, palette[look.colour]);
  return trace;
}

function plain(text) {
  return text.replaceAll("<", "‹").replaceAll(">", "›").replaceAll("%{", "% {");
}

function shown(part) {
  return part === "measured" || part === "earlier";
}

function barsOf(curve, colour) {
  return {
    type: "data",
    symmetric: false,
    array: curve.high.map((high, k) => high - curve.y[k]),
    arrayminus: curve.low.map((low, k) => curve.y[k] - low),
    color: colour,
    thickness: 1.4,
    width: 4,
  };
}

function bandOf(curve, colour, common) {
  const edge = { type: "scatter", x: curve.x, mode: "lines", line: { width: 0, color: colour } };
  const rest = { ...common, showlegend: false, hoverinfo: "skip" };
  return [
    { ...edge, ...rest, y: curve.low },
    { ...edge, ...rest, y: curve.high, fill: "tonexty", fillcolor: faded(colour, 0.16) },
  ];
}

export function faded(colour, part) {
  const [red, green, blue] = channels(colour);
  return `rgba(${red},${green},${blue},${part})`;
}

export function channels(colour) {
  const hex = colour.replace("#", "");
  return [0, 2, 4].map((at) => Number.parseInt(hex.slice(at, at + 2), 16));
}

function marksOf(markers, palette) {
  const kinds = new Map();
  for (const mark of markers) {
    const key = `${mark.part} ${mark.open_bars}`;
    kinds.set(key, [...(kinds.get(key) ?? []), mark]);
  }
  return [...kinds.values()].map((marks) => markTrace(marks, palette));
}

function markTrace(marks, palette) {
  const [{ part, open_bars: bars, label }] = marks;
  const look = LOOKS[part];
  const read = part === "measured";
  const colour = read ? palette.ink : palette[look.colour];
  const low = marks.map((mark) => (mark.low === null ? 0 : mark.y - mark.low));
  const high = marks.map((mark) => (mark.high === null ? 0 : mark.high - mark.y));
  return {
    type: "scatter",
    mode: "markers",
    name: bars === null ? (read ? "as read" : label.split(" of ")[0]) : label.split(":")[0],
    x: marks.map((mark) => mark.x),
    y: marks.map((mark) => mark.y),
    text: marks.map((mark) => plain(mark.label)),
    hovertemplate: "%{text}<br>%{y:.4~g}<extra></extra>",
    marker: {
      symbol: bars === null ? look.symbol : (SYMBOLS[bars] ?? look.symbol),
      size: read ? 8 : 10,
      color: colour,
      line: { width: 1.8, color: colour },
    },
    error_y: { type: "data", symmetric: false, array: high, arrayminus: low, color: colour, thickness: 1.4, width: 3 },
    meta: { bars },
  };
}

export function layoutOf(picture, palette) {
  const groups = groupsOf(picture);
  const layout = {
    autosize: true,
    margin: { l: 62, r: 14, t: groups.length > 1 || picture.markers.some((m) => m.y === null) ? 30 : 12, b: 48 },
    paper_bgcolor: "rgba(0,0,0,0)",
    plot_bgcolor: "rgba(0,0,0,0)",
    font: { family: palette.font, size: 13, color: palette.ink },
    dragmode: "zoom",
    hovermode: picture.frequency ? false : "closest",
    hoverlabel: { bgcolor: palette.paper, bordercolor: palette.soft, font: { color: palette.ink } },
    showlegend: false,
    yaxis: yAxis(picture, palette),
    shapes: linesOf(picture, palette),
    annotations: wordsOf(picture, palette, groups),
    uirevision: picture.name,
  };
  groups.forEach((_, panel) => {
    layout[panel ? `xaxis${panel + 1}` : "xaxis"] = xAxis(picture, palette, panel, groups.length);
  });
  return layout;
}

function axisOf(axis, palette) {
  return {
    title: { text: axis.unit ? `${axis.quantity}, ${axis.unit}` : axis.quantity, standoff: 8, font: { size: 13 } },
    type: axis.logarithmic ? "log" : "linear",
    gridcolor: palette.faint,
    zerolinecolor: palette.faint,
    linecolor: palette.soft,
    showline: true,
    ticks: "outside",
    tickcolor: palette.soft,
    exponentformat: "none",
    ...(axis.ticks.length && {
      tickmode: "array",
      tickvals: axis.ticks.map(([at]) => at),
      ticktext: axis.ticks.map(([, name]) => plain(name)),
    }),
  };
}

function xAxis(picture, palette, panel, count) {
  const gap = 0.03;
  const width = (1 - gap * (count - 1)) / count;
  const long = picture.curves.some((curve) => curve.long);
  const axis = {
    ...axisOf(picture.x, palette),
    domain: [panel * (width + gap), panel * (width + gap) + width],
    ...(panel && { matches: "x" }),
  };
  if (picture.raster) axis.showgrid = false;
  const ends = endsOf(picture);
  if (ends && !picture.plane) axis.range = picture.x.falling ? [ends[1], ends[0]] : ends;
  if (long && ends) Object.assign(axis, { minallowed: ends[0], maxallowed: ends[1] });
  return axis;
}

function endsOf(picture) {
  if (picture.raster) return [picture.raster.x[0], picture.raster.x.at(-1)];
  if (picture.plane || (picture.x.ticks.length && !picture.x.logarithmic)) return null;
  const curves = picture.curves.filter((curve) => curve.long);
  const used = curves.length ? curves : picture.curves;
  const low = Math.min(...used.map((curve) => curve.x[0]));
  const high = Math.max(...used.map((curve) => curve.x.at(-1)));
  if (!(high > low)) return null;
  return picture.x.logarithmic ? [Math.log10(low) - 0.03, Math.log10(high) + 0.03] : [low, high];
}

function yAxis(picture, palette) {
  const long = picture.curves.some((curve) => curve.long);
  return {
    ...axisOf(picture.y, palette),
    automargin: true,
    fixedrange: long || Boolean(picture.raster),
    ...(picture.raster && { range: [picture.raster.y[0], picture.raster.y.at(-1)], showgrid: false }),
    ...(picture.plane && { scaleanchor: "x", scaleratio: 1 }),
  };
}

function linesOf(picture, palette) {
  return picture.markers
    .filter((mark) => mark.y === null)
    .map((mark) => ({
      type: "line",
      xref: "x",
      yref: "paper",
      x0: mark.x,
      x1: mark.x,
      y0: 0,
      y1: 1,
      line: { color: palette[LOOKS[mark.part].colour], width: 1.2, dash: "dot" },
    }));
}

// words near an end of the axis are written towards the middle
function sideOf(x, picture) {
  const scale = picture.x.logarithmic ? Math.log10 : Number;
  const [low, high] = endsOf(picture) ?? [0, 1];
  const part = (scale(x) - low) / (high - low);
  return part > 0.85 ? "right" : part < 0.15 ? "left" : "center";
}

function wordsOf(picture, palette, groups) {
  const words = picture.markers
    .filter((mark) => mark.y === null)
    .map((mark) => ({
      x: picture.x.logarithmic ? Math.log10(mark.x) : mark.x,
      y: 1,
      yref: "paper",
      yanchor: "bottom",
      xanchor: sideOf(mark.x, picture),
      text: plain(mark.label),
      showarrow: false,
      font: { size: 12, color: palette.ink },
    }));
  if (groups.length < 2) return words;
  return groups.map((group, panel) => ({
    xref: panel ? `x${panel + 1} domain` : "x domain",
    yref: "paper",
    x: 0.5,
    y: 1,
    yanchor: "bottom",
    text: plain(group),
    showarrow: false,
    font: { size: 13, color: palette.ink },
  }));
}
