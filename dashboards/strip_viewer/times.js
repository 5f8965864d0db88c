// Times in words, as audit/words.py and audit/charts/strip/rows.py write them.

const two = (number) => String(number).padStart(2, "0");

/** Seconds from zero as hh:mm, rounded down to the minute. */
export function hhmm(seconds) {
  const whole = Math.floor(Math.abs(seconds) / 60 + 1e-9);
  return `${seconds < 0 && whole ? "-" : ""}${two(Math.floor(whole / 60))}:${two(whole % 60)}`;
}

export function hhmmss(seconds) {
  const whole = Math.round(Math.abs(seconds));
  const rest = `${two(Math.floor((whole % 3600) / 60))}:${two(whole % 60)}`;
  return `${seconds < 0 && whole ? "-" : ""}${two(Math.floor(whole / 3600))}:${rest}`;
}

/** hh:mm or hh:mm:ss as seconds; null for anything else. */
export function secondsOf(text) {
  const found = /^(-?)(\d{1,3}):([0-5]\d)(?::([0-5]\d))?$/.exec((text ?? "").trim());
  if (!found) return null;
  const seconds = Number(found[2]) * 3600 + Number(found[3]) * 60 + Number(found[4] ?? 0);
  return found[1] ? -seconds : seconds;
}

/** Seconds up to two minutes, then minutes and seconds. */
export function duration(seconds) {
  if (seconds < 120) return `${Math.round(seconds)} s`;
  const whole = Math.round(seconds);
  return `${Math.floor(whole / 60)} min ${two(whole % 60)} s`;
}
