// The block of bytes that the server makes: the options of a page (dashboards/strip_viewer/show.py), then the strip
// (audit/charts/strip/payload.py) with its head as JSON and its channels of numbers. Each text has its length before it.

const NO_SIGNAL = 65535;

export function unpack(bytes) {
  const [options, at] = textAt(bytes, 0);
  const [head, base] = textAt(bytes, at);
  head.lines = {};
  head.agreed = options.agreed ?? []; // what people agreed changes without a new tracing
  for (const channel of head.channels) {
    head.lines[channel.name] = { ...channel, values: valuesOf(bytes, base + channel.at, channel) };
  }
  return { options, head };
}

function textAt(bytes, at) {
  const length = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength).getUint32(at, true);
  return [JSON.parse(new TextDecoder().decode(bytes.subarray(at + 4, at + 4 + length))), at + 4 + length];
}

function valuesOf(bytes, at, channel) {
  if (channel.kind === "u8") return bytes.slice(at, at + channel.n);
  // the block may begin at an odd place of its buffer, so the numbers are copied
  const codes = new Uint16Array(bytes.slice(at, at + 2 * channel.n).buffer);
  const values = new Float32Array(channel.n);
  for (let k = 0; k < channel.n; k += 1) values[k] = codes[k] === NO_SIGNAL ? NaN : codes[k] / 100 + channel.zero;
  return values;
}

/** The number of the sample at a time in seconds, or -1 outside the channel. */
export function sampleAt(line, seconds) {
  const k = Math.floor((seconds - line.start_s) * line.rate_hz + 1e-6);
  return k >= 0 && k < line.n ? k : -1;
}

export function valueAt(line, seconds) {
  const k = line ? sampleAt(line, seconds) : -1;
  return k < 0 ? NaN : line.values[k];
}
