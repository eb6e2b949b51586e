// Begins work that takes long, and gives it up: a button says where to.
"use strict";
import { asked } from "./asked.js";
import { refresh } from "./live.js";

document.addEventListener("click", async (event) => {
  const button = event.target.closest("button[data-post]");
  if (!button) return;
  button.disabled = true;
  await asked("POST", button.dataset.post, {});
  refresh(true);
});
