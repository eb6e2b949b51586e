// Changes a part of the page into a newer version of itself, element by
// element, so that focus, scroll, opened details and half-typed text stay.
"use strict";

const keyOf = (node) => (node.nodeType === 1 ? node.getAttribute("data-key") || node.id || null : null);

function attributes(old, fresh) {
  for (const { name } of [...old.attributes]) {
    if (!fresh.hasAttribute(name) && name !== "open") old.removeAttribute(name);
  }
  for (const { name, value } of fresh.attributes) {
    if (name === "open") continue; // the reader decides what is open
    if (old.getAttribute(name) !== value) old.setAttribute(name, value);
  }
}

function children(old, fresh) {
  const keyed = new Map();
  for (const node of old.childNodes) {
    const key = keyOf(node);
    if (key) keyed.set(key, node);
  }
  let at = old.firstChild;
  for (const want of [...fresh.childNodes]) {
    const key = keyOf(want);
    let have = key ? keyed.get(key) : null;
    if (!have && !key) {
      have = at;
      while (have && keyOf(have)) have = have.nextSibling;
      if (have && have.nodeName !== want.nodeName) have = null;
    }
    if (have && have.nodeName === want.nodeName) {
      if (have === at) at = at.nextSibling;
      else old.insertBefore(have, at);
      keyed.delete(key);
      patch(have, want);
    } else {
      old.insertBefore(document.importNode(want, true), at);
    }
  }
  while (at) {
    const next = at.nextSibling;
    at.remove();
    at = next;
  }
}

export function patch(old, fresh) {
  if (old.nodeType !== 1) {
    if (old.nodeValue !== fresh.nodeValue) old.nodeValue = fresh.nodeValue;
    return;
  }
  if (old.hasAttribute("data-keep")) return;
  if (old.isEqualNode(fresh)) return;
  const busy = old === document.activeElement && /^(INPUT|SELECT|TEXTAREA)$/.test(old.nodeName);
  if (busy) return;
  attributes(old, fresh);
  if (!/^(INPUT|SELECT|TEXTAREA)$/.test(old.nodeName)) children(old, fresh);
}
