// The map over two drives: cells coloured by their margin, the border of the usable range, the file's range.

import { across, frame, upwards } from "./axes.js";
import { badge } from "./badge.js";
import { svg } from "./dom.js";
import { stopEdges } from "./stops.js";

/** Draw a slice; gives what reads and marks places on it. */
export function drawField(sheet, data, slice, drives) {
  const [first, second] = data.free.map((drive) => drives[drive]);
  const looked = data.range?.looked ?? [[first.low, first.high], [second.low, second.high]];
  const x = across(Math.min(looked[0][0], first.low), Math.max(looked[0][1], first.high));
  const y = upwards(Math.min(looked[1][0], second.low), Math.max(looked[1][1], second.high));
  sheet.append(beyond(x, y), cells(data, slice, x, y, first, second));
  if (looked.some(([low, high], k) => low < [first, second][k].low || high > [first, second][k].high)) sheet.append(own(x, y, first, second));
  sheet.append(...stopEdges(data, drives, x, y));
  if (data.range && slice.held.every(([, value]) => value === 0)) sheet.append(...border(data.range, x, y));
  sheet.append(frame(x, y, `${first.name}, ${first.written}`, `${second.name}, ${second.written}`));
  if (data.worst && slice === data.worstSlice) sheet.append(worst(x.place(data.worst[data.free[0]]), y.place(data.worst[data.free[1]])));
  return {
    values: (px, py) => inside(x.value(px), y.value(py), first, second),
    marker: () => svg("g", { class: "here" }, svg("circle", { r: 9 }), svg("circle", { r: 2.5, class: "dot" })),
    mark: (marker, [a, b]) => marker.setAttribute("transform", `translate(${x.place(a)} ${y.place(b)})`),
  };
}

/** A cross where the sweep found the least margin. */
function worst(x, y) {
  const path = { d: `M${x - 8} ${y - 8}L${x + 8} ${y + 8}M${x + 8} ${y - 8}L${x - 8} ${y + 8}` };
  return svg("g", { class: "worst" }, svg("path", { ...path, class: "under" }), svg("path", path));
}

function inside(a, b, first, second) {
  const slack = (drive) => (drive.high - drive.low) / 100;
  const kept = (value, drive) => Math.min(drive.high, Math.max(drive.low, value));
  const out = (value, drive) => value < drive.low - slack(drive) || value > drive.high + slack(drive);
  return out(a, first) || out(b, second) ? null : [kept(a, first), kept(b, second)];
}

function beyond(x, y) {
  const [left, top] = [x.place(x.low), y.place(y.high)];
  const size = { width: x.place(x.high) - left, height: y.place(y.low) - top };
  return svg("rect", { x: left, y: top, ...size, class: "beyond" });
}

function cells(data, slice, x, y, first, second) {
  const drawn = svg("g", { class: "cells" });
  const [columns, rows] = data.counts;
  const [wide, tall] = [(first.high - first.low) / columns, (second.high - second.low) / rows];
  slice.step.forEach((step, index) => {
    const column = Math.floor(index / rows);
    const [left, right] = [0, 1].map((k) => x.place(first.low + (column + k) * wide));
    const [bottom, top] = [0, 1].map((k) => y.place(second.low + ((index % rows) + k) * tall));
    const box = { x: left.toFixed(2), y: top.toFixed(2), width: (right - left + 0.4).toFixed(2) };
    drawn.append(svg("rect", { ...box, height: (bottom - top + 0.4).toFixed(2), class: `room-${step}` }));
  });
  return drawn;
}

function own(x, y, first, second) {
  const [left, top] = [x.place(first.low), y.place(second.high)];
  const size = { width: x.place(first.high) - left, height: y.place(second.low) - top };
  return svg("rect", { x: left, y: top, ...size, class: "own" });
}

function border(range, x, y) {
  const lines = [];
  const numbers = [];
  for (const { governor, points, ended } of range.stretches) {
    const path = points.map(([a, b], k) => `${k ? "L" : "M"}${x.place(a).toFixed(1)} ${y.place(b).toFixed(1)}`).join("");
    if (!ended) lines.push(svg("path", { d: path, class: "usable-halo" }));
    lines.push(svg("path", { d: path, class: `usable governor-${governor % 6}${ended ? " ended" : ""}` }));
    if (ended) continue;
    const [a, b] = points[Math.floor(points.length / 2)];
    numbers.push([x.place(a), y.place(b), governor]);
  }
  return [...lines, ...apart(numbers).map(badge)];
}

const CLOSE = 26;

/** Of the numbers of one governor that would lie on each other, one is enough. */
function apart(numbers) {
  return numbers.filter(
    ([a, b, own], k) =>
      !numbers.slice(0, k).some(([c, d, other]) => other === own && Math.hypot(a - c, b - d) < CLOSE),
  );
}
