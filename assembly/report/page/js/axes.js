// The frame of a map: its scales, ticks and names.

import { lettering } from "./badge.js";
import { svg } from "./dom.js";
import { signed } from "./words.js";

export const WIDE = 520;
export const TALL = 420;
const EDGE = { left: 88, right: 22, top: 14, bottom: 62 };

/** A scale from values to places along one side of the map. */
export function scale(low, high, from, to) {
  const span = high - low || 1;
  const place = (value) => from + ((value - low) / span) * (to - from);
  return { low, high, place, value: (at) => low + ((at - from) / (to - from)) * span };
}

export const across = (low, high) => scale(low, high, EDGE.left, WIDE - EDGE.right);
export const upwards = (low, high) => scale(low, high, TALL - EDGE.bottom, EDGE.top);

/** Ticks, figures and names along both sides. */
export function frame(x, y, nameX, nameY) {
  const drawn = svg("g", { class: "frame" });
  const [left, right] = [x.place(x.low), x.place(x.high)];
  const [bottom, top] = [y.place(y.low), y.place(y.high)];
  drawn.append(svg("rect", { x: left, y: top, width: right - left, height: bottom - top, class: "border" }));
  for (const value of ticks(x)) {
    const at = x.place(value);
    drawn.append(svg("line", { x1: at, x2: at, y1: bottom, y2: bottom + 5 }));
    drawn.append(lettering(at, bottom + 24, signed(value), { "text-anchor": "middle" }));
  }
  for (const value of ticks(y)) {
    const at = y.place(value);
    drawn.append(svg("line", { x1: left - 5, x2: left, y1: at, y2: at }));
    drawn.append(lettering(left - 9, at + 6, signed(value), { "text-anchor": "end" }));
  }
  drawn.append(lettering((left + right) / 2, TALL - 6, nameX, { "text-anchor": "middle", class: "name" }));
  const turned = { transform: `rotate(-90 18 ${(bottom + top) / 2})`, "text-anchor": "middle", class: "name" };
  drawn.append(lettering(18, (bottom + top) / 2, nameY, turned));
  return drawn;
}

function ticks({ low, high }) {
  const rough = (high - low) / 5 || 1;
  const ten = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((digit) => digit * ten).find((fits) => fits >= rough);
  const found = [];
  for (let value = Math.ceil(low / step - 1e-9) * step; value <= high + 1e-9 * step; value += step) found.push(value);
  return found;
}
