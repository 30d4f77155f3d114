// The gap of the pair that is looked at: a line from part to part with its millimetres, over the view.

import { svg } from "./dom.js";

const AWAY = 26; // pixels from the line to its figure
const MARGIN = 6; // pixels that the figure keeps from the edge of the view

export class GapLine {
  constructor(sheet) {
    this.halo = svg("line", { class: "gap-halo" });
    this.line = svg("line", { class: "gap-line" });
    this.ends = [svg("circle", { r: 4, class: "gap-end" }), svg("circle", { r: 4, class: "gap-end" })];
    this.leader = svg("line", { class: "gap-leader" });
    this.label = svg("text", { class: "gap-label" });
    sheet.append(this.leader, this.halo, this.line, ...this.ends, this.label);
    this.sheet = sheet;
    this.show(null);
  }

  /** Two points of the world and what to write beside them; null takes the line away. */
  show(points, text = "") {
    this.points = points;
    this.label.textContent = text;
    this.sheet.classList.toggle("empty", points === null);
  }

  /** Put the line where its points are seen through `view`. */
  draw(view) {
    if (this.points === null) return;
    const [[ax, ay], [bx, by]] = this.points.map((point) => view.seen(point));
    for (const line of [this.halo, this.line]) put(line, { x1: ax, y1: ay, x2: bx, y2: by });
    put(this.ends[0], { cx: ax, cy: ay });
    put(this.ends[1], { cx: bx, cy: by });
    const middle = [(ax + bx) / 2, (ay + by) / 2];
    const length = Math.hypot(bx - ax, by - ay);
    const aside = length > 1 ? [(by - ay) / length, (ax - bx) / length] : [0.7, -0.7];
    const up = aside[1] > 0 ? -1 : 1;
    const at = [middle[0] + up * aside[0] * AWAY, middle[1] + up * aside[1] * AWAY];
    put(this.leader, { x1: middle[0], y1: middle[1], x2: at[0], y2: at[1] });
    const ends = at[0] < middle[0] - 4;
    put(this.label, { x: this.inside(at[0], ends), y: at[1], "text-anchor": ends ? "end" : "start" });
  }

  /** The place for the figure, which `ends` or begins at `x`, so that none of it is cut off at the sides. */
  inside(x, ends) {
    const wide = this.label.getComputedTextLength();
    const last = this.sheet.parentElement.clientWidth - MARGIN;
    return ends ? Math.max(x, MARGIN + wide) : Math.min(x, last - wide);
  }
}

function put(shape, places) {
  for (const [name, value] of Object.entries(places)) {
    shape.setAttribute(name, typeof value === "number" ? value.toFixed(1) : value);
  }
}
