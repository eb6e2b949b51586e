// What a person fills in of a report, beside why: one field of its data each.
"use strict";
import { fieldOf, instantOf } from "./clock.js";

const make = (tag, props, ...kids) => {
  const el = Object.assign(document.createElement(tag), props);
  el.append(...kids);
  return el;
};
const seconds = (text) => Date.parse(text) / 1000;

// blank makes the input of a field that begins with a value.
export function blank(b, value) {
  const name = "blank-" + b.field;
  if (b.type === "choice") {
    return line(b, make("select", { name }, ...b.usual.map((u) => make("option", { value: u.key, textContent: u.word, defaultSelected: u.key === (value || "") }))));
  }
  if (b.type === "number") {
    const input = make("input", { type: "number", name, min: 1, max: b.most, step: 1, required: true, autocomplete: "off", defaultValue: value });
    return line(b, input, make("span", { className: "soft", textContent: "of " + b.most }));
  }
  const input = make("input", { type: "datetime-local", name, required: !b.empty, defaultValue: value ? fieldOf(seconds(value)) : "" });
  const chips = [...(b.empty ? [{ key: "", word: b.empty }] : []), ...b.usual].map((u) => {
    const field = u.key ? fieldOf(seconds(u.key)) : "";
    const radio = make("input", { type: "radio", name: name + "-usual", value: field });
    radio.addEventListener("change", () => { input.value = field; });
    return make("label", {}, radio, make("span", { textContent: u.word }));
  });
  const show = () => { for (const r of box.querySelectorAll("input[type=radio]")) r.checked = r.value === input.value; };
  const box = make("fieldset", {}, make("legend", { textContent: b.label }),
    make("div", { className: "chips" }, ...chips, make("label", { className: "at" }, "or at ", input)));
  input.addEventListener("input", show);
  show();
  return box;
}

const line = (b, ...kids) => make("label", { className: "blank" }, make("b", { textContent: b.label }), ...kids);

// filled puts what was entered into the data of a report. An instant that was
// left as it was keeps its seconds.
export function filled(b, form, data) {
  const input = form.elements["blank-" + b.field];
  if (b.type === "instant" && input.value && input.value === input.defaultValue) return;
  if (!input.value) delete data[b.field];
  else if (b.type === "number") data[b.field] = Number(input.value);
  else if (b.type === "instant") data[b.field] = new Date(instantOf(input.value) * 1000).toISOString().replace(/\.\d+/, "");
  else data[b.field] = input.value;
}
