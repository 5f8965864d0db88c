// What the page's library calls: once for each new block of bytes, with the same place to draw in.

import { Viewer } from "./viewer.js";

const VIEWERS = new WeakMap();

export default function ({ data, parentElement, setStateValue, setTriggerValue }) {
  let viewer = VIEWERS.get(parentElement);
  if (!viewer) {
    viewer = new Viewer(parentElement, (name, value) => (name === "mark" ? setTriggerValue(name, value) : setStateValue(name, value)));
    VIEWERS.set(parentElement, viewer);
  }
  viewer.load(data);
  return () => {
    viewer.close();
    VIEWERS.delete(parentElement);
  };
}
