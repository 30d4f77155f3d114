// The machine as triangles: one group per body that moves as one, in it the faces and edges of each part.

import { BufferAttribute, BufferGeometry, Group, LineSegments, Mesh } from "three";
import { colour } from "./dom.js";
import { edgePaint, facePaint, mix } from "./paint.js";
import { NUMBERS } from "./poses.js";
import { numbersAt } from "./unpack.js";

const GHOST = 0.15;
const TINTS = 6; // --tint-0 is for what stands still, the others go round over the bodies

export class Machine {
  constructor(data, buffer) {
    this.group = new Group();
    this.bodies = data.bodies.map(() => new Group());
    this.group.add(...this.bodies);
    this.parts = data.parts.map((part) => new Part(part, buffer, this.bodies[part.body]));
    this.overlaps = data.overlaps.map((solid) => new Part({ ...solid, body: 0 }, buffer, this.group));
    for (const overlap of this.overlaps) overlap.onTop();
    this.pair = null;
    this.repaint();
  }

  /** Put every body where `places` says. */
  place(places) {
    this.bodies.forEach((body, index) => {
      const at = index * NUMBERS;
      body.position.set(places[at], places[at + 1], places[at + 2]);
      body.quaternion.set(places[at + 3], places[at + 4], places[at + 5], places[at + 6]);
    });
    this.group.updateMatrixWorld(true);
  }

  /** Bring out the parts `first` and `second` and, where there is one, the solid that both claim. */
  bringOut(pair) {
    this.pair = pair;
    this.repaint();
  }

  /** Colours and ghosts anew, after a change of the pair, of what is hidden, or of the page's colours. */
  repaint() {
    const pair = this.pair;
    const lines = { "": colour("--edge"), rest: colour("--edge"), first: colour("--pair-edge"), second: colour("--pair-edge") };
    for (const part of this.parts) {
      const role = pair === null ? "" : part.name === pair.a ? "first" : part.name === pair.b ? "second" : "rest";
      const tint = part.body === 0 ? 0 : 1 + ((part.body - 1) % (TINTS - 1));
      const name = role === "first" || role === "second" ? `--${role}` : `--tint-${tint}`;
      part.show(colour(name), lines[role], role === "rest" && part.wish === "shown" ? "ghost" : part.wish);
    }
    this.overlaps.forEach((overlap, index) => {
      overlap.show(colour("--overlap"), colour("--overlap-edge"), pair?.overlap === index ? "shown" : "hidden");
    });
  }

  /** Draw in full, or with fewer triangles and no edges while the machine moves. */
  inFull(wanted) {
    for (const part of this.parts) part.inFull(wanted);
  }

  /** Triangles of all parts in full. */
  get triangles() {
    return this.parts.reduce((sum, part) => sum + part.full.index.count / 3, 0);
  }
}

class Part {
  constructor({ name, body, low, size, vertices, index, lines, rough, shapes }, buffer, into) {
    Object.assign(this, { name, body, shapes, wish: "shown" });
    const corners = (place) => new BufferAttribute(numbersAt(buffer, place), 3, true);
    const position = corners(vertices);
    this.full = geometry(position, numbersAt(buffer, index));
    this.rough = rough ? geometry(corners(rough.vertices), numbersAt(buffer, rough.index)) : this.full;
    this.faces = new Mesh(this.full, facePaint());
    this.edges = new LineSegments(geometry(position, numbersAt(buffer, lines)), edgePaint());
    for (const drawn of [this.faces, this.edges]) {
      drawn.position.set(...low);
      drawn.scale.set(...size.map((length) => length || 1));
      into.add(drawn);
    }
    this.faces.userData.part = this;
  }

  /** Drawn over everything else, so that what is swallowed is seen. */
  onTop() {
    for (const [order, drawn] of [this.faces, this.edges].entries()) {
      drawn.material.depthTest = false;
      drawn.renderOrder = 5 + order;
    }
  }

  show(fill, line, how) {
    this.faces.visible = this.edges.visible = how !== "hidden";
    const opacity = how === "ghost" ? GHOST : 1;
    mix(this.faces.material, fill, opacity);
    mix(this.edges.material, line, how === "ghost" ? 0.3 : 0.75);
    this.faces.renderOrder = this.faces.material.depthTest ? (how === "ghost" ? 2 : 0) : this.faces.renderOrder;
    this.solid = how === "shown";
  }

  inFull(wanted) {
    this.faces.geometry = wanted ? this.full : this.rough;
    this.edges.visible = wanted && this.faces.visible;
  }

  /** Which of the part's shapes the triangle `face` belongs to. */
  shapeAt(face) {
    return this.shapes.findLast(([, first]) => first <= face)?.[0] ?? "";
  }
}

function geometry(position, index) {
  const made = new BufferGeometry();
  made.setAttribute("position", position);
  made.setIndex(new BufferAttribute(index, 1));
  return made;
}
