// Sends what is asked for, says on the page what is wrong with it, and watches
// what takes long.
"use strict";
import { refresh } from "./live.js";

// say puts a sentence where there is room for it; an empty one takes it away.
export const say = (node, text) => {
  if (!node) return;
  node.textContent = text;
  node.hidden = !text;
};

export const problem = (text) => say(document.getElementById("problem"), text);

// asked is the answer; null: there is none, and the page says why.
export async function asked(method, path, body, wrong = (fault) => problem(`${fault.message} ${fault.hint}`)) {
  problem("");
  try {
    const answer = await fetch(path, { method, headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
    const text = await answer.json();
    if (answer.ok) return text;
    wrong(text);
  } catch {
    problem("No connection. Press again.");
  }
  return null;
}

setInterval(() => { if (document.querySelector("[data-running]")) refresh(true); }, 1000);
