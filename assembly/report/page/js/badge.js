// Letters and numbers in a map.

import { svg } from "./dom.js";

/** A text of the map, its place in the map's own units. */
export function lettering(x, y, text, more = {}) {
  return svg("text", { x: x.toFixed(1), y: y.toFixed(1), ...more }, text);
}

/** A number in a ring. */
export function badge([x, y, number]) {
  const place = { transform: `translate(${x.toFixed(1)} ${y.toFixed(1)})`, class: "badge" };
  const text = lettering(0, 4, String(number), { "text-anchor": "middle" });
  return svg("g", place, svg("circle", { r: 9 }), text);
}
