// The mouse, the pen and the finger on the strip and on the whole labour below it.

import { EDGE_PX, LEFT_PX } from "./paper.js";

const LEFT = EDGE_PX + LEFT_PX;

export class Pointer {
  constructor(viewer) {
    this.viewer = viewer;
    this.grab = null;
    this.hover = null;
    const { stage, overview } = viewer;
    for (const left of ["pointerleave", "blur"]) stage.addEventListener(left, () => viewer.readout.unfold(false));
    stage.addEventListener("pointerdown", (event) => this.grabbed(event));
    stage.addEventListener("pointermove", (event) => this.moved(event));
    stage.addEventListener("pointerup", () => { this.grab = null; });
    stage.addEventListener("wheel", (event) => this.wheeled(event), { passive: false });
    stage.addEventListener("dblclick", () => viewer.calliper());
    overview.addEventListener("pointerdown", (event) => {
      overview.setPointerCapture(event.pointerId);
      this.glanced(event);
    });
    overview.addEventListener("pointermove", (event) => { if (event.buttons) this.glanced(event); });
  }

  placeOf(event) {
    const edge = this.viewer.stage.getBoundingClientRect();
    const x = event.clientX - edge.left - LEFT;
    const fhr = this.viewer.scene.panes.find((pane) => pane.name === "fhr");
    const y = event.clientY - edge.top - fhr.top;
    const [low, high] = this.viewer.head.fhr;
    const isInside = x >= 0 && x <= this.viewer.scene.paneWidth;
    const level = y >= 0 && y <= fhr.height ? Math.round(high - (y / fhr.height) * (high - low)) : null;
    return { isInside, at: this.viewer.window.start + (x / this.viewer.window.perMinute) * 60, level };
  }

  grabbed(event) {
    this.viewer.stage.focus({ preventScroll: true });
    if (event.button !== 0) return;
    this.viewer.stage.setPointerCapture(event.pointerId);
    this.grab = { x: event.clientX, start: this.viewer.view.start };
  }

  moved(event) {
    if (this.grab) {
      this.viewer.view.start = this.grab.start - ((event.clientX - this.grab.x) / this.viewer.window.perMinute) * 60;
      this.viewer.view.clamp();
      this.viewer.draw();
      return;
    }
    const place = this.placeOf(event);
    if (!place.isInside) return;
    this.hover = place;
    this.viewer.view.at = Math.min(Math.max(place.at, this.viewer.head.start_s), this.viewer.head.end_s);
    this.viewer.readout.isOpen = true;
    this.viewer.drawGlass();
  }

  wheeled(event) {
    if (event.ctrlKey) {
      event.preventDefault();
      this.viewer.view.zoom(event.deltaY > 0 ? 1.25 : 0.8);
      this.viewer.draw();
    } else if (event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY)) {
      event.preventDefault();
      this.viewer.view.moveBy((((event.deltaX || event.deltaY) * 1) / this.viewer.window.perMinute) * 60);
      this.viewer.draw();
    }
  }

  glanced(event) {
    const seconds = this.viewer.whole.secondsAt(event.clientX - this.viewer.overview.getBoundingClientRect().left);
    this.viewer.view.start = seconds - this.viewer.view.length / 2;
    this.viewer.view.clamp();
    this.viewer.draw();
  }
}
