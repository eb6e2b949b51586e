// Puts changes together, tries them, and adopts, renames or drops what was
// tried.
"use strict";
import { asked, problem, say } from "./asked.js";
import { answered } from "./dialog.js";
import { refresh } from "./live.js";

const byId = (id) => document.getElementById(id);

const send = (method, path, body) => asked(method, path, body, wrong);

// wrong says what is wrong, beside the change it is about where there is one.
function wrong(text) {
  const rows = [...document.querySelectorAll(".change-row")];
  const said = new Map();
  const rest = [];
  for (const f of text.rows || []) {
    const node = f.row > 0 && rows[f.row - 1] ? rows[f.row - 1].querySelector(".problem") : f.line > 0 ? byId("whatif-text-problem") : null;
    const line = (f.line > 0 ? `line ${f.line}, ` : "") + (f.field ? `${f.field}: ` : "") + f.message;
    if (!node) { rest.push(line); continue; }
    said.set(node, [...(said.get(node) || []), line]);
  }
  for (const [node, lines] of said) say(node, lines.join("; "));
  if (!said.size) problem(`${text.message} ${text.hint}`);
  else problem([...rest, "Something is wrong with the changes marked above.", text.hint].join(" "));
}

// add makes a row for a kind of change, with its fields filled.
function add(kind, values) {
  const row = byId(`change-${kind}`).content.firstElementChild.cloneNode(true);
  for (const [key, value] of Object.entries(values || {})) {
    const field = row.querySelector(`[data-field="${CSS.escape(key)}"]`);
    field.value = Array.isArray(value) ? value.join(", ") : field.type === "datetime-local" ? String(value).replace(" ", "T") : value;
  }
  byId("whatif-rows").append(row);
  return row;
}

// fits tells whether a row has a field for everything in a change.
function fits(kind, values) {
  const template = byId(`change-${kind}`);
  return template && typeof values === "object" && Object.keys(values).every((key) => template.content.querySelector(`[data-field="${CSS.escape(key)}"]`));
}

function fill(form) {
  for (const change of JSON.parse(form.dataset.rows || "[]")) {
    const [kind, values] = Object.entries(change)[0] || [];
    if (fits(kind, values)) { add(kind, values); continue; }
    const text = byId("whatif-text");
    text.value = `- ${JSON.stringify(change)}\n${text.value}`;
    text.closest("details").open = true;
  }
}

// change is a row as a file of changes has it.
function change(row) {
  const values = {};
  for (const field of row.querySelectorAll("[data-field]")) {
    const text = field.value.trim();
    if (!text) continue;
    if (field.dataset.names) values[field.dataset.field] = text.split(",").map((name) => name.trim()).filter(Boolean);
    else if (field.type === "number") values[field.dataset.field] = Number(text);
    else values[field.dataset.field] = field.type === "datetime-local" ? text.replace("T", " ") : text;
  }
  return { [row.dataset.kind]: values };
}

async function attempt(body, button) {
  button.disabled = true;
  const kept = await send("POST", "/api/whatifs", body);
  button.disabled = false;
  if (kept) location.assign(`/whatif/${encodeURIComponent(kept.id)}`);
}

document.addEventListener("submit", (event) => {
  if (event.target.id !== "whatif") return;
  event.preventDefault();
  document.querySelectorAll("#whatif .problem").forEach((p) => say(p, ""));
  attempt({
    name: byId("whatif-name").value.trim(), note: byId("whatif-note").value.trim(),
    changes: [...document.querySelectorAll(".change-row")].map(change), text: byId("whatif-text").value,
  }, event.submitter || event.target.querySelector("button[type=submit]"));
});

// ask does what a dialog is for when it is answered with yes.
async function ask(dialog, then) {
  if (!await answered(dialog)) return;
  await then();
  refresh(true);
}

document.addEventListener("click", async (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  if (button.id === "whatif-add") add(byId("whatif-kind").value).querySelector("[data-field]").focus();
  else if (button.matches("[data-remove]")) button.closest(".change-row").remove();
  else if (button.dataset.whatifAgain) attempt(JSON.parse(button.dataset.whatifAgain), button);
  else if (button.id === "whatif-adopt") {
    const dialog = byId("adopt-dialog");
    ask(dialog, () => send("POST", dialog.dataset.at, { by: byId("adopt-by").value.trim() }));
  } else if (button.dataset.off) {
    byId("off-name").textContent = button.dataset.name;
    ask(byId("off-dialog"), () => send("POST", button.dataset.off, { by: byId("off-by").value.trim() }));
  } else if (button.id === "whatif-rename") {
    const dialog = byId("rename-dialog");
    ask(dialog, () => send("PATCH", dialog.dataset.at, { name: byId("rename-name").value.trim() }));
  } else if (button.dataset.whatif) {
    button.disabled = true;
    const done = await send(button.dataset.method || "POST", button.dataset.whatif, {});
    button.disabled = false;
    if (done && button.dataset.then) location.assign(button.dataset.then);
    else refresh(true);
  }
});
const form = byId("whatif");
if (form) fill(form);
