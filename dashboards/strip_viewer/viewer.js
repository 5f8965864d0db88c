// The strip viewer: puts the parts together and answers what is asked of them. Nothing here asks the server for a step.

import { EDGE_PX, rulerOf } from "./paper.js";
import { FIT, View } from "./view.js";
import { SHOWN_AT_FIRST, controlsOf, keysDialog, markDialog } from "./controls.js";
import { asked, keep, keptOf, write } from "./address.js";
import { calibrated, calibrationDialog } from "./calibration.js";
import { measured, measuredInWords } from "./callipers.js";
import { scaleInWords, takenAround } from "./room.js";
import { readingAt, viewInWords } from "./readings.js";
import { timelineInWords, timelineScene } from "./timeline.js";
import { Pointer } from "./pointer.js";
import { deedOf } from "./keys.js";
import { overviewScene } from "./overview.js";
import { paint } from "./paint.js";
import { Readout } from "./readout.js";
import { sceneOf } from "./scene.js";
import { unpack, valueAt } from "./payload.js";

const SEEN_EVERY_S = 5;
const WRITE_AFTER_MS = 250;
const [READOUT_PX, READOUT_FOUND_PX, OVERVIEW_PX] = [18, 36, 50];

export class Viewer {
  constructor(root, tell) {
    this.root = root;
    this.tell = tell;
    this.frame = 0;
    this.space = 600; // px, from below the controls to the window's foot
    this.around = 0; // px, of a scene besides heart rate and toco
    this.clockHeight = 0;
    this.other = null;
    this.callipers = [];
    this.concern = 0;
    this.deeds = {
      point: (by) => this.moveCross(by),
      level: (by) => this.moveLevel(by),
      minute: (by) => this.stepBy(60 * by),
      page: (by) => this.stepBy(by * Math.max(60, Math.floor(this.view.length / 60) * 60)),
      edge: (side) => { this.view.start = side < 0 ? this.head.start_s : this.head.end_s; this.draw(); },
      finding: (by) => this.next(this.findings(), by, "finding"),
      concern: (by) => this.next((this.head.findings?.concerns ?? []).map((one) => one.minute), by, "concern"),
      show: (on) => this.show(on === null || on === undefined ? !this.view.found : on),
      scale: (k) => this.deeds.scaleName([...this.head.scales.map((one) => one.name), FIT][k]),
      scaleName: (name) => { this.view.rescale(name); this.draw(); },
      span: (text) => { this.view.rescale(FIT, text === "whole" ? null : Number(text) * 60); this.draw(); },
      zoom: (factor) => { this.view.zoom(factor); this.draw(); },
      goTo: (minute) => { if (minute !== "") this.centre(Number(minute) * 60); },
      layer: ([name, on]) => this.layer(name, on),
      other: (name) => { this.other = this.other === name ? null : name; this.draw(); },
      calliper: () => this.calliper(),
      mark: () => { if (this.options.may_mark) { this.view.at = this.view.place; this.markDialog.showModal(); } },
      full: () => this.full(),
      calibrate: () => this.calibrationDialog.showModal(),
      keys: () => this.keysDialog.showModal(),
      escape: () => { this.callipers = []; this.view.at = null; this.draw(); },
    };
  }

  /** New bytes from the server: the same strip stays where it is, another begins at its own place. */
  load(bytes) {
    const { options, head } = unpack(bytes);
    const isSame = this.options?.key === options.key;
    this.options = options;
    this.head = head;
    this.nominal = head.px_per_cm;
    head.px_per_cm = calibrated(this.nominal);
    if (!isSame) this.begin();
    else this.view.head = head;
    this.build();
    this.measure();
    if (typeof options.go_to_s === "number") { this.view.opening = null; this.centre(options.go_to_s); } // a link on the page
    this.draw();
  }

  begin() {
    const { key, address, open_at_s: openAt, blind } = this.options;
    const here = blind ? {} : asked(address);
    const kept = keptOf(key) ?? {};
    const stays = blind || !here.here || here.isStep || here.at !== null;
    this.view = new View(this.head, { ...(stays ? kept : {}), ...(kept.scale ? { scale: kept.scale, span: kept.span } : {}) });
    this.view.width = this.root.host?.clientWidth || this.root.clientWidth || 900;
    this.view.layers ??= [...SHOWN_AT_FIRST];
    if (here.scale) this.view.rescale(here.scale, here.scale === FIT ? here.span ?? null : null);
    if (here.found !== undefined) this.view.found = here.found;
    this.seen = new Uint8Array(Math.max(1, Math.ceil((this.head.end_s - this.head.start_s) / SEEN_EVERY_S)));
    this.told = false;
    this.callipers = [];
    const isKept = stays && kept.start !== undefined;
    // the address has whole minutes: a place that was kept and lies in that minute is more exact
    const isThere = isKept && here.at !== null && Math.abs(here.at - this.view.place) < 60;
    this.view.opening = isThere ? null : here.at ?? (isKept ? null : openAt ?? null);
  }

  build() {
    const open = this.stage !== undefined;
    const wanted = `${this.options.key} ${this.head.agreed.length > 0}`; // its layer is offered where something was agreed
    if (open && this.builtFor === wanted) return;
    this.builtFor = wanted;
    const act = (deed, value) => { this.deeds[deed](value); this.stage.focus({ preventScroll: true }); };
    this.controls = controlsOf(this.head, this.options, act);
    this.keysDialog = keysDialog();
    this.calibrationDialog = calibrationDialog(this.nominal, () => { this.head.px_per_cm = calibrated(this.nominal); this.draw(); });
    this.markDialog = markDialog((text) => this.tell("mark", { key: this.options.key, at_s: Math.round(this.view.at * 10) / 10, text }));
    this.strip = document.createElement("canvas");
    this.glass = document.createElement("canvas");
    this.stage = Object.assign(document.createElement("div"), { className: "stage", tabIndex: 0 });
    this.stage.setAttribute("role", "application");
    this.stage.setAttribute("aria-label", this.options.name);
    this.stage.setAttribute("aria-describedby", "words");
    this.stage.append(this.strip, this.glass);
    this.words = Object.assign(document.createElement("div"), { className: "unseen", id: "words" });
    this.words.setAttribute("aria-live", "polite");
    this.readout = new Readout();
    this.legend = Object.assign(document.createElement("div"), { className: "legend" });
    this.overview = Object.assign(document.createElement("canvas"), { className: "overview" });
    this.timeline = Object.assign(document.createElement("canvas"), { className: "timeline" });
    for (const canvas of [this.strip, this.glass, this.overview, this.timeline]) canvas.setAttribute("aria-hidden", "true");
    this.frameElement = Object.assign(document.createElement("div"), { className: "viewer" });
    this.frameElement.append(this.controls.element, this.stage, this.readout.element, this.timeline, this.overview, this.legend, this.words, this.keysDialog, this.markDialog, this.calibrationDialog);
    this.root.querySelector(".viewer")?.remove();
    this.root.append(this.frameElement);
    this.listen();
    // a blind strip, or one shown to a room, is read with the keys at once: nobody has to find it among the choices first
    if (this.options.blind || (this.options.room && document.fullscreenElement)) this.stage.focus({ preventScroll: true });
  }

  listen() {
    this.stage.addEventListener("keydown", (event) => this.pressed(event));
    this.pointer = new Pointer(this);
    this.watch?.disconnect();
    this.watch = new ResizeObserver(() => { if (this.measure()) this.draw(); });
    this.watch.observe(this.frameElement);
    this.back ??= () => this.wentBack();
    globalThis.addEventListener("popstate", this.back);
    this.scrolled ??= () => this.noteSeen();
    globalThis.addEventListener("scroll", this.scrolled, { passive: true, capture: true });
  }

  close() {
    this.watch?.disconnect();
    globalThis.removeEventListener("popstate", this.back);
    globalThis.removeEventListener("scroll", this.scrolled, { capture: true });
    clearTimeout(this.writing);
  }

  /** Width of the pane and what is left of the window below the controls; true when one of them changed. */
  measure() {
    const width = Math.floor(this.stage.clientWidth); // without the frame's own edge in the full screen
    const space = Math.floor(globalThis.innerHeight - takenAround(this.frameElement) - this.controls.element.offsetHeight - 2);
    if (width <= 0 || (width === this.view.width && Math.abs(space - this.space) < 8)) return false;
    this.view.width = width;
    this.space = space;
    this.around = 0;
    this.view.open();
    return true;
  }

  /** The scene at the height that is left for it: once lanes came in, that height stays while the strip moves. */
  fitted() {
    const layers = new Set(this.view.found ? this.view.layers : []);
    for (;;) {
      const below = this.view.found ? READOUT_FOUND_PX : READOUT_PX;
      const strip = this.space - this.around - below;
      this.view.rooms = [strip - this.clockHeight - OVERVIEW_PX, strip - this.clockHeight, strip];
      this.window = this.view.window();
      const scene = sceneOf(this.head, this.window, layers, { other: this.other, marks: this.options.marks ?? [] });
      const around = scene.height - this.window.fhrHeight - this.window.tocoHeight;
      if (around <= this.around) return scene;
      this.around = around;
    }
  }

  draw() {
    if (this.frame) return;
    this.frame = requestAnimationFrame(() => { this.frame = 0; this.drawNow(); });
  }

  drawNow(step = false) {
    const began = performance.now();
    this.view.open();
    this.drawTimeline();
    this.scene = this.fitted();
    this.scene.frame = this.head.look.heavy;
    paint(this.strip, this.scene, this.head.look.font);
    this.drawGlass();
    const whole = overviewScene(this.head, this.view, this.view.found);
    whole.frame = this.head.look.heavy;
    this.whole = whole;
    paint(this.overview, whole, this.head.look.font);
    const scale = scaleInWords(this.view.paper, this.view.heights().bpmPerCm);
    this.legend.textContent = `${scale} ${this.options.legend[this.view.found ? 1 : 0]}`;
    this.controls.update(this.view, this.other, this.stops());
    keep(this.options.key, this.view);
    clearTimeout(this.writing);
    this.writing = setTimeout(() => this.settled(step), WRITE_AFTER_MS);
    this.noteSeen();
    this.frameElement.dataset.drawnMs = (performance.now() - began).toFixed(1);
    this.frameElement.dataset.start = String(this.window.start);
    this.frameElement.dataset.end = String(this.window.end);
  }

  drawTimeline() {
    const all = this.head.findings?.concerns ?? [];
    const concern = all[Math.min(this.concern, all.length - 1)];
    const scene = concern ? timelineScene(this.head, this.view, concern, this.view.found) : null;
    this.timeline.hidden = scene === null;
    this.clockHeight = scene ? scene.height + 2 : 0;
    if (scene) paint(this.timeline, scene, this.head.look.font);
  }

  /** After a pause: the address, and the words for those who do not see the drawing. */
  settled(step) {
    if (!this.frameElement.isConnected) return;
    if (this.measure()) this.draw();
    if (this.options.address && !this.options.blind) write(this.options.address, this.view, step);
    const concern = this.head.findings?.concerns?.[this.concern];
    const clock = concern && this.view.found ? ` ${timelineInWords(concern, true)}` : "";
    this.say(viewInWords(this.head, this.window, this.view.found) + clock);
  }

  say(text) {
    if (this.words.textContent !== text) this.words.textContent = text;
  }

  drawGlass() {
    const pen = paintGlass(this.glass, this.scene);
    const fhr = this.scene.panes.find((pane) => pane.name === "fhr");
    const ruler = rulerOf(this.window, this.head.fhr[0], this.head.fhr[1], this.window.fhrHeight);
    const { at } = this.view;
    if (at !== null && at >= this.window.start && at <= this.window.end) {
      const x = this.scene.left + ruler.x(at / 60);
      stroke(pen, [[x, fhr.top], [x, this.scene.height - EDGE_PX]], this.head.look.ink, [4, 3]);
    }
    const points = this.callipers.map((point) => [this.scene.left + ruler.x(point.at / 60), fhr.top + ruler.y(point.level)]);
    for (const [x, y] of points) {
      stroke(pen, [[x, fhr.top], [x, fhr.top + fhr.height]], this.head.look.ink, []);
      stroke(pen, [[x - 8, y], [x + 8, y]], this.head.look.ink, []);
    }
    if (points.length === 2) stroke(pen, [points[0], [points[1][0], points[0][1]], points[1]], this.head.look.ink, [2, 2]);
    this.tellReading();
  }

  tellReading() {
    const parts = [];
    if (this.callipers.length === 2) parts.push(["measured", measuredInWords(measured(this.head.lines.fhr, ...this.callipers))]);
    if (this.callipers.length === 1) parts.push(["callipers", "choose the second point"]);
    if (this.view.at !== null) parts.push(...readingAt(this.head, this.view.at, this.view.found));
    if (!parts.length) parts.push(["", this.options.hint]);
    this.readout.fill(parts, this.view.found);
  }

  /** Which parts of the strip were in sight; told once, when the last has been. */
  noteSeen() {
    if (this.told || !this.window || !this.stage?.isConnected) return;
    const edge = this.stage.getBoundingClientRect();
    if (document.hidden || edge.width === 0 || edge.bottom < 0 || edge.top > globalThis.innerHeight) return;
    const at = (seconds) => (seconds - this.head.start_s) / SEEN_EVERY_S;
    this.seen.fill(1, Math.max(0, Math.floor(at(this.window.start))), Math.max(0, Math.ceil(at(this.window.end) - 1e-6)));
    if (this.seen.every((one) => one === 1)) {
      this.told = true;
      this.tell("seen", this.options.key);
    }
  }

  stops() {
    const found = this.view.found ? (this.head.findings?.concerns ?? []) : [];
    const falls = this.view.found ? (this.head.findings?.decelerations ?? []) : [];
    const deepest = falls.reduce((best, row) => (best && best.lowest <= row.lowest ? best : row), null);
    return [
      { minute: this.head.start_s / 60, text: "the start" },
      ...found.map((one) => ({ minute: one.minute, text: one.trigger })),
      ...(deepest ? [{ minute: deepest.nadir_minute, text: "lowest deceleration" }] : []),
      ...(this.options.marks ?? []).map((mark) => ({ minute: mark.at_s / 60, text: mark.text })),
      { minute: Math.max(this.head.start_s, this.head.end_s - 1800) / 60, text: "the last hour" },
    ];
  }

  findings() {
    const { decelerations, accelerations } = this.head.findings ?? { decelerations: [], accelerations: [] };
    const on = new Set(this.view.layers);
    const rows = [...(on.has("decelerations") ? decelerations : []), ...(on.has("accelerations") ? accelerations : [])];
    return rows.map((row) => (row.minute + row.end_minute) / 2);
  }

  next(minutes, by, name) {
    if (!this.view.found) { this.say(`Findings are not shown; press b to show them, then go to the next ${name}.`); return; }
    const { view } = this; // without a cross-hair in view the next is the first in view, the former the last
    const here = (view.pointsInView ? view.at : by > 0 ? view.start : view.end) / 60;
    const sorted = [...minutes].sort((a, b) => a - b);
    const to = by > 0 ? sorted.find((minute) => minute > here + 0.01) : sorted.reverse().find((minute) => minute < here - 0.01);
    if (to === undefined) { this.say(`No further ${name} that way.`); return; }
    if (name === "concern") this.concern = this.head.findings.concerns.findIndex((one) => one.minute === to);
    this.centre(to * 60);
    this.readout.isOpen = name === "finding";
  }

  centre(seconds) {
    this.readout.isOpen = false;
    this.leaveStep();
    this.view.centre(seconds);
    this.draw();
  }

  /** A jump leaves the former place behind for the browser's back button. */
  leaveStep() {
    if (!this.options.address || this.options.blind) return;
    write(this.options.address, this.view, false);
    globalThis.history.pushState(globalThis.history.state, "", globalThis.location.href);
  }

  wentBack() {
    if (this.options.blind) return;
    const here = asked(this.options.address);
    if (!here.here || here.at === null) return;
    if (here.scale) this.view.rescale(here.scale, here.scale === FIT ? here.span ?? null : null);
    if (here.found !== undefined) this.view.found = here.found;
    this.view.centre(here.at);
    this.draw();
  }

  stepBy(seconds) {
    this.view.moveBy(seconds);
    this.drawNow();
  }

  show(on) {
    if (!this.head.findings) return;
    this.view.found = on;
    this.around = 0;
    this.drawNow();
  }

  layer(name, on) {
    this.around = 0;
    this.view.layers = on ? [...this.view.layers, name] : this.view.layers.filter((one) => one !== name);
    this.draw();
  }

  moveCross(by) {
    const from = this.view.place;
    this.view.point(from + by);
    this.readout.isOpen = true;
    const words = readingAt(this.head, this.view.at, this.view.found).map(([name, text]) => `${name} ${text}`.trim());
    this.drawNow();
    clearTimeout(this.writing);
    this.writing = setTimeout(() => this.say(words.join("; ")), WRITE_AFTER_MS);
  }

  moveLevel(by) {
    const last = this.callipers[this.callipers.length - 1];
    if (last) { last.level += by; this.drawGlass(); }
  }

  calliper() {
    if (this.callipers.length === 2) { this.callipers = []; this.drawGlass(); return; }
    const at = this.view.place;
    this.view.at = at;
    this.readout.isOpen = true;
    const value = this.pointer.hover?.level ?? valueAt(this.head.lines.fhr, at);
    this.callipers.push({ at, level: Number.isNaN(value) ? 120 : Math.round(value) });
    this.drawGlass();
    if (this.callipers.length === 2) this.say(measuredInWords(measured(this.head.lines.fhr, ...this.callipers)));
  }

  full() {
    if (document.fullscreenElement) document.exitFullscreen();
    else if (!this.options.room) this.frameElement.requestFullscreen?.();
    else document.documentElement.requestFullscreen?.().then(() => this.stage.focus({ preventScroll: true }));
  }

  pressed(event) {
    const deed = deedOf(event);
    if (!deed) return;
    event.preventDefault();
    event.stopPropagation();
    if (deed[0] === "point") this.pointer.hover = null;
    this.deeds[deed[0]](deed[1]);
  }
}

function paintGlass(canvas, scene) {
  paint(canvas, { ...scene, panes: [] }, "");
  const pen = canvas.getContext("2d");
  pen.clearRect(0, 0, scene.width, scene.height);
  return pen;
}

function stroke(pen, points, colour, dash) {
  pen.beginPath();
  points.forEach(([x, y], k) => (k ? pen.lineTo(x, y) : pen.moveTo(x, y)));
  pen.strokeStyle = colour;
  pen.lineWidth = 1;
  pen.setLineDash(dash);
  pen.stroke();
  pen.setLineDash([]);
}
