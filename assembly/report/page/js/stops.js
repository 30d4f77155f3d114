// The ends of the file's range at which it declares a stop.

import { svg } from "./dom.js";

/** Thick edges of the map where a stop ends one of its drives; `y` alone has no drive on a curve. */
export function stopEdges(data, drives, x, y) {
  return data.stops.map(([drive, side]) => {
    const end = side === "high" ? drives[drive].high : drives[drive].low;
    const other = drives[data.free.find((free) => free !== drive)];
    const along = drive === data.free[0];
    const [low, high] = other ? [other.low, other.high] : [y.low, y.high];
    const at = (along ? x : y).place(end);
    const [from, to] = [low, high].map((value) => (along ? y : x).place(value));
    return svg("line", { ...(along ? { x1: at, x2: at, y1: from, y2: to } : { x1: from, x2: to, y1: at, y2: at }), class: "stop" });
  });
}
