// The examination page: what is advised follows the costs as they are typed.

const form = document.querySelector("#stakes");
const WAIT_MS = 200;
let waiting = 0;
let running = null;

function stated() {
  const given = new FormData(form);
  const number = (name) => (given.get(name) === "" ? null : Number(given.get(name)));
  return {
    level: given.get("level"),
    spare: given.get("spare") === "true",
    false_pull_cost: number("false_pull_cost"),
    miss_cost: number("miss_cost"),
    next_outage: given.get("next_outage") || null,
  };
}

async function ask() {
  running?.abort();
  running = new AbortController();
  const answer = await fetch(form.dataset.adviceUrl, {
    method: "POST",
    headers: {
      "Content-Type": "application/json",
      "X-CSRF-Token": document.querySelector('meta[name="csrf"]').content,
    },
    body: JSON.stringify(stated()),
    signal: running.signal,
  });
  if (!answer.ok) return;
  const advice = await answer.json();
  document.querySelector('[data-advice="action"]').textContent = advice.action;
  const notes = advice.notes.map((text) => {
    const line = document.createElement("p");
    line.className = "soft";
    line.textContent = text;
    return line;
  });
  document.querySelector('[data-advice="notes"]').replaceChildren(...notes);
  const costs = new DOMParser().parseFromString(advice.costs_html, "text/html");
  document.querySelector('[data-advice="costs"]').replaceChildren(...costs.body.childNodes);
}

function later() {
  clearTimeout(waiting);
  waiting = setTimeout(() => ask().catch((error) => {
    if (error.name !== "AbortError") throw error;
  }), WAIT_MS);
}

if (form) {
  form.addEventListener("input", later);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    later();
  });
}

// A reading named in the address is opened, so that it can be sent to somebody.
const named = location.hash.startsWith("#reading-") && document.querySelector(location.hash);
if (named) named.open = true;
