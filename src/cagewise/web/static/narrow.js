// Narrows the list of motors while somebody types: the same page, asked for again, its list taken.

const form = document.getElementById("narrow");
const WAIT_MS = 200;
let waiting = 0;
let asking = null;

async function narrow() {
  asking?.abort();
  asking = new AbortController();
  const said = [...new FormData(form)].filter(([, value]) => value !== "");
  const address = `${location.pathname}?${new URLSearchParams(said)}`;
  try {
    const answer = await fetch(address, { signal: asking.signal, headers: { accept: "text/html" } });
    if (!answer.ok || answer.redirected) return form.submit();
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const list = page.getElementById("list");
    if (!list) return form.submit();
    document.getElementById("list").replaceChildren(...list.childNodes);
    history.replaceState(null, "", address);
  } catch (error) {
    if (error.name !== "AbortError") form.submit();
  }
}

function soon() {
  clearTimeout(waiting);
  waiting = setTimeout(narrow, WAIT_MS);
}

if (form) {
  form.addEventListener("input", soon);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    clearTimeout(waiting);
    narrow();
  });
}
