// What is in view: scale, stretch, cross-hair. Every change goes through here, so that a stretch always lies inside the
// labour and the whole of it fits the pane.

import { EDGE_PX, LEFT_PX, RIGHT_PX, pxPerMin, windowOf } from "./paper.js";
import { heightsIn } from "./room.js";

export const FIT = "Fit";
export const SPANS_MIN = [10, 20, 30, 60, 120, 240];
const LEAST_SPAN_S = 120;

export class View {
  constructor(head, kept = {}) {
    this.head = head;
    this.scale = kept.scale ?? head.scales[0].name;
    this.span = kept.span ?? null; // s, of a fitted stretch; null = the whole labour
    this.start = kept.start ?? head.start_s;
    this.at = kept.at ?? null; // s, of the cross-hair; null = none
    this.found = kept.found ?? false;
    this.layers = kept.layers ?? null;
    this.width = 900;
    this.rooms = [520, 520, 520]; // px, for heart rate and toco together (room.js)
    this.opening = null; // s, to be put in the middle at first; null = nothing, or done
    this.opened = null; // where that was put
  }

  kept() {
    const { scale, span, start, at, found, layers } = this;
    return { scale, span, start, at, found, layers };
  }

  get paper() {
    return this.head.scales.find((one) => one.name === this.scale) ?? null;
  }

  get paneWidth() {
    return Math.max(120, Math.floor(this.width - EDGE_PX - LEFT_PX - RIGHT_PX));
  }

  /** Seconds that fit the pane. */
  get length() {
    if (this.paper) return (this.paneWidth / pxPerMin(this.head, this.paper)) * 60;
    return Math.max(LEAST_SPAN_S, this.span ?? this.head.end_s - this.head.start_s);
  }

  get end() {
    return this.start + this.length;
  }

  /** The time that names the view: the cross-hair's where it is in view, else the middle. */
  get place() {
    return this.pointsInView ? this.at : this.start + this.length / 2;
  }

  get pointsInView() {
    return this.at !== null && this.at >= this.start && this.at <= this.end;
  }

  heights() {
    return heightsIn(this.head, this.paper, this.rooms);
  }

  window() {
    this.clamp();
    return windowOf(this.start, this.end, this.paneWidth, this.heights());
  }

  clamp() {
    const last = Math.max(this.head.start_s, this.head.end_s - this.length);
    this.start = Math.min(Math.max(this.start, this.head.start_s), last);
  }

  moveBy(seconds) {
    this.start += seconds;
    this.clamp();
  }

  /** Put a time in the middle, cross-hair included. */
  centre(seconds) {
    this.at = Math.min(Math.max(seconds, this.head.start_s), this.head.end_s);
    this.start = seconds - this.length / 2;
    this.clamp();
  }

  /** Centre what the strip opens at, and again in a pane whose width changed before anybody moved the strip. */
  open() {
    const isUntouched = this.opened && this.opened.start === this.start && this.opened.at === this.at;
    if (this.opening === null && !isUntouched) return;
    this.centre(this.opening ?? this.opened.at);
    this.opened = { at: this.at, start: this.start };
    this.opening = null;
  }

  /** Move the cross-hair; the stretch follows when it would leave the pane. */
  point(seconds) {
    this.at = Math.min(Math.max(seconds, this.head.start_s), this.head.end_s);
    if (this.at < this.start) this.start = this.at - this.length * 0.1;
    if (this.at > this.end) this.start = this.at - this.length * 0.9;
    this.clamp();
  }

  /** Change the scale and keep the middle where it is, or the cross-hair where it is in view. */
  rescale(name, span = this.span) {
    const middle = this.place;
    this.scale = name;
    this.span = span;
    this.start = middle - this.length / 2;
    this.clamp();
  }

  zoom(factor) {
    const whole = this.head.end_s - this.head.start_s;
    const span = Math.min(whole, Math.max(LEAST_SPAN_S, this.length * factor));
    this.rescale(FIT, span >= whole ? null : span);
  }
}
