// Asks for a date, keeps its capacity, confirms a promise or lets it go.
"use strict";
import { asked, problem } from "./asked.js";
import { answered } from "./dialog.js";
import { refresh } from "./live.js";

const asking = (text) => { document.getElementById("promise-asking").textContent = text; };

const value = (id) => document.getElementById(id).value.trim();

async function ask(form) {
  form.inert = true; // with the answer comes another form: what is typed now would be lost
  asking("Looking for the earliest shipment that breaks no promise …");
  const question = await asked("POST", "/api/questions", {
    product: value("ask-product"), quantity: Number(value("ask-quantity")), wish: value("ask-wish"),
    confidence: Number(value("ask-confidence")) / 100, customer: value("ask-customer"),
    kind: value("ask-kind"), weight: Number(value("ask-weight")), hold_s: Number(value("ask-hold")),
  });
  asking("");
  if (!question) {
    form.inert = false;
    if (at) document.getElementById(at).focus();
    return;
  }
  history.pushState(null, "", `/promise?question=${encodeURIComponent(question.id)}`);
  refresh(true);
}

document.addEventListener("submit", (event) => {
  if (event.target.id !== "ask") return;
  event.preventDefault();
  ask(event.target);
});

async function attempt(button) {
  button.disabled = true;
  const kept = await asked("POST", "/api/whatifs", JSON.parse(button.dataset.attempt));
  button.disabled = false;
  if (kept) location.assign(`/whatif/${encodeURIComponent(kept.id)}`);
}

// named asks for the customer of a promise that has none; null: not confirmed.
async function named(promise) {
  const field = document.getElementById("confirm-customer");
  document.getElementById("confirm-what").textContent = promise;
  field.value = "";
  const yes = answered(document.getElementById("confirm"));
  field.focus();
  return await yes ? field.value.trim() : null;
}

document.addEventListener("click", async (event) => {
  const button = event.target.closest("button[data-promise], button[data-attempt]");
  if (!button) return;
  if (button.dataset.attempt) {
    attempt(button);
    return;
  }
  const body = {};
  if (button.dataset.nameless) {
    body.customer = await named(button.dataset.nameless);
    if (body.customer === null) return;
  }
  button.disabled = true;
  if (button.dataset.shipBy) body.ship_by = button.dataset.shipBy;
  if (button.dataset.alternative) body.alternative = Number(button.dataset.alternative);
  if (!button.dataset.promise.endsWith("/stop")) body.by = value("ask-by");
  await asked("POST", button.dataset.promise, body);
  button.disabled = false;
  refresh(true);
});

// The form is another one for each question, so that what it says belongs to the
// answer below it. Who asks stays, and so does the place one was at.
let form = document.getElementById("ask"), at = "";
document.addEventListener("focusin", ({ target }) => { at = target.closest("#ask") ? target.id : ""; });
document.addEventListener("patched", () => {
  const now = document.getElementById("ask");
  if (now === form) return;
  if (form && now) document.getElementById("ask-by").value = form.querySelector("#ask-by").value;
  form = now;
  if (!form) return;
  if (at && document.activeElement === document.body) document.getElementById(at).focus();
});

window.addEventListener("popstate", () => {
  problem("");
  refresh(true);
});
