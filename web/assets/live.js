// Hears of news over the live stream and fetches the page's changing part.
"use strict";
import { patch } from "./patch.js";
import { setClock, shopNow, tick, write } from "./clock.js";

const main = () => document.getElementById("main");
const link = document.getElementById("link");
const gone = document.getElementById("gone");
let stream = null, lastFetch = Date.now(), fetching = null, again = false, wanted = 0, retry = 0;

// Others may ask for a postponement: guards return true to hold a new version.
const guards = [];
export const guard = (f) => guards.push(f);

function connected(state, word) {
  link.dataset.link = state;
  link.textContent = word;
  if (state === "live") { gone.hidden = true; return; }
  if (state === "gone" && gone.hidden) {
    document.getElementById("gone-since").textContent = write(shopNow());
    gone.hidden = false;
  }
}

function address() {
  const url = new URL(location.href);
  url.searchParams.set("fragment", "1");
  url.hash = "";
  return url;
}

export async function refresh(force) {
  if (fetching) { again = true; return; }
  fetching = new AbortController();
  const timer = setTimeout(() => fetching && fetching.abort(), 20000);
  try {
    const answer = await fetch(address(), { signal: fetching.signal, headers: { Accept: "text/html" } });
    const text = await answer.text();
    const fresh = new DOMParser().parseFromString(text, "text/html").getElementById("main");
    lastFetch = Date.now();
    if (fresh && (answer.ok || answer.status === 404)) {
      setClock(Number(fresh.dataset.now), Number(fresh.dataset.speed) || 1);
      if (force || !guards.some((g) => g(fresh))) apply(fresh);
    }
  } catch {
    // The stream tells whether the connection is gone.
  } finally {
    clearTimeout(timer);
    fetching = null;
    if (again) { again = false; setTimeout(refresh, 200); }
  }
}

export function apply(fresh) {
  patch(main(), fresh);
  const count = document.getElementById("alert-count");
  count.textContent = fresh.dataset.alerts;
  count.hidden = fresh.dataset.alerts === "0";
  tick();
  document.dispatchEvent(new CustomEvent("patched"));
}

function open() {
  if (stream || document.hidden) return;
  stream = new EventSource("/live");
  stream.addEventListener("picture", (event) => {
    const sign = JSON.parse(event.data);
    retry = 0;
    connected("live", "live");
    setClock(Date.parse(sign.now) / 1000, sign.speed);
    wanted = sign.version;
    // Words like "over time" change with the clock alone, so now and then a
    // page is fetched without news.
    if (String(wanted) !== main().dataset.version || Date.now() - lastFetch > 25000) refresh();
  });
  stream.addEventListener("error", () => {
    connected("gone", "not connected");
    if (stream && stream.readyState === EventSource.CLOSED) {
      close();
      setTimeout(open, Math.min(30000, 1000 * 2 ** retry++));
    }
  });
}

function close() {
  if (stream) stream.close();
  stream = null;
}

// A hidden page gives its connection back: browsers allow few to one host.
document.addEventListener("visibilitychange", () => {
  if (document.hidden) { close(); return; }
  open();
  refresh();
});
window.addEventListener("pagehide", close);
window.addEventListener("pageshow", open);

document.addEventListener("change", (event) => {
  if (event.target.matches("[data-submit]")) event.target.form.requestSubmit();
});
open();
tick();
