// The line under the strip: its first two lines, and all of it while somebody points at the strip.

const FOLDED_PX = 36; // two lines, as in viewer.css

export class Readout {
  constructor() {
    this.isOpen = false;
    this.reading = Object.assign(document.createElement("div"), { className: "reading" });
    this.element = Object.assign(document.createElement("div"), { className: "readout" });
    this.element.append(this.reading);
    this.element.addEventListener("pointerenter", () => this.unfold(true));
    this.element.addEventListener("pointerleave", () => this.unfold(false));
  }

  /** Pairs of name and text; `found`: findings are shown, so that there may be more than a line. */
  fill(parts, found) {
    this.element.classList.toggle("found", found);
    this.reading.replaceChildren(...parts.map(([name, text]) => {
      const part = document.createElement("span");
      if (name) part.append(Object.assign(document.createElement("strong"), { textContent: `${name} ` }));
      part.append(text);
      return part;
    }));
    this.unfold(this.isOpen);
  }

  /** Lay all of the reading over what lies below it, ending in the window, or fold it. */
  unfold(isOpen) {
    this.isOpen = isOpen;
    this.element.classList.toggle("open", isOpen);
    this.reading.style.top = "";
    if (!isOpen || !this.element.classList.contains("found")) return;
    const { bottom, height } = this.reading.getBoundingClientRect();
    const over = Math.min(bottom + 4 - globalThis.innerHeight, height - FOLDED_PX);
    if (over > 0) this.reading.style.top = `${-over}px`;
  }
}
