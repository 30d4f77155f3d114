// The page comes alive: everything that it shows is already in it; nothing is fetched and nothing computed but poses.

import { Vector3 } from "three";
import { flyToGap } from "./closeup.js";
import { calm } from "./dom.js";
import { GapLine } from "./gap.js";
import { Machine } from "./machine.js";
import { ClearanceMap } from "./map.js";
import { bindNaming, bindParts } from "./parts.js";
import { CheckedDistances, PoseTable, SolvedPoses } from "./poses.js";
import { drawScale } from "./scalebar.js";
import { bindSliders } from "./sliders.js";
import { State } from "./state.js";
import { bindCopying, bindFilter, bindRows, leadBack, markPair, markSetting } from "./tables.js";
import { inflated, numbersAt } from "./unpack.js";
import { View } from "./view.js";
import { checkedText, settingText } from "./words.js";

const SIGHTS = {
  corner: [0.72, 0.56, 0.42],
  front: [1, 0, 0],
  left: [0, 1, 0],
  right: [0, -1, 0],
  rear: [-1, 0, 0],
  top: [0.001, 0, 1],
};

const find = (selector) => document.querySelector(selector);

async function start() {
  const data = JSON.parse(find("#page-data").textContent);
  const rest = data.drives.map(({ low, high }) => Math.min(high, Math.max(low, 0)));
  const state = new State(rest);
  bindCopying(document);
  bindFilters();
  bindSliders(find("#drives"), data.drives, state);
  if (data.map) new ClearanceMap(find("#map"), data.map, data.drives, state);
  const bench = data.parts.length ? await lift(data, state) : leftOut();
  bindRows(document, (row) => follow(row, data, state));
  state.listen(() => markPair(document, state.pair));
  state.listen(() => state.marked === null && markSetting(document, null));
  if (data.pairs.length) go({ pair: "0" }, data, state, false);
  else state.moveTo(rest);
  window.swingroom = { data, state, ...bench };
  document.documentElement.classList.add("ready");
}

/** A page that was made without the machine, for lack of time: what stands in its place is shown. */
function leftOut() {
  document.documentElement.classList.add("no-view");
  return {};
}

/** Put the machine into its view. Where the browser cannot draw it, the pictures stay. */
async function lift(data, state) {
  const buffer = await inflated(find("#page-numbers").textContent);
  const poses = posesOf(data, buffer);
  let view;
  try {
    const machine = new Machine(data, buffer);
    view = new View(find("#view canvas"), machine);
  } catch (error) {
    document.documentElement.classList.add("no-view");
    return { poses, trouble: String(error) };
  }
  const gap = new GapLine(find("#view svg"));
  view.afterDrawing.push(
    () => gap.draw(view),
    () => drawScale(view, find("#view .scale i"), find("#view .scale span")),
  );
  state.listen((_, what) => show(data, state, poses, view, gap, what));
  bindButtons(data, state, view);
  bindParts(find("#parts"), view.machine, () => {
    view.machine.repaint();
    view.ask();
  });
  bindNaming(view, find("#view .name-tag"), find("#parts"));
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
    view.machine.repaint();
    view.ask();
  });
  view.machine.place(poses.table.at(state.setting) ?? poses.solved.places);
  view.lookAtAll(cornerOf(data.pairs[0]), false);
  return { poses, view };
}

/** The corner to begin from: that on the side of the worst pair. */
function cornerOf(pair) {
  const [ahead, left, up] = SIGHTS.corner;
  return new Vector3(ahead, pair?.points && pair.points[0][1] < 0 ? -left : left, up);
}

function posesOf({ bodies, grid, solved, distances }, buffer) {
  const table = new PoseTable(grid.axes, numbersAt(buffer, grid.places), numbersAt(buffer, grid.reached), bodies.length);
  const checked = distances && new CheckedDistances(distances, numbersAt(buffer, distances.values));
  return { table, checked, solved: new SolvedPoses(solved.settings, numbersAt(buffer, solved.places), bodies.length) };
}

/** Bring the view to what the state says. */
function show(data, state, poses, view, gap, what) {
  const exact = poses.solved.at(state.setting);
  const places = exact ?? poses.table.at(state.setting);
  const words = find("#trust");
  words.dataset.is = exact ? "solved" : places ? "between" : "none";
  if (places) view.machine.place(places);
  const pair = state.pair < 0 ? state.marked : data.pairs[state.pair];
  const there = pair !== null && pair.at.every((value, drive) => value === state.setting[drive]);
  if (what === "pair" || view.there !== there) {
    view.there = there;
    view.machine.bringOut(pair === null ? null : { ...pair, overlap: there ? pair.overlap : -1 });
    gap.show(there ? pair.points : null, there ? pair.label : "");
    find("#looked-at-box").hidden = pair === null;
    find("#closer").hidden = state.pair < 0;
    if (pair === null) find("#back-to-row").hidden = true;
  }
  find("#looked-at").textContent = pair === null ? "" : told(pair, there, state, data.drives, poses.checked);
  if (what === "setting" && !there) view.keepInSight(important(view.machine, pair));
  view.moving();
}

/** What is looked at, and its figure at a setting that was checked: between these none is known. */
function told({ names, where, label, constant }, there, { pair, setting }, drives, distances) {
  if (!label) return there ? `${names} at ${where}` : names;
  if (there || constant) return `${names} at ${where}: ${label}`;
  const near = distances?.near(pair, setting);
  if (near) return checkedText(names, near, setting, drives);
  return `${names}: ${label.replace(" here", "")} holds at ${where}, not at the setting shown`;
}

/** What must not leave the view: the pair, or all. */
function important({ parts }, pair) {
  return parts.filter(({ name, faces }) => faces.visible && (pair === null || name === pair.a || name === pair.b));
}

/** Lead to where a row of a table or of a list leads, with the way back. */
function follow(row, data, state) {
  go(row.dataset, data, state);
  if (row.dataset.setting !== undefined) markSetting(document, row);
  const back = find("#back-to-row");
  back.textContent = row.closest("table") ? "back to the table" : "back to the list";
  back.hidden = false;
  back.onclick = () => leadBack(row);
}

/** Lead to a pair at its closest pose, or to a setting. */
function go(row, data, state, near = true) {
  if (row.pair !== undefined) {
    const pair = data.pairs[Number(row.pair)];
    state.setting = [...pair.at];
    state.choose(Number(row.pair));
    state.tell("setting");
    if (near) approach(data, state);
  } else {
    const at = JSON.parse(row.setting);
    state.moveTo(at);
    state.mark(jointOf(row, at, data));
  }
  const view = find("#view");
  if (near) (view.clientHeight ? view : find("#bench")).scrollIntoView({ block: "nearest", behavior: calm() ? "auto" : "smooth" });
}

/** The two parts of a joint at the setting `at`, as the view marks them. */
function jointOf({ first, second, joint }, at, { drives }) {
  const where = settingText(drives, at);
  return { a: first, b: second, at, where, names: `joint ${joint}, ${first} – ${second}`, points: null, overlap: -1, label: "" };
}

function approach(data, state) {
  const pair = data.pairs[state.pair];
  const { view } = window.swingroom ?? {};
  if (!view || !pair?.points) return;
  const parts = view.machine.parts.filter(({ name }) => name === pair.a || name === pair.b);
  flyToGap(view, pair.points, pair.axis, parts);
}

function bindButtons(data, state, view) {
  for (const button of document.querySelectorAll("[data-sight]")) {
    button.addEventListener("click", () => view.lookAtAll(new Vector3(...SIGHTS[button.dataset.sight]).normalize()));
  }
  find("#closer").addEventListener("click", () => {
    if (state.pair < 0) return;
    go({ pair: String(state.pair) }, data, state);
  });
  find("#all-parts").addEventListener("click", () => view.lookAtWhole());
  find("#to-rest").addEventListener("click", () => {
    state.choose(-1);
    state.moveTo(data.drives.map(({ low, high }) => Math.min(high, Math.max(low, 0))));
  });
  view.canvas.addEventListener("keydown", (event) => {
    const turn = { ArrowLeft: [-6, 0], ArrowRight: [6, 0], ArrowUp: [0, 6], ArrowDown: [0, -6] }[event.key];
    const zoom = { "+": 1.2, "=": 1.2, "-": 1 / 1.2 }[event.key];
    if (turn) view.turn(...turn);
    else if (zoom) view.zoom(zoom);
    else return;
    event.preventDefault();
  });
}

function bindFilters() {
  for (const field of document.querySelectorAll("input[data-filters]")) {
    const table = document.getElementById(field.dataset.filters);
    const box = field.closest("section");
    bindFilter(table, field, box.querySelector(".more"), box.querySelector(".counted"));
  }
}

document.documentElement.classList.add("js");
start().catch((error) => {
  document.documentElement.classList.add("no-view");
  console.error(error);
});
