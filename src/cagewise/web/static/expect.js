/* What if: the ranges choose one of the answers that the page holds already. */
const form = document.getElementById("what-if");
const said = document.getElementById("said");

function show() {
  const { bars, load } = form.elements;
  for (const section of document.querySelectorAll(".at-load")) {
    section.hidden = section.dataset.load !== load.value;
    for (const answer of section.querySelectorAll("[data-bars]")) answer.hidden = answer.dataset.bars !== bars.value;
  }
  for (const row of document.querySelectorAll("#expected tr[data-load]")) {
    row.classList.toggle("asked", row.dataset.load === load.value && row.dataset.bars === bars.value);
  }
  const title = document.getElementById(`load-${load.value}`).textContent;
  const percent = title.match(/At (\d+) %/)[1];
  form.querySelector('output[for="bars"]').textContent = bars.value;
  form.querySelector('output[for="load"]').textContent = `${percent} %`;
  bars.setAttribute("aria-valuetext", `${bars.value} open bars`);
  load.setAttribute("aria-valuetext", `${percent} % load`);
  const answers = [...document.querySelectorAll(".at-load:not([hidden]) [data-bars]:not([hidden])")];
  said.textContent = `${bars.value} open bars. ${title}. ${answers.map((each) => `${each.firstElementChild.textContent}: ${each.lastElementChild.textContent}`).join("; ")}`;
  history.replaceState(null, "", `?bars=${bars.value}&load=${load.value}`);
}

form.addEventListener("input", show);
form.addEventListener("submit", (event) => event.preventDefault());
