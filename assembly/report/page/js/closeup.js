// From where a pair is seen best at its closest pose: square to its gap, with neither of the two in the way.

import { Vector3 } from "three";

const WAYS_ROUND = 16;
const NARROWEST = 110; // mm from edge to edge
const GAPS = 7; // the view is at least so many gaps high

/** Fly to the middle of two points; `axis` runs across the gap, or out of the overlap. */
export function flyToGap(view, points, axis, parts) {
  const [one, other] = points.map((point) => new Vector3(...point));
  const middle = one.clone().add(other).multiplyScalar(0.5);
  const across = new Vector3(...axis);
  const now = view.camera.position.clone().sub(view.controls.target).normalize();
  view.fly(middle, clearest(view, middle, across, now, parts), Math.max(NARROWEST, GAPS * one.distanceTo(other)));
}

function clearest(view, middle, across, now, parts) {
  const square = across.lengthSq() > 1e-9 ? now.clone().addScaledVector(across.normalize(), -now.dot(across)) : now;
  if (square.lengthSq() < 1e-3) square.crossVectors(across, Math.abs(across.z) > 0.9 ? X : Z);
  const start = square.normalize();
  const ways = Array.from({ length: WAYS_ROUND }, (_, k) =>
    start.clone().applyAxisAngle(across, (2 * Math.PI * k) / WAYS_ROUND),
  ).filter((way) => way.z > -0.5);
  ways.sort((a, b) => b.dot(now) - a.dot(now));
  return ways.find((way) => !view.hides(parts, middle, way)) ?? ways[0] ?? start;
}

const X = new Vector3(1, 0, 0);
const Z = new Vector3(0, 0, 1);
