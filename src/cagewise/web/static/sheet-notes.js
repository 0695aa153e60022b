/* Whether readings are plausible: notes while somebody types. The server judges when a sheet is kept. */

const FAR = 3;
const DRIFT = 0.02;
const SPREAD = 0.05;
const MOST = 8;
const ALIKE = new Set(["inductance", "resistance", "impedance", "voltage", "current"]);
const ASCENDING = { insulation_resistance: "time", step_voltage: "voltage", dissipation: "voltage" };

/* A figure, null for blank, NaN for what is none. */
function figure(text) {
  const plain = text.trim().replace("−", "-");
  if (!plain) return null;
  return /^[+-]?(\d+([.,]\d*)?|[.,]\d+)(e[+-]?\d{1,4})?$/i.test(plain) ? Number(plain.replace(",", ".")) : NaN;
}

function unitOf(table, quantity) {
  const select = [...table.querySelectorAll(".unit-choice")].find((each) => each.name.endsWith(`.u.${quantity}`));
  const chosen = select?.selectedOptions[0];
  return { scale: Number(chosen?.dataset.scale ?? 1), offset: Number(chosen?.dataset.offset ?? 0), word: chosen?.textContent ?? "" };
}

function middle(values) {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)];
}

export function notesOf(table) {
  const notes = [];
  const odd = new Set();
  const kind = table.dataset.table;
  const columns = [...table.querySelectorAll("[data-columns] textarea")].map((area) => ({
    area, label: area.dataset.label, quantity: area.dataset.quantity, figures: area.value.split("\n").map(figure),
  }));
  const single = [...table.querySelectorAll("input[data-low]")].map((area) => ({
    area, label: area.dataset.label, quantity: area.dataset.quantity, figures: [figure(area.value)], alone: true,
  }));
  for (const each of [...single, ...columns]) bounds(table, each, notes, odd);
  if (kind === "position") for (const each of columns) alike(each, columns[0], notes, odd);
  if (ASCENDING[kind]) rising(columns.find((each) => each.quantity === ASCENDING[kind]), notes, odd);
  if (kind === "winding_resistance") spread(single.filter((each) => each.quantity === "resistance"), notes);
  const shown = notes.slice(0, MOST);
  if (notes.length > MOST) shown.push(`And ${notes.length - MOST} more like these.`);
  return { notes: shown, odd };
}

function at(each, row) {
  return each.alone ? each.label : `${each.label}, row ${row + 1}`;
}

function bounds(table, each, notes, odd) {
  const { low, high, advice } = each.area.dataset;
  const unit = unitOf(table, each.quantity);
  each.figures.forEach((value, row) => {
    if (value === null) return;
    const si = value * unit.scale + unit.offset;
    if (Number.isNaN(value)) notes.push(`${at(each, row)}: this is no number.`);
    else if (low !== undefined && (si < Number(low) || si > Number(high))) notes.push(`${at(each, row)}: ${value} ${unit.word} can hardly be. ${advice}`);
    else return;
    odd.add(`${each.area.name} ${row}`);
  });
}

function alike(each, angles, notes, odd) {
  if (!ALIKE.has(each.quantity)) return;
  const known = each.figures.filter((value) => value > 0);
  if (known.length > 3) {
    const usual = middle(known);
    each.figures.forEach((value, row) => {
      if (value === null || !(value > FAR * usual || value < usual / FAR)) return;
      notes.push(`${at(each, row)}: ${value} is far from the others (about ${usual}). A digit, the unit, or the pair of terminals?`);
      odd.add(`${each.area.name} ${row}`);
    });
  }
  const last = angles.figures.findLastIndex((value) => value !== null);
  const turned = Math.abs((angles.figures[last] ?? 0) - (angles.figures[0] ?? 0));
  const [first, again] = [each.figures[0], each.figures[last]];
  if (turned > 0 && turned % 360 < 1e-6 && first > 0 && again > 0 && Math.abs(again / first - 1) > DRIFT) {
    notes.push(`${each.label}: back at the first position it reads ${(100 * (again / first - 1)).toFixed(1)} % different. Did the winding warm up, or the angle slip?`);
  }
}

function rising(each, notes, odd) {
  let before = -Infinity;
  each?.figures.forEach((value, row) => {
    if (value === null || Number.isNaN(value)) return;
    if (value <= before) {
      notes.push(`${at(each, row)}: ${value} does not come after ${before}.`);
      odd.add(`${each.area.name} ${row}`);
    }
    before = Math.max(before, value);
  });
}

function spread(pairs, notes) {
  const values = pairs.map((each) => each.figures[0]).filter((value) => value > 0);
  if (values.length < 3) return;
  const part = Math.max(...values) / Math.min(...values) - 1;
  if (part > SPREAD) notes.push(`The three resistances differ by ${(100 * part).toFixed(0)} %. Typed as read? Clean the contacts and read the odd one again.`);
}
