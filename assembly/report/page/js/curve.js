// The curve over one drive: what was measured, what is proven, and what must be kept.

import { across, frame, upwards } from "./axes.js";
import { badge } from "./badge.js";
import { svg } from "./dom.js";
import { stopEdges } from "./stops.js";

/** Draw the curve; gives what reads and marks places on it. */
export function drawCurve(sheet, data, slice, drives) {
  const drive = drives[data.free[0]];
  const count = data.counts[0];
  const looked = data.range?.looked[0] ?? [drive.low, drive.high];
  const x = across(Math.min(looked[0], drive.low), Math.max(looked[1], drive.high));
  const most = Math.max(1, ...slice.height.filter((value) => value !== null));
  const y = upwards(0, 1.05 * most);
  const middle = (k) => drive.low + ((k + 0.5) * (drive.high - drive.low)) / count;
  const path = (values) => {
    let pen = "M";
    return values
      .map((value, k) => {
        if (value === null) {
          pen = "M";
          return "";
        }
        const point = `${pen}${x.place(middle(k)).toFixed(1)} ${y.place(Math.max(0, value)).toFixed(1)}`;
        pen = "L";
        return point;
      })
      .join("");
  };
  sheet.append(frame(x, y, `${drive.name}, ${drive.written}`, "clearance, mm"));
  if (data.required !== null && data.required <= y.high) {
    const at = y.place(data.required);
    sheet.append(svg("line", { x1: x.place(x.low), x2: x.place(x.high), y1: at, y2: at, class: "required" }));
  }
  sheet.append(...stopEdges(data, drives, x, y));
  if (data.range) sheet.append(...ends(data.range, x, y));
  sheet.append(svg("path", { d: path(slice.floor), class: "proven" }));
  sheet.append(svg("path", { d: path(slice.height), class: "measured" }));
  return {
    values: (px) => {
      const value = x.value(px);
      const slack = (drive.high - drive.low) / 100;
      if (value < drive.low - slack || value > drive.high + slack) return null;
      return [Math.min(drive.high, Math.max(drive.low, value))];
    },
    marker: () => svg("line", { class: "here", y1: y.place(y.low), y2: y.place(y.high) }),
    mark: (marker, [a]) => marker.setAttribute("transform", `translate(${x.place(a)} 0)`),
  };
}

/** Where the usable range ends, by the number of what ends it. */
function ends(range, x, y) {
  return range.stretches
    .filter(({ ended }) => !ended)
    .flatMap(({ governor, points }) => {
      const at = x.place(points[0][0]);
      const line = { x1: at, x2: at, y1: y.place(y.low), y2: y.place(y.high), class: "usable" };
      return [svg("line", line), badge([at, y.place(y.high) + 14, governor])];
    });
}
