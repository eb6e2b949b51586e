// Details of a block, and keys for moving along the axis.
"use strict";

const detail = () => document.getElementById("detail");
const axis = () => document.querySelector(".lineup");
let shown = null;

function hide() {
  detail().hidden = true;
  document.querySelectorAll(".block.shown").forEach((b) => b.classList.remove("shown"));
  shown = null;
}

function show(block) {
  hide();
  shown = block;
  block.classList.add("shown");
  const title = document.createElement("h2");
  title.textContent = block.dataset.title;
  const text = document.createElement("p");
  text.textContent = block.dataset.text;
  const pieces = document.createElement("p");
  pieces.className = "soft";
  pieces.textContent = block.dataset.pieces;
  const buttons = document.createElement("div");
  buttons.className = "buttons";
  if (!block.getAttribute("href").startsWith("#")) { // else it leads nowhere
    const go = document.createElement("a");
    go.className = "button";
    go.href = block.getAttribute("href");
    go.textContent = "Open";
    buttons.append(go);
  }
  const close = document.createElement("button");
  close.type = "button";
  close.className = "quiet";
  close.textContent = "Close";
  close.addEventListener("click", () => { const b = shown; hide(); if (b) b.focus(); });
  buttons.append(close);
  detail().replaceChildren(title, text, pieces, buttons);
  detail().hidden = false;
}

document.addEventListener("click", (event) => {
  const block = event.target.closest("[data-block]");
  if (!block || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  show(block);
});

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && !detail().hidden) { hide(); return; }
  if (event.target.closest("input, select, textarea") || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === "+" || event.key === "-" || event.key === "=") {
    const links = [...document.querySelectorAll("[data-zoom]")];
    const at = links.findIndex((a) => a.hasAttribute("aria-current"));
    const next = links[at + (event.key === "-" ? 1 : -1)];
    if (next) next.click();
  }
  const box = axis();
  if (box && box.contains(event.target) && (event.key === "ArrowLeft" || event.key === "ArrowRight")) {
    const right = event.key === "ArrowRight";
    const end = right ? box.scrollLeft + box.clientWidth >= box.scrollWidth - 2 : box.scrollLeft <= 1;
    if (end) {
      event.preventDefault();
      document.querySelector(`[data-move=${right ? "later" : "earlier"}]`).click();
    }
  }
});
