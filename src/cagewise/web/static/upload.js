/* Sends files: <form data-upload action="/motors/3/files" method="post" enctype="multipart/form-data">.

   Without this script the form works as it is. With it, files are sent as soon as they are dropped on
   the form or chosen; each is sent by itself in parts, goes on after a break of the network, and can be
   taken back. Files of one choice are one batch, so what belongs together stays together. When all are
   whole, a job imports them; the page then follows it, and goes to data-then or what came of it.

   The form holds <input type="file" multiple>, and may hold fields named day and examine. */

import { follow } from "./jobs.js";

const PART_BYTES = 32 * 1024 * 1024;
const WAITS_MS = [500, 1000, 2000, 4000, 8000, 15000];
const FOR_GOOD = new Set([400, 401, 403, 404, 413, 415, 421, 422, 507]);

class Refused extends Error {}

for (const form of document.querySelectorAll("form[data-upload]")) prepare(form);

function prepare(form) {
  const input = form.querySelector('input[type="file"]');
  const list = make("ul", "plain-list");
  const said = make("p", "for-readers");
  said.setAttribute("role", "status");
  form.append(list, said);
  const state = { form, list, said, busy: false };
  form.addEventListener("submit", (event) => event.preventDefault());
  input.addEventListener("change", () => {
    take(state, [...input.files]);
    input.value = "";
  });
  const area = form.querySelector(".drop") ?? form;
  for (const name of ["dragenter", "dragover"]) {
    area.addEventListener(name, (event) => {
      if (![...event.dataTransfer.types].includes("Files")) return;
      event.preventDefault();
      area.classList.add("over");
    });
  }
  for (const name of ["dragleave", "drop"]) area.addEventListener(name, () => area.classList.remove("over"));
  area.addEventListener("drop", async (event) => {
    event.preventDefault();
    take(state, await dropped(event.dataTransfer));
  });
  addEventListener("beforeunload", (event) => {
    if (state.busy) event.preventDefault();
  });
}

async function take(state, files) {
  if (!files.length) return;
  if (state.busy) return say(state, "Wait until what is on its way has been read; then send these.", true);
  state.busy = true;
  state.said.className = "for-readers";
  state.list.replaceChildren();
  const rows = files.map((file) => row(state, file));
  const batch = { id: "" };
  for (const each of rows) await send(state, each, batch);
  state.busy = false;
  if (rows.some((each) => each.whole)) await takeIn(state, rows, batch);
  else say(state, "Nothing was sent.");
}

async function send(state, each, batch) {
  for (let failures = 0; !each.cancelled; ) {
    try {
      await sendOnce(state, each, batch);
      each.whole = true;
      each.words.textContent = "Sent.";
      each.button.hidden = true;
      return;
    } catch (error) {
      if (each.cancelled) break;
      if (error instanceof Refused) {
        each.words.textContent = error.message;
        each.button.hidden = true;
        say(state, `${each.file.name}: ${error.message}`);
        await takeBack(each);
        return;
      }
      const wait = WAITS_MS[Math.min(failures++, WAITS_MS.length - 1)];
      each.words.textContent = `The connection broke; trying again in ${Math.round(wait / 1000) || 1} s.`;
      if (failures === 1) say(state, `${each.file.name}: the connection broke, it will go on.`);
      await pause(each, wait);
    }
  }
  each.words.textContent = "Taken back.";
  each.button.hidden = true;
  say(state, `${each.file.name} is taken back.`);
  await takeBack(each);
}

async function sendOnce(state, each, batch) {
  const { file } = each;
  if (!each.id) {
    const query = new URLSearchParams({ name: file.name, size: file.size });
    if (batch.id) query.set("batch", batch.id);
    const begun = await call(each, "POST", `/api/v1${state.form.getAttribute("action")}?${query}`);
    each.id = begun.id;
    batch.id = begun.batch;
  }
  let known = await call(each, "GET", `/api/v1/uploads/${each.id}`);
  while (!known.whole) {
    const from = known.received_bytes;
    const part = file.slice(from, from + PART_BYTES);
    known = await call(each, "PATCH", `/api/v1/uploads/${each.id}?offset=${from}`, part, (sent) => {
      const share = (from + sent) / file.size;
      each.bar.value = share;
      each.words.textContent = `${size(from + sent)} of ${size(file.size)}`;
    });
  }
}

async function takeIn(state, rows, batch) {
  const { form } = state;
  const body = JSON.stringify({
    batch: batch.id,
    day: form.elements.namedItem("day")?.value || null,
    examine: (form.elements.namedItem("examine")?.value ?? "yes") === "yes",
  });
  const to = `/api/v1${form.getAttribute("action").replace(/files$/, "imports")}`;
  try {
    const job = await call({}, "POST", to, body);
    const box = make("li", "box");
    box.dataset.job = job.id;
    box.innerHTML = '<p><strong></strong></p><label data-state></label><progress max="1"></progress><p class="progress-words" role="status"></p>';
    box.querySelector("strong").textContent = job.title;
    box.querySelector("label").htmlFor = box.querySelector("progress").id = `job-${job.id}`;
    state.list.append(box);
    const refused = rows.some((each) => !each.whole && !each.cancelled);
    follow(box, (ended) => {
      const to = form.dataset.then || ended.see;
      if (refused) say(state, "What was sent is imported; see above for the rest.");
      else location.assign(ended.state === "done" && ended.see && to ? to : `/jobs/${job.id}`);
    });
  } catch (error) {
    say(state, error.message, true);
  }
}

function row(state, file) {
  const item = make("li", "box");
  const id = `upload-${Math.random().toString(36).slice(2)}`;
  const name = make("label");
  name.htmlFor = id;
  name.textContent = file.name;
  const bar = make("progress");
  bar.id = id;
  bar.max = 1;
  bar.value = 0;
  const words = make("p", "progress-words");
  words.textContent = `${size(file.size)}, waits`;
  const button = make("button", "quiet");
  button.type = "button";
  button.textContent = "Take back";
  button.setAttribute("aria-label", `Take back ${file.name}`);
  item.append(name, bar, words, button);
  state.list.append(item);
  const each = { file, bar, words, button, id: "", whole: false, cancelled: false, stop: null };
  button.addEventListener("click", () => {
    each.cancelled = true;
    each.stop?.();
  });
  return each;
}

/* XMLHttpRequest, because fetch does not tell how much was sent. */
function call(each, method, address, body, onProgress) {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open(method, address);
    request.setRequestHeader("accept", "application/json");
    request.setRequestHeader("x-csrf-token", document.querySelector('meta[name="csrf"]').content);
    if (typeof body === "string") request.setRequestHeader("content-type", "application/json");
    else if (body) request.setRequestHeader("content-type", "application/octet-stream");
    if (onProgress) request.upload.addEventListener("progress", (event) => onProgress(event.loaded));
    request.addEventListener("load", () => {
      let said = {};
      try { said = JSON.parse(request.responseText || "{}"); } catch { /* told below */ }
      if (request.status < 300) resolve(said);
      else if (FOR_GOOD.has(request.status) || (request.status === 409 && method === "POST")) {
        reject(new Refused([said.detail || "This was refused.", said.remedy].filter(Boolean).join(" ")));
      } else reject(new Error(said.detail || `The server answered ${request.status}.`));
    });
    for (const name of ["error", "abort", "timeout"]) request.addEventListener(name, () => reject(new Error("The server does not answer.")));
    each.stop = () => request.abort();
    request.send(body ?? null);
  });
}

async function takeBack(each) {
  if (!each.id || each.whole) return;
  try { await call({}, "DELETE", `/api/v1/uploads/${each.id}`); } catch { /* it is swept up later */ }
}

function pause(each, milliseconds) {
  return new Promise((resolve) => {
    const timer = setTimeout(resolve, milliseconds);
    addEventListener("online", () => { clearTimeout(timer); resolve(); }, { once: true });
    each.stop = () => { clearTimeout(timer); resolve(); };
  });
}

async function dropped(transfer) {
  const entries = [...transfer.items].map((item) => item.webkitGetAsEntry?.()).filter(Boolean);
  if (!entries.length) return [...transfer.files];
  return (await Promise.all(entries.map(below))).flat();
}

async function below(entry) {
  if (entry.isFile) return [await new Promise((resolve, reject) => entry.file(resolve, reject))];
  const reader = entry.createReader();
  const found = [];
  for (;;) {
    const some = await new Promise((resolve, reject) => reader.readEntries(resolve, reject));
    if (!some.length) break;
    found.push(...some);
  }
  const visible = found.filter((each) => !each.name.startsWith("."));
  return (await Promise.all(visible.map(below))).flat();
}

function make(name, className = "") {
  const element = document.createElement(name);
  if (className) element.className = className;
  return element;
}

function say(state, words, seen = false) {
  state.said.textContent = words;
  if (seen) state.said.className = "error";
}

function size(bytes) {
  return bytes < 1e6 ? `${Math.ceil(bytes / 1e3)} kB` : `${(bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0)} MB`;
}
