/* A test sheet: columns become a table of cells; what is typed is looked at at once; a draft stays.

   Without this script each column is a field with one reading on a line. The cells only stand in for
   those fields, which are what is sent.

   Keys in the table: Enter goes to the next reading, and from the last row into a new one; up and down
   stay in the column; a column or block from a spreadsheet can be pasted into any cell. */

import { notesOf } from "./sheet-notes.js";

const form = document.getElementById("sheet");
const writes = Boolean(form.querySelector('button[value="keep"]'));
const MOST_ROWS = 5000;

ordinals();
for (const block of form.querySelectorAll("[data-columns]")) grid(block);
for (const table of form.querySelectorAll("[data-table]")) look(table);
form.addEventListener("input", (event) => {
  look(event.target.closest("[data-table]"));
  keepSoon();
});
form.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || !event.target.matches("input:not([type=checkbox])") || event.defaultPrevented) return;
  event.preventDefault();
  const fields = [...form.querySelectorAll("input:not([type=hidden]), select, textarea")].filter((each) => each.offsetParent);
  fields[fields.indexOf(event.target) + 1]?.focus();
});
if (writes) draft();

function grid(block) {
  const areas = [...block.querySelectorAll("textarea")];
  const table = document.createElement("table");
  table.className = "grid";
  const head = table.createTHead().insertRow();
  head.append(header("Row", "for-readers"));
  for (const area of areas) {
    const cell = header(area.dataset.label);
    const unit = area.closest(".column").querySelector(".unit-choice, .unit");
    if (unit) cell.append(document.createElement("br"), unit);
    head.append(cell);
  }
  const columns = areas.map((area) => area.value.split("\n"));
  const body = table.createTBody();
  const rows = Math.max(...columns.map((column) => column.length), 1);
  const state = { areas, body, table };
  for (let n = 0; n < rows; n += 1) row(state, columns.map((column) => column[n] ?? ""));
  const scroll = document.createElement("div");
  scroll.className = "grid-scroll scroll";
  scroll.tabIndex = 0;
  scroll.setAttribute("role", "region");
  scroll.setAttribute("aria-label", `Readings, ${block.closest("[data-table]").querySelector("h2").textContent.trim()}`);
  scroll.append(table);
  block.hidden = true;
  block.before(scroll);
  if (!writes) return;
  const more = document.createElement("button");
  more.type = "button";
  more.className = "quiet";
  more.textContent = "One more row";
  more.addEventListener("click", () => {
    row(state, areas.map(() => ""));
    cell(state, body.rows.length - 1, 0)?.focus();
  });
  scroll.after(more);
  body.addEventListener("input", () => sync(state));
  body.addEventListener("keydown", (event) => move(state, event));
  body.addEventListener("paste", (event) => paste(state, event));
}

function row(state, values) {
  if (state.body.rows.length >= MOST_ROWS) return;
  const line = state.body.insertRow();
  const number = state.body.rows.length;
  const label = header(String(number));
  label.scope = "row";
  line.append(label);
  state.areas.forEach((area, place) => {
    const input = document.createElement("input");
    input.value = values[place].trim();
    input.inputMode = "decimal";
    input.autocomplete = "off";
    input.maxLength = 60;
    input.readOnly = !writes;
    input.setAttribute("aria-label", `${area.dataset.label}, row ${number}`);
    line.insertCell().append(input);
  });
}

function header(text, inner = "") {
  const cell = document.createElement("th");
  cell.scope = "col";
  const words = document.createElement("span");
  words.className = inner;
  words.textContent = text;
  cell.append(words);
  return cell;
}

function cell(state, line, place) {
  return state.body.rows[line]?.cells[place + 1]?.firstChild;
}

function placeOf(state, input) {
  return [input.closest("tr").sectionRowIndex, input.closest("td").cellIndex - 1];
}

function sync(state) {
  state.areas.forEach((area, place) => {
    area.value = [...state.body.rows].map((line, n) => cell(state, n, place).value.trim()).join("\n");
  });
}

function move(state, event) {
  if (!event.target.matches("input") || event.altKey || event.ctrlKey || event.metaKey) return;
  const [line, place] = placeOf(state, event.target);
  if (event.key === "Enter") {
    event.preventDefault();
    next(state, line, place)?.focus();
  } else if (event.key === "ArrowDown" || event.key === "ArrowUp") {
    event.preventDefault();
    const target = cell(state, line + (event.key === "ArrowDown" ? 1 : -1), place);
    target?.focus();
    target?.select();
  }
}

/* The next reading of the row, then the first of the next; what it is read against is passed over if it stands there. */
function next(state, line, place) {
  if (place + 1 < state.areas.length) return cell(state, line, place + 1);
  if (line + 1 >= state.body.rows.length) row(state, state.areas.map(() => ""));
  const first = cell(state, line + 1, 0);
  return first?.value ? cell(state, line + 1, 1) ?? first : first;
}

function paste(state, event) {
  const text = event.clipboardData.getData("text/plain");
  if (!event.target.matches("input") || !/[\n\t]/.test(text.trim())) return;
  event.preventDefault();
  const [line, place] = placeOf(state, event.target);
  const lines = text.replace(/\r/g, "").replace(/\n+$/, "").split("\n").slice(0, MOST_ROWS);
  lines.forEach((content, down) => {
    if (line + down >= state.body.rows.length) row(state, state.areas.map(() => ""));
    content.split("\t").forEach((value, across) => {
      const target = cell(state, line + down, place + across);
      if (target) target.value = value.trim();
    });
  });
  sync(state);
  event.target.dispatchEvent(new Event("input", { bubbles: true }));
  cell(state, Math.min(line + lines.length, state.body.rows.length - 1), place)?.focus();
}

/* Numbers behind the titles of tests of which there are several. */
function ordinals() {
  const counts = {};
  for (const table of form.querySelectorAll("[data-table]")) {
    const place = table.querySelector("[data-ordinal]");
    if (!place) continue;
    counts[table.dataset.table] = (counts[table.dataset.table] ?? 0) + 1;
    const several = form.querySelectorAll(`[data-table="${table.dataset.table}"]`).length > 1;
    place.textContent = several ? String(counts[table.dataset.table]) : "";
  }
}

function look(table) {
  const list = table?.querySelector("[data-notes]");
  if (!list) return;
  const { notes, odd } = notesOf(table);
  if (list.dataset.said !== notes.join("\n")) {
    list.dataset.said = notes.join("\n");
    list.hidden = !notes.length;
    list.replaceChildren(...notes.map((text) => {
      const item = document.createElement("li");
      item.textContent = text;
      return item;
    }));
  }
  const names = [...table.querySelectorAll("[data-columns] textarea")].map((area) => area.name);
  for (const input of table.querySelectorAll(".grid tbody input")) {
    const [line, place] = [input.closest("tr").sectionRowIndex, input.closest("td").cellIndex - 1];
    input.classList.toggle("odd", odd.has(`${names[place]} ${line}`));
  }
}

/* The draft: all fields by name, in this browser only. */
function values() {
  const found = {};
  for (const each of form.elements) {
    if (each.name && !["csrf", "do", "of"].includes(each.name)) found[each.name] = each.value.trimEnd();
  }
  return found;
}

let timer = 0;
function keepSoon() {
  if (!writes) return;
  clearTimeout(timer);
  timer = setTimeout(keep, 400);
}

function keep() {
  const said = document.getElementById("draft-said");
  try {
    localStorage.setItem(form.dataset.draft, JSON.stringify({ at: new Date().toISOString(), values: values() }));
    said.textContent = `Draft kept in this browser, ${new Date().toLocaleTimeString()}.`;
  } catch {
    said.textContent = "No draft can be kept in this browser: keep the sheet before you leave.";
  }
}

function draft() {
  let found = null;
  try { found = JSON.parse(localStorage.getItem(form.dataset.draft)); } catch { /* none */ }
  if (form.hasAttribute("data-sent")) { keep(); return; }
  if (!found || JSON.stringify(found.values) === JSON.stringify(values())) return;
  const notice = document.getElementById("draft");
  notice.querySelector("[data-when]").textContent = `There is a draft of this sheet in this browser, of ${new Date(found.at).toLocaleString()}.`;
  notice.hidden = false;
  notice.querySelector("[data-drop]").addEventListener("click", () => {
    localStorage.removeItem(form.dataset.draft);
    notice.hidden = true;
  });
  notice.querySelector("[data-take]").addEventListener("click", () => {
    for (const [name, value] of Object.entries(found.values)) put(name, value);
    put("do", "reads");
    form.submit();
  });
}

function put(name, value) {
  const there = [...form.elements].find((each) => each.name === name && each.type !== "submit");
  if (there) { there.value = value; return; }
  const input = document.createElement("input");
  input.type = "hidden";
  input.name = name;
  input.value = value;
  form.append(input);
}
