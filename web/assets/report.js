// The operator's buttons: ask, send, say what became of it.
"use strict";
import { guard, refresh, apply } from "./live.js";
import { shopNow, write } from "./clock.js";
import { blank, filled } from "./blanks.js";
import { begun, forget } from "./setup.js";
import { flush, instant, keep, newID, onSent, waiting } from "./outbox.js";

const ask = document.getElementById("ask");
const choose = document.getElementById("choose");
const outcome = document.getElementById("outcome");
const changed = document.getElementById("changed");
const $ = (root, selector) => root.querySelector(selector);
let action = null, job = "", setup, ids = [], pressed = "", sending = false, touched = 0, expecting = 0, held = null, undo = [];

const make = (tag, props, ...kids) => {
  const el = Object.assign(document.createElement(tag), props);
  el.append(...kids);
  return el;
};

function memory(value) {
  try {
    if (value === undefined) return localStorage.getItem("towpath-by") || "";
    localStorage.setItem("towpath-by", value);
  } catch { /* private mode keeps nothing */ }
  return "";
}

function open(next, of) {
  action = next;
  job = of;
  setup = action.key === "start" ? begun(job) : undefined;
  ids = action.reports.map(newID); // kept while the same press is tried again
  pressed = "";
  outcome.hidden = true;
  $(ask, "h2").textContent = action.ask;
  const since = setup === undefined ? [] : [{ name: "Changeover since", value: write(setup) }];
  $(ask, "#ask-detail").replaceChildren(...[...since, ...action.detail].map((d) =>
    make("div", {}, make("dt", { textContent: d.name }), make("dd", { textContent: d.value }))));
  const fields = action.fields || [];
  $(ask, "#ask-fields").hidden = !fields.length;
  $(ask, "#ask-fields .measures").replaceChildren(...fields.map(measure));
  const blanks = action.blanks || [], data = action.reports[0].data;
  $(ask, "#ask-blanks").hidden = !blanks.length;
  $(ask, "#ask-blanks").replaceChildren(...blanks.map((b) => blank(b, data[b.field])));
  const [reason, words] = said(data.why || "");
  $(ask, "#ask-mind").hidden = !action.mind;
  $(ask, "#ask-mind").textContent = action.mind || "";
  $(ask, "#ask-reasons").hidden = !action.reasons.length;
  $(ask, "#ask-reasons .chips").replaceChildren(...action.reasons.map((r) =>
    make("label", {}, make("input", { type: "radio", name: "reason", value: r, defaultChecked: r === reason }), make("span", { textContent: r }))));
  $(ask, "#ask-until").hidden = !action.until;
  $(ask, "[name=why]").value = words;
  $(ask, "[name=until]").checked = true;
  $(ask, "[name=by]").value = memory();
  $(ask, "#ask-problem").hidden = true;
  $(ask, ".yes").textContent = "Yes: " + action.word;
  $(ask, ".yes").disabled = false;
  ask.showModal();
  $(ask, fields.length ? ".measures input" : blanks.length ? "#ask-blanks :is(input, select)" : ".yes").focus();
}

// said takes a reason apart into the usual one it begins with and other words.
function said(why) {
  const reason = action.reasons.find((r) => why === r || why.startsWith(r + ": ")) || "";
  return [reason, reason ? why.slice(reason.length + 2) : why];
}

// One quantity: its name and limit, an input for the numbers, and the unit.
function measure(f) {
  const unit = make("select", { name: "unit-" + f.of, ariaLabel: "unit of " + f.label }, ...f.units.map((u) => make("option", { value: u, textContent: u })));
  const input = make("input", { type: "text", name: "value-" + f.of, inputMode: "decimal", autocomplete: "off", required: true });
  const about = make("span", {}, f.label, ...(f.limit ? [make("small", { className: "soft", textContent: " " + f.limit })] : []));
  return make("label", { className: "measure" }, about, input, unit);
}

// Numbers as people write them: a comma is a decimal point, a space or a
// semicolon comes between two. null: something is no number.
function numbers(text) {
  const all = text.trim().split(/[\s;]+/).filter(Boolean).map((t) => Number(t.replace(",", ".")));
  return all.length && all.every(Number.isFinite) ? all : null;
}

function measured(form) {
  return (action.fields || []).map((f) => ({ of: f.of, unit: form.elements["unit-" + f.of].value, values: numbers(form.elements["value-" + f.of].value) }));
}

function facts() {
  const form = ask.querySelector("form");
  const why = [form.elements.reason && form.elements.reason.value, form.elements.why.value.trim()].filter(Boolean).join(": ");
  const until = action.until && Number(form.elements.until.value);
  return action.reports.map((r, i) => {
    const data = { ...r.data };
    if (why && action.reasons.length) data.why = why;
    else if (action.reasons.length) delete data.why;
    if (i === 0) for (const b of action.blanks || []) filled(b, form, data);
    if (r.kind === "result.recorded" && action.fields.length) data.measured = measured(form);
    if (r.kind === "mix.made" && action.fields.length) data.ingredients_g = Object.fromEntries(measured(form).map((m) => [m.of, m.values[0]]));
    if (setup !== undefined && r.kind.endsWith(".started")) data.setup = new Date(setup * 1000).toISOString().replace(/\.\d+/, "");
    if (until) data.until = new Date((Math.round(shopNow()) + until) * 1000).toISOString().replace(/\.\d+/, "");
    return { id: ids[i], kind: r.kind, station: r.station, data };
  });
}

async function post(body) {
  const answer = await fetch("/api/report", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
  // With trouble of the shop's own nobody knows what became of the report, as
  // without a network; only what it says of the report itself is an answer.
  if (answer.status >= 500) return Promise.reject(new Error(unanswered));
  const text = await answer.json();
  return { ok: answer.ok, text };
}

const unanswered = "The shop does not answer now";
const lost = (err) => (err.message === unanswered ? unanswered : "No connection");

function say(text, refused, back, kept = false) {
  outcome.classList.toggle("refused", refused);
  outcome.classList.toggle("kept", kept);
  $(outcome, "p").textContent = text;
  undo = back || [];
  $(outcome, "[data-back]").hidden = !undo.length;
  outcome.hidden = false;
}

async function send() {
  if (sending) return;
  const wrong = measured(ask.querySelector("form")).find((m) => !m.values);
  if (wrong) {
    const problem = $(ask, "#ask-problem");
    problem.textContent = `${wrong.of.replaceAll("_", " ")}: enter numbers, like 12.5; a space between several.`;
    problem.hidden = false;
    $(ask, `[name="value-${wrong.of}"]`).focus();
    return;
  }
  sending = true;
  pressed = pressed || instant();
  const by = $(ask, "[name=by]").value.trim();
  memory(by);
  const yes = $(ask, ".yes");
  yes.disabled = true;
  yes.textContent = "Sending …";
  const body = { by, reports: facts() };
  const later = { by, reports: body.reports.map((r) => ({ ...r, at: pressed })) };
  try {
    if (waiting()) await flush(); // what was pressed before goes first
    if (waiting()) throw new Error("behind what waits");
    const got = await post(body);
    ask.close();
    if (got.ok) {
      forget(job);
      expecting = Date.now();
      const notes = got.text.notes.map((n) => n.text).join("\n");
      say(`✓ Recorded ${write(Date.parse(got.text.at) / 1000)}: ${got.text.repeat ? "known already; it counts once" : got.text.said}${notes ? "\n" + notes : ""}`, false, got.text.repeat ? [] : ids.map((event) => ({ event, id: newID() })));
    } else {
      say(`✕ Not accepted: ${got.text.message}${got.text.hint ? "\nWhat to do: " + got.text.hint : ""}`, true);
    }
    refresh(true);
  } catch (err) {
    if (keep(later, `${action.word}: ${about(body.reports[0].data)}`)) {
      ask.close();
      forget(job);
      say(err.message === unanswered
        ? `◆ ${unanswered}. Your report is kept on this device with its time and goes out by itself when it does.`
        : "◆ No connection. Your report is kept on this device with its time and goes out by itself when the network is back.", false, [], true);
      return;
    }
    const problem = $(ask, "#ask-problem");
    problem.textContent = lost(err) + ": nobody knows whether the report arrived. Press again; it counts once.";
    problem.hidden = false;
    yes.disabled = false;
    yes.textContent = "Try again";
  } finally {
    sending = false;
  }
}

const about = (data) => data.piece || data.load || data.mix || data.unit || data.crew || document.querySelector(".bench").dataset.station;

onSent((n) => {
  expecting = Date.now();
  // What was refused is told with its reason where it was kept.
  if (!n && outcome.classList.contains("kept") && !waiting()) outcome.hidden = true;
  if (n) say(`✓ ${n === 1 ? "The report" : n + " reports"} from while there was no network: recorded.`, false);
  refresh(true);
});

async function takeBack() {
  const bench = $(document, ".bench");
  const station = bench ? bench.dataset.station : undefined;
  const back = undo;
  outcome.hidden = true;
  try {
    const got = await post({ by: memory(), reports: [...back].reverse().map(({ event, id }) => ({ id, kind: "event.voided", station, data: { event, why: "taken back by the operator" } })) });
    if (got.ok) say("✓ Taken back. It stays in the log as taken back.", false);
    else say(`✕ Not taken back: ${got.text.message}${got.text.hint ? "\nWhat to do: " + got.text.hint : ""}`, true);
    expecting = Date.now();
    refresh(true);
  } catch (err) {
    say(`✕ ${lost(err)}: nobody knows whether it was taken back. Press again; it counts once.`, true, back);
  }
}

ask.querySelector("form").addEventListener("submit", (event) => {
  if (event.submitter && event.submitter.value === "no") return;
  event.preventDefault();
  send();
});
// Enter in a text field must not send before everything was read.
ask.addEventListener("keydown", (event) => {
  if (event.key === "Enter" && event.target.matches("input:not([type=radio])")) event.preventDefault();
});
ask.addEventListener("change", (event) => {
  if (event.target.name === "reason") $(ask, "#ask-problem").hidden = true;
});

document.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  if (button.dataset.does) open(JSON.parse(button.dataset.does), button.dataset.job);
  if (button.dataset.trouble) {
    $(choose, ".choices").replaceChildren(...JSON.parse(button.dataset.trouble).map((t) => {
      const b = make("button", { type: "button", textContent: t.word });
      b.addEventListener("click", () => { choose.close(); open(t); });
      return b;
    }));
    choose.showModal();
  }
  if (button.matches("[data-close]")) outcome.hidden = true;
  if (button.matches("[data-back]")) takeBack();
  if (button.matches("[data-show]") && held) showHeld();
});

// What is on the glass stays there while somebody works with it: other jobs
// are offered, not put under a finger on its way down.
const quiet = 45000;
for (const kind of ["pointerdown", "keydown"]) document.addEventListener(kind, () => { touched = Date.now(); }, { passive: true, capture: true });

function showHeld() {
  changed.hidden = true;
  if (held) apply(held);
  held = null;
}

guard((fresh) => {
  const key = document.getElementById("main").dataset.hold;
  const same = fresh.dataset.hold === key;
  if (ask.open || choose.open) { held = same ? held : fresh; return true; }
  if (same || Date.now() - expecting < 4000 || Date.now() - touched > quiet) {
    held = null;
    changed.hidden = true;
    return false;
  }
  held = fresh;
  changed.hidden = false;
  return true;
});
setInterval(() => { if (held && !ask.open && !choose.open && Date.now() - touched > quiet) showHeld(); }, 1000);
