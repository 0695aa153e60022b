// What a picture says without being seen: a summary, and its numbers as a table.

const FEW_POINTS = 20;
const SKIPPED = new Set(["floor"]);

export function make(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (name in element && !name.startsWith("aria")) element[name] = value;
    else element.setAttribute(name, value);
  }
  element.append(...children.filter((child) => child !== null));
  return element;
}

export function number(value, digits = 4) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "";
  return String(Number(value.toPrecision(digits))).replace("-", "−");
}

export function summaryOf(picture) {
  const read = picture.markers
    .filter((mark) => mark.part === "measured" && mark.y !== null)
    .map((mark) => `${mark.label}: ${number(mark.y)} ${picture.y.unit}`);
  return [picture.title, picture.meaning, ...read].filter(Boolean).join(". ").replaceAll("..", ".");
}

export function tableOf(picture) {
  const rows = [
    ...picture.markers.map((mark) => [mark.label, mark.x, mark.order, mark.y, mark.low, mark.high]),
    ...picture.curves.filter(isShort).flatMap(pointsOf),
  ];
  if (!rows.length) return null;
  const orders = rows.some((row) => row[2] !== null);
  const heads = ["What", axis(picture.x), ...(orders ? ["Order"] : []), axis(picture.y), "95 % interval"];
  const head = make("tr", {}, ...heads.map((text) => make("th", { scope: "col" }, text)));
  const body = rows.map((row) => rowOf(row, orders));
  return make(
    "details",
    { className: "picture-numbers" },
    make("summary", {}, "Numbers of this picture"),
    make(
      "div",
      { className: "scroll", tabIndex: 0, role: "region", "aria-label": `Numbers: ${picture.title}` },
      make("table", {}, make("thead", {}, head), make("tbody", {}, ...body)),
    ),
  );
}

function isShort(curve) {
  return !curve.long && curve.x.length <= FEW_POINTS && !SKIPPED.has(curve.part) && curve.label;
}

function pointsOf(curve) {
  const label = curve.group ? `${curve.group}, ${curve.label}` : curve.label;
  return [...curve.x].map((x, k) => [label, x, null, curve.y[k], curve.low?.[k] ?? null, curve.high?.[k] ?? null]);
}

function axis({ quantity, unit }) {
  return unit ? `${quantity}, ${unit}` : quantity;
}

function rowOf([label, x, order, y, low, high], orders) {
  const between = low === null || high === null ? "" : `${number(low)} to ${number(high)}`;
  const cells = [number(x, 5), ...(orders ? [number(order, 6)] : []), number(y), between];
  return make(
    "tr",
    {},
    make("th", { scope: "row" }, label),
    ...cells.map((text) => make("td", { className: "number" }, text)),
  );
}
