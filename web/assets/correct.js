// Takes a report back from the log page.
"use strict";
import { guard, refresh } from "./live.js";

const ask = document.getElementById("void");
const outcome = document.getElementById("outcome");
const problem = document.getElementById("void-problem");
let target = "", id = "", sending = false;

const newID = () => [...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, "0")).join("");

function initials(value) {
  try {
    if (value === undefined) return localStorage.getItem("towpath-by") || "";
    localStorage.setItem("towpath-by", value);
  } catch { /* private mode keeps nothing */ }
  return "";
}

function say(text, refused) {
  outcome.classList.toggle("refused", refused);
  outcome.querySelector("p").textContent = text;
  outcome.hidden = false;
}

async function send(form) {
  if (sending) return;
  sending = true;
  const by = form.elements.by.value.trim();
  initials(by);
  try {
    const answer = await fetch("/api/report", {
      method: "POST", headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ by, reports: [{ id, kind: "event.voided", data: { event: target, why: form.elements.why.value.trim() } }] }),
    });
    const text = await answer.json();
    ask.close();
    if (answer.ok) say(["✓ Taken back. It stays in the log as taken back.", ...text.notes.map((n) => `${n.about}: ${n.text}`)].join("\n"), false);
    else say(`✕ Not taken back: ${text.message}${text.hint ? "\nWhat to do: " + text.hint : ""}`, true);
    refresh(true);
  } catch {
    problem.textContent = "No connection: nobody knows whether it arrived. Press again; it counts once.";
    problem.hidden = false;
  } finally {
    sending = false;
  }
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  if (button.dataset.void) {
    target = button.dataset.void;
    id = newID();
    document.getElementById("void-what").textContent = button.dataset.what;
    const form = ask.querySelector("form");
    form.elements.why.value = "";
    form.elements.by.value = initials();
    problem.hidden = true;
    outcome.hidden = true;
    ask.showModal();
    form.elements.why.focus();
  }
  if (button.matches("[data-close]")) outcome.hidden = true;
});

ask.querySelector("form").addEventListener("submit", (event) => {
  if (event.submitter && event.submitter.value === "no") return;
  event.preventDefault();
  send(event.target);
});
guard(() => ask.open); // rows stay where they are while somebody decides
