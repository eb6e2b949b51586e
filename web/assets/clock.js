// The shop's clock, and the words that depend on it.
"use strict";

let base = 0, speed = 1, from = performance.now();
const zone = () => document.getElementById("main").dataset.zone || "UTC";

export function setClock(now, rate) {
  // A quick shop's clock is only moved for real differences, so that it does
  // not jitter with the network.
  if (Math.abs(now - shopNow()) > 1.5 * Math.max(1, rate) || rate !== speed) {
    base = now; from = performance.now(); speed = rate;
  }
}

export const shopNow = () => base + ((performance.now() - from) / 1000) * speed;

export function span(d) {
  d = Math.abs(d);
  const minutes = Math.floor((Math.floor(d) + 30) / 60);
  const days = Math.floor(minutes / 1440), hours = Math.floor(minutes / 60) % 24, rest = minutes % 60;
  if (minutes === 0 && d >= 1) return "under 1 min";
  if (days && hours) return `${days} d ${hours} h`;
  if (days) return `${days} d`;
  if (hours && rest) return `${hours} h ${String(rest).padStart(2, "0")} min`;
  if (hours) return `${hours} h`;
  return `${minutes} min`;
}

const relative = (d) => (d >= 30 ? `in ${span(d)}` : d <= -30 ? `${span(d)} ago` : "now");

let form = null, formZone = "";
export function write(seconds) {
  if (formZone !== zone()) {
    formZone = zone();
    try {
      form = new Intl.DateTimeFormat("en-GB", { timeZone: formZone, weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
    } catch {
      form = new Intl.DateTimeFormat("en-GB", { timeZone: "UTC", weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
    }
  }
  const p = Object.fromEntries(form.formatToParts(new Date(seconds * 1000)).map((x) => [x.type, x.value]));
  return `${p.weekday} ${p.day} ${p.month.slice(0, 3)} ${p.hour}:${p.minute}`;
}

// How far a zone's clocks are ahead of UTC at an instant, in seconds.
function ahead(seconds) {
  const field = fieldOf(seconds);
  return Date.parse(field + ":00Z") / 1000 - Math.floor(seconds / 60) * 60;
}

// fieldOf is an instant as a form's field takes it, "2026-03-14T06:00", by the
// plant's clock whatever the device's is.
export function fieldOf(seconds) {
  const parts = new Intl.DateTimeFormat("en-GB", { timeZone: zone(), year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", hourCycle: "h23" }).formatToParts(new Date(seconds * 1000));
  const p = Object.fromEntries(parts.map((x) => [x.type, x.value]));
  return `${p.year}-${p.month}-${p.day}T${p.hour}:${p.minute}`;
}

// instantOf reads such a field. Of a time that a change of the clocks repeats the
// first is meant, and one that it leaves out is read as before the change.
export function instantOf(field) {
  const wall = Date.parse(field.slice(0, 16) + ":00Z") / 1000;
  const before = wall - ahead(wall - 86400), after = wall - ahead(wall + 86400);
  return fieldOf(before) !== field.slice(0, 16) && fieldOf(after) === field.slice(0, 16) ? after : before;
}

const put = (el, text) => { if (el.textContent !== text) el.textContent = text; };

export function tick() {
  const now = shopNow();
  put(document.getElementById("clock"), write(now));
  for (const el of document.querySelectorAll("[data-rel]")) put(el, relative(Number(el.dataset.rel) - now));
  for (const el of document.querySelectorAll("[data-left]")) {
    const d = Number(el.dataset.left) - now;
    put(el, span(d) + (d < 0 ? " over" : " left"));
  }
}

const start = document.getElementById("clock").dataset;
base = Number(start.now); speed = Number(start.speed) || 1;
setInterval(tick, 1000);
