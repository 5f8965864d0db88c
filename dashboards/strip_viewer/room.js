// How high heart rate and toco are drawn, so that the strip lies in the window without scrolling. Time keeps its true
// scale always; where a strip does not fit, the heart rate falls to the next scale of paper, and the legend says so. Toco
// has no scale of paper.

const SCALES_BPM_PER_CM = [30, 40];
const TOCO_CM = 4;
const LEAST_TOCO_CM = 1.6;
const LEAST_FITTED_PX = 225;
const FULL_EDGE_PX = 12; // as in viewer.css

/** Heights (px) of both and the scale (bpm/cm; null = fitted). `rooms` : px for both together, from the one that leaves
 *  room for all that stands below the strip to the one that leaves none. */
export function heightsIn(head, paper, rooms) {
  if (!paper) {
    const room = rooms.find((one) => one >= LEAST_FITTED_PX + 75) ?? Math.max(LEAST_FITTED_PX, rooms[rooms.length - 1]);
    const fhr = Math.max(150, Math.min(360, Math.round((room * 2) / 3)));
    return { fhr, toco: Math.round(fhr / 2), bpmPerCm: null };
  }
  const cm = head.px_per_cm;
  const fhrOf = (bpmPerCm) => Math.round(((head.fhr[1] - head.fhr[0]) / bpmPerCm) * cm);
  const scales = [paper.bpm_per_cm, ...SCALES_BPM_PER_CM.filter((one) => one > paper.bpm_per_cm)];
  const [all, some, none] = rooms;
  const tried = scales.flatMap((one, k) => (k < 2 ? [[one, all], [one, some]] : [[one, some]]));
  const [bpmPerCm, room] = [...tried, ...scales.map((one) => [one, none])].find(([one, px]) => fhrOf(one) + LEAST_TOCO_CM * cm <= px)
    ?? [scales[scales.length - 1], 0];
  const fhr = fhrOf(bpmPerCm);
  const toco = Math.round(Math.min(TOCO_CM * cm, Math.max(LEAST_TOCO_CM * cm, room - fhr)));
  return { fhr, toco, bpmPerCm };
}

/** The scale in words. */
export function scaleInWords(paper, bpmPerCm) {
  return paper ? `${paper.name}, ${bpmPerCm} bpm/cm; toco not to scale.` : "Fitted to the width, not a scale of paper.";
}

/** What of the window is not the element's own (px): what stands above it, or its edges where it fills the screen. */
export function takenAround(element) {
  if (element.matches(":fullscreen")) return 2 * FULL_EDGE_PX;
  const top = topOf(element);
  // a strip that begins low on its page is scrolled to, and then has the window for itself
  return top > globalThis.innerHeight / 2 ? 60 : top;
}

/** Where an element begins below the top of its page (px), however far that was scrolled. */
function topOf(element) {
  let top = element.getBoundingClientRect().top + (globalThis.scrollY || 0);
  for (let at = element; at; at = at.parentNode ?? at.host) top += at.scrollTop || 0;
  return top;
}
