// The machine as triangles: one group per body that moves as one, in it the faces and edges of each part.

import { BufferAttribute, BufferGeometry, Group, LineSegments, Mesh } from "three";
import { colour } from "./dom.js";
import { edgePaint, facePaint, lay, mix, outline, wideLines } from "./paint.js";
import { NUMBERS } from "./poses.js";
import { numbersAt } from "./unpack.js";

const FAINT = 0.15;
const FAINT_EDGE = 0.6;
const VEIL = 0.16; // of what stands before the pair
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

  /** All colours anew, after a change of the pair, of what is hidden, or of the page's colours. */
  repaint() {
    const pair = this.pair;
    const lines = { "": colour("--edge"), rest: colour("--rest-edge"), first: colour("--pair-edge"), second: colour("--pair-edge") };
    for (const part of this.parts) {
      const role = pair === null ? "" : part.name === pair.a ? "first" : part.name === pair.b ? "second" : "rest";
      const tint = part.body === 0 ? 0 : 1 + ((part.body - 1) % (TINTS - 1));
      part.show(colour(role ? `--${role}` : `--tint-${tint}`), lines[role], part.wish, role);
    }
    this.overlaps.forEach((overlap, index) => {
      overlap.show(colour("--overlap"), colour("--overlap-edge"), pair?.overlap === index ? "shown" : "hidden", "");
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
    this.veil = new Mesh(this.full, facePaint());
    this.edges = new LineSegments(wideLines(position, new BufferAttribute(numbersAt(buffer, lines), 1)), edgePaint());
    for (const drawn of [this.faces, this.veil, this.edges]) {
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

  /** `role`: "first" and "second" are the pair, before which the "rest" is a veil; "" where there is no pair. */
  show(fill, line, how, role) {
    const faint = how === "faint";
    const rest = role === "rest";
    this.faces.visible = this.edges.visible = how !== "hidden";
    this.veil.visible = rest && how === "shown";
    mix(this.faces.material, fill, faint ? FAINT : 1);
    mix(this.veil.material, fill, VEIL);
    mix(this.edges.material, line, faint ? FAINT_EDGE : 1);
    for (const faces of [this.faces, this.veil]) outline(faces.material, line);
    lay(this.veil.material, "over");
    lay(this.edges.material, rest && !faint ? "beside" : "all");
    lay(this.faces.material, role === "" || faint ? "all" : rest ? "beside" : "marks");
    if (this.faces.material.depthTest) {
      this.faces.renderOrder = faint ? 3 : rest ? 1 : 0;
      this.edges.renderOrder = 2;
      this.veil.renderOrder = 3;
    }
    this.solid = how === "shown";
  }

  inFull(wanted) {
    this.faces.geometry = this.veil.geometry = wanted ? this.full : this.rough;
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
