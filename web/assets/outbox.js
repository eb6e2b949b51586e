// Reports that could not be sent yet. They are kept on this device with the
// time they were pressed and their own ids, survive a reload, and go out in
// their order when the network is back. An id counts once, so a report that did
// arrive, though nobody could say so, does no harm.
"use strict";
import { shopNow, write } from "./clock.js";

const key = "towpath-outbox";
const box = document.getElementById("outbox");
const make = (tag, props, ...kids) => {
  const el = Object.assign(document.createElement(tag), props);
  el.append(...kids);
  return el;
};
let sending = false, listener = () => {};

function read() {
  try {
    return JSON.parse(localStorage.getItem(key)) || [];
  } catch {
    return [];
  }
}

// True when it is kept; false where the device keeps nothing.
function save(list) {
  try {
    localStorage.setItem(key, JSON.stringify(list));
    show(list);
    return true;
  } catch {
    return false;
  }
}

export const instant = () => new Date(Math.floor(shopNow()) * 1000).toISOString().replace(/\.\d+/, "");
export const waiting = () => read().filter((item) => !item.refused).length;
// onSent hears, after each flush with an answer, how many were accepted.
export const onSent = (f) => { listener = f; };

// keep takes a request for /api/report whose reports have their ids and times.
export function keep(body, words) {
  return save([...read(), { body, words, refused: "" }]);
}

const forget = (id) => save(read().filter((item) => item.body.reports[0].id !== id));

// flush sends what waits, one after the other, until one cannot be sent. What
// the shop refuses stays in sight until somebody has read it.
export async function flush() {
  if (sending) return;
  sending = true;
  let sent = 0, answered = 0;
  try {
    for (;;) {
      const item = read().find((x) => !x.refused);
      if (!item) break;
      const answer = await fetch("/api/report", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(item.body) });
      const text = await answer.json();
      const id = item.body.reports[0].id;
      if (answer.ok) {
        forget(id);
        sent++;
        answered++;
      } else if (answer.status < 500) {
        save(read().map((x) => (x.body.reports[0].id === id ? { ...x, refused: text.message + (text.hint ? ". What to do: " + text.hint : "") } : x)));
        answered++;
      } else {
        break;
      }
    }
  } catch {
    // Still no network; the next try comes by itself.
  } finally {
    sending = false;
    if (answered) listener(sent);
  }
}

// The end of what was begun without a network can be pressed as well.
function ending(item) {
  const r = item.body.reports[0];
  const kind = { "operation.started": "operation.finished", "load.started": "load.finished" }[r.kind];
  if (!kind || item.body.reports.length > 1) return null;
  const data = kind === "load.finished" ? { load: r.data.load } : { piece: r.data.piece, operation: r.data.operation };
  const same = (x) => x.body.reports.some((y) => y.kind === kind && (y.data.load || y.data.piece) === (data.load || data.piece) && y.data.operation === data.operation);
  return read().some(same) ? null : { kind, station: r.station, data };
}

function row(item) {
  const r = item.body.reports[0];
  const li = make("li", {}, make("span", { textContent: `${item.words}, ${write(Date.parse(r.at) / 1000)}` }));
  if (item.refused) {
    li.classList.add("refused");
    li.append(make("p", { textContent: "✕ Not accepted: " + item.refused }));
    const ok = make("button", { type: "button", textContent: "I have seen it" });
    ok.addEventListener("click", () => forget(r.id));
    li.append(ok);
    return li;
  }
  const end = ending(item);
  if (end) {
    const done = make("button", { type: "button", className: "quiet", textContent: "✓ Finished now" });
    done.addEventListener("click", () => {
      keep({ by: item.body.by, reports: [{ ...end, id: newID(), at: instant() }] }, "Finish: " + (r.data.piece || r.data.load));
      flush();
    });
    li.append(done);
  }
  return li;
}

// getRandomValues, unlike randomUUID, also works without https.
export const newID = () => [...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, "0")).join("");

function show(list) {
  const open = list.filter((x) => !x.refused).length;
  box.hidden = !list.length;
  box.querySelector("p").textContent = open
    ? `◆ ${open} ${open === 1 ? "report waits" : "reports wait"} on this device for the network. ${open === 1 ? "It goes" : "They go"} out by themselves.`.replace("goes out by themselves", "goes out by itself")
    : "Reports from while there was no network:";
  box.querySelector("ul").replaceChildren(...list.map(row));
}

show(read());
flush();
window.addEventListener("online", flush);
window.addEventListener("storage", (event) => { if (event.key === key) show(read()); });
setInterval(() => { if (waiting()) flush(); }, 5000);
