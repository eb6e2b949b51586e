// When a changeover began: kept on this device until the start is reported,
// which tells it. Times are learned from that. A device that keeps nothing, as in
// private mode, remembers it until the page is left.
"use strict";
import { shopNow, write } from "./clock.js";

const shelf = "towpath-changeovers";
const keeps = 24 * 3600, least = 5; // seconds
let here = null; // what was pressed on a device that keeps nothing

function kept() {
  if (here) return here;
  try { return JSON.parse(localStorage.getItem(shelf)) || {}; } catch { return {}; }
}

function all() {
  return Object.fromEntries(Object.entries(kept()).filter(([, at]) => Number.isFinite(at) && at > shopNow() - keeps));
}

function save(list) {
  try { localStorage.setItem(shelf, JSON.stringify(list)); } catch { here = list; }
}

// When the changeover for a job began, in seconds; undefined: nobody said, or
// only just now.
export function begun(job) {
  const at = all()[job];
  return at !== undefined && at <= shopNow() - least ? at : undefined;
}

export function forget(job) {
  const list = all();
  delete list[job];
  save(list);
}

function show() {
  const list = all();
  for (const button of document.querySelectorAll("[data-setup]")) {
    const at = list[button.dataset.setup];
    button.setAttribute("aria-pressed", String(at !== undefined));
    button.querySelector("span:last-child").textContent = at === undefined ? "Changeover begins" : `Changeover since ${write(at).slice(-5)}`;
  }
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-setup]");
  if (!button) return;
  const list = all(), job = button.dataset.setup;
  if (list[job] === undefined) list[job] = Math.floor(shopNow());
  else delete list[job]; // pressed again: it was not meant
  save(list);
  show();
});
document.addEventListener("patched", show);
show();
