// Asks for the plan to be played forward, shows how far that is, and gives it up.
"use strict";
import { refresh } from "./live.js";

const problem = (text) => {
  const p = document.getElementById("risk-problem");
  if (!p) return;
  p.textContent = text;
  p.hidden = !text;
};

async function post(path) {
  problem("");
  try {
    const answer = await fetch(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: "{}" });
    if (!answer.ok) {
      const fault = await answer.json();
      problem(`${fault.message} ${fault.hint}`);
    }
  } catch {
    problem("No connection. Press again.");
  }
  refresh(true);
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-risk]");
  if (!button) return;
  button.disabled = true;
  post(button.dataset.risk);
});
setInterval(() => { if (document.querySelector("[data-running]")) refresh(true); }, 1000);
