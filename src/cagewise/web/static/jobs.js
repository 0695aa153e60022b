/* Follows the jobs of a page: every element with data-job="NUMBER".

   Inside it: progress, .progress-words, [data-state]. When the job is done the page goes to data-then
   (an address; empty: to what came of the job, if it says so). With data-reload the page is loaded
   again at any other end. Elements may be added later: call follow(element). */

const WORDS = { waiting: "waits", running: "goes on", done: "done", failed: "failed", cancelled: "cancelled" };
const AGAIN_MS = 2000;
const MOST = 20;
const followed = new Map();
let stream = null;
let timer = null;

export function follow(element, onEnd) {
  followed.set(Number(element.dataset.job), { element, onEnd });
  listen();
}

function listen() {
  stop();
  if (document.hidden || !followed.size) return;
  const ids = [...followed.keys()].slice(0, MOST).map((id) => `id=${id}`).join("&");
  stream = new EventSource(`/api/v1/jobs/events?${ids}`);
  stream.addEventListener("job", (event) => show(JSON.parse(event.data)));
  stream.addEventListener("error", () => {
    if (stream && stream.readyState === EventSource.CLOSED) ask();  // refused: ask now and then
  });
}

function stop() {
  stream?.close();
  stream = null;
  clearTimeout(timer);
}

async function ask() {
  stop();
  for (const id of [...followed.keys()]) {
    try {
      const answer = await fetch(`/api/v1/jobs/${id}`, { headers: { accept: "application/json" } });
      if (answer.ok) show(await answer.json());
      else if (answer.status === 404) followed.delete(id);
    } catch { /* the server is away; it is asked again */ }
  }
  if (followed.size) timer = setTimeout(ask, AGAIN_MS);
}

function show(job) {
  const found = followed.get(job.id);
  if (!found) return;
  const { element, onEnd } = found;
  const ending = job.cancel_asked && job.state === "running";
  say(element.querySelector("[data-state]"), ending ? "is being ended" : WORDS[job.state]);
  say(element.querySelector(".progress-words"), job.fault ? `${job.fault.what}. ${job.fault.remedy}` : job.words);
  const bar = element.querySelector("progress");
  if (bar) {
    if (job.progress === null && job.state === "running") bar.removeAttribute("value");
    else bar.value = job.progress ?? 0;
  }
  if (["done", "failed", "cancelled"].includes(job.state)) ended(job, element, onEnd);
}

function ended(job, element, onEnd) {
  followed.delete(job.id);
  if (!followed.size) stop();
  if (onEnd) onEnd(job);
  else if (job.state === "done" && (element.dataset.then || job.see) && "then" in element.dataset) {
    location.assign(element.dataset.then || job.see);
  } else if ("reload" in element.dataset) location.reload();
}

function say(element, words) {
  if (element && element.textContent !== words) element.textContent = words;
}

for (const element of document.querySelectorAll("[data-job]")) followed.set(Number(element.dataset.job), { element });
document.addEventListener("visibilitychange", () => (document.hidden ? stop() : listen()));
listen();
