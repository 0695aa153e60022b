/* A visit: takes a proposal of roles into the table; forgets the draft of a sheet that is kept. */
for (const form of document.querySelectorAll("form[data-roles]")) {
  const button = form.querySelector("[data-take]");
  if (!button) continue;
  button.hidden = false;
  button.addEventListener("click", () => {
    const rows = [...form.querySelectorAll("tr[data-offered]")];
    const given = new Set(rows.map((row) => parts(row.dataset.offered).role));
    for (const row of form.querySelectorAll("tr[data-channel]:not([data-offered])")) {
      const select = row.querySelector("select");
      if (given.has(select.value) && !["other", "unassigned"].includes(select.value)) select.value = "unassigned";
    }
    for (const row of rows) {
      const { role, turned, factor } = parts(row.dataset.offered);
      row.querySelector("select").value = role;
      row.querySelector('input[type="checkbox"]').checked = turned;
      row.querySelector(".factor").value = factor;
      row.classList.add("chosen");
    }
    form.querySelector("button:not([data-take])").focus();
  });
}

/* "-i_b*60" */
function parts(text) {
  const [, minus, role, factor] = text.match(/^(-?)([a-z_]+)(?:\*(.+))?$/);
  return { role, turned: minus === "-", factor: factor ?? "1" };
}

const kept = document.querySelector("[data-sheet-kept]");
if (kept) {
  try {
    for (const key of Object.keys(localStorage)) {
      if (key.startsWith(`cagewise sheet ${kept.dataset.sheetKept} `)) localStorage.removeItem(key);
    }
  } catch { /* no storage: there is no draft */ }
}
