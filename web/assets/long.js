// Begins work that takes long, shows how far it is, and gives it up: a button says where to.
"use strict";
import { refresh } from "./live.js";

const problem = (text) => {
  const p = document.getElementById("problem");
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
  const button = event.target.closest("button[data-post]");
  if (!button) return;
  button.disabled = true;
  post(button.dataset.post);
});
setInterval(() => { if (document.querySelector("[data-running]")) refresh(true); }, 1000);
