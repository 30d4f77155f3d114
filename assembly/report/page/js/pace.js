// How much can be drawn while things move: fewer triangles, then a smaller picture, until the view keeps up.

const SLOW_MS = 26;
const QUICK_MS = 18.5;
const SMALLEST = 0.4;
const FRAMES = 4; // are looked at together
const MANY = 60_000; // triangles: with more, one begins with the coarse parts

export class Pace {
  constructor(triangles) {
    this.scale = 1; // of the picture's sides
    this.inFull = triangles < MANY; // all triangles, and edges
    this.tried = this.inFull;
    this.times = [];
  }

  /** A pause is no slow frame. */
  pause() {
    this.last = undefined;
    this.times = [];
  }

  /** A frame was drawn at the time `now`, in ms. */
  frame(now) {
    if (this.last !== undefined) this.times.push(now - this.last);
    this.last = now;
    if (this.times.length < FRAMES) return;
    const middle = this.times.toSorted((a, b) => a - b)[FRAMES / 2];
    this.times = [];
    if (middle > SLOW_MS) this.less();
    else if (middle < QUICK_MS) this.more();
  }

  less() {
    if (this.inFull) this.inFull = false;
    else this.scale = Math.max(SMALLEST, this.scale * 0.75);
  }

  /** In full is tried once: what was too slow before will be so again. */
  more() {
    if (this.scale < 1) this.scale = Math.min(1, this.scale * 1.1);
    else if (!this.tried) this.tried = this.inFull = true;
  }
}
