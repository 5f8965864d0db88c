// The row of controls above the strip, and the dialog with the keys. It only says what was asked for: `act(deed, value)`.

import { FIT, SPANS_MIN } from "./view.js";
import { KEYS } from "./keys.js";
import { hhmm } from "./times.js";

export const LAYERS = {
  decelerations: "Decelerations", accelerations: "Accelerations", contractions: "Contractions", baseline: "Baseline",
  categories: "Minute categories", clock: "Clock", events: "Care events", excluded: "Unused samples",
  spans: "Sinusoidal, level changes", maternal: "Maternal rate", agreed: "The meeting's clock",
};
export const SHOWN_AT_FIRST = Object.keys(LAYERS).filter((name) => name !== "maternal");
const BARE = "Bare";
const FOUND = "Findings";

function made(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name === "onclick" || name === "onchange") element[name] = value;
    else element.setAttribute(name, value);
  }
  element.append(...children);
  return element;
}

function button(text, label, onclick) {
  return made("button", { type: "button", "aria-label": label, title: label, onclick }, text);
}

/** A group of buttons of which one is pressed. */
function group(label, names, onchoice) {
  const buttons = names.map((name) => made("button", { type: "button", onclick: () => onchoice(name) }, name));
  const element = made("span", { role: "group", "aria-label": label, class: "group" }, ...buttons);
  return {
    element,
    press: (chosen) => buttons.forEach((one, k) => one.setAttribute("aria-pressed", String(names[k] === chosen))),
  };
}

export function controlsOf(head, options, act) {
  const show = group("Show", [BARE, FOUND], (name) => act("show", name === FOUND));
  const scales = group("Scale", [...head.scales.map((one) => one.name), FIT], (name) => act("scaleName", name));
  const span = made("select", { "aria-label": "Stretch", onchange: () => act("span", span.value) });
  for (const minutes of SPANS_MIN) span.append(made("option", { value: String(minutes) }, `${minutes} min`));
  span.append(made("option", { value: "whole" }, "whole labour"));
  const places = made("select", { "aria-label": "Go to", onchange: () => act("goTo", places.value) });
  const layers = made("details", { class: "layers" }, made("summary", {}, "Layers"));
  const boxes = made("div", { class: "menu" });
  for (const [name, text] of Object.entries(LAYERS)) {
    if (name === "agreed" && !head.agreed.length) continue;
    const box = made("input", { type: "checkbox", value: name, onchange: () => act("layer", [name, box.checked]) });
    boxes.append(made("label", {}, box, ` ${text}`));
  }
  layers.append(boxes);
  const twins = group("Also draw", (head.others ?? []).map((name) => `Fetus ${name}`), (name) => act("other", name.slice(6)));
  const tools = [
    button("◀", "Page back", () => act("page", -1)),
    button("▶", "Page forth", () => act("page", 1)),
    ...(options.blind ? [] : [places]),
    ...(head.findings ? [layers] : []),
    button("Measure", "Callipers", () => act("calliper")),
    ...(options.may_mark ? [button("Mark", "Mark this place", () => act("mark"))] : []),
    button("cm", "Calibrate the scale", () => act("calibrate")),
    button("Full", "Full screen", () => act("full")),
    button("?", "Keys", () => act("keys")),
  ];
  const parts = [...(head.findings ? [show.element] : []), scales.element, ...(options.blind ? [] : [span]), ...tools];
  if ((head.others ?? []).length) parts.push(twins.element);
  const element = made("div", { class: "controls", role: "toolbar", "aria-label": "How the strip is shown" }, ...parts);
  return { element, update: (view, other, stops) => updated({ show, scales, span, places, layers, boxes, twins }, view, other, stops) };
}

function updated(parts, view, other, stops) {
  parts.show.press(view.found ? FOUND : BARE);
  parts.scales.press(view.scale);
  parts.twins.press(other ? `Fetus ${other}` : "");
  parts.span.hidden = view.scale !== FIT;
  parts.span.value = view.span === null ? "whole" : String(Math.round(view.span / 60));
  parts.layers.hidden = !view.found;
  for (const box of parts.boxes.querySelectorAll("input")) box.checked = view.layers.includes(box.value);
  const texts = stops.map((stop) => `${hhmm(stop.minute * 60)} ${stop.text}`);
  if (parts.places.dataset.stops !== texts.join("|")) {
    parts.places.dataset.stops = texts.join("|");
    parts.places.replaceChildren(made("option", { value: "" }, "Go to …"));
    stops.forEach((stop, k) => parts.places.append(made("option", { value: String(stop.minute) }, texts[k])));
  }
  parts.places.value = "";
}

/** The list of keys. */
export function keysDialog() {
  const rows = KEYS.map(([keys, what]) => {
    const names = keys.split(" ").flatMap((name, k) => [...(k ? [" "] : []), made("kbd", {}, name.replace("Arrow", "Arrow "))]);
    return made("tr", {}, made("th", { scope: "row" }, ...names), made("td", {}, what));
  });
  const dialog = made("dialog", { "aria-label": "Keys" }, made("table", {}, made("tbody", {}, ...rows)));
  dialog.append(made("button", { type: "button", onclick: () => dialog.close() }, "Close"));
  return dialog;
}

/** Asks for the words of a mark. */
export function markDialog(onsave) {
  const text = made("input", { type: "text", maxlength: "80", "aria-label": "What to see here", placeholder: "What to see here" });
  const form = made("form", { method: "dialog" }, text, made("button", { type: "submit" }, "Save the mark"));
  const dialog = made("dialog", { "aria-label": "Mark" }, form);
  dialog.append(made("button", { type: "button", onclick: () => dialog.close() }, "Cancel"));
  form.onsubmit = () => {
    if (text.value.trim()) onsave(text.value.trim());
    text.value = "";
  };
  return dialog;
}
