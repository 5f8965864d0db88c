// True paper scale on this screen: somebody lays a ruler on a bar that should be 10 cm long. Kept in this browser, for
// screens differ; until then 96 px are an inch, as CSS has it.

const KEPT_AS = "strip_bar_mm";
const BAR_MM = 100;

/** What this browser keeps; null where it keeps nothing for pages. */
function keptMm() {
  try {
    return globalThis.localStorage.getItem(KEPT_AS);
  } catch {
    return null;
  }
}

/** Pixels to the centimetre on this screen. */
export function calibrated(nominal) {
  const mm = Number(keptMm());
  return mm >= 40 && mm <= 250 ? (nominal * BAR_MM) / mm : nominal;
}

export function calibrationDialog(nominal, onkept) {
  const bar = Object.assign(document.createElement("div"), { className: "bar" });
  bar.style.width = `${nominal * 10}px`;
  const length = Object.assign(document.createElement("input"), { type: "number", min: "40", max: "250", step: "0.5" });
  length.setAttribute("aria-label", "Length of the bar on this screen, mm");
  length.value = keptMm() ?? String(BAR_MM);
  const save = Object.assign(document.createElement("button"), { type: "submit", textContent: "Keep for this screen" });
  const form = Object.assign(document.createElement("form"), { method: "dialog" });
  form.append("How long is this bar on the screen, in mm? ", bar, length, " ", save);
  form.onsubmit = () => {
    globalThis.localStorage.setItem(KEPT_AS, length.value);
    onkept();
  };
  const dialog = document.createElement("dialog");
  dialog.setAttribute("aria-label", "Calibrate the scale");
  dialog.append(form);
  return dialog;
}
