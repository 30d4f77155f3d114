// Where every body stands at a setting: the same mixing of solved poses as in studies/pose_table.py.

export const NUMBERS = 7; // of one body: reference point x, y, z in mm, then its turn as a quaternion x, y, z, w

/** A table of solved poses over the drives; `axes` are {low, high, count}, the last one quickest. */
export class PoseTable {
  constructor(axes, places, reached, bodies) {
    Object.assign(this, { axes, places, reached, bodies });
  }

  /** Places of all bodies at `setting`, or null where a pose that is needed could not be put together. */
  at(setting) {
    const corners = this.corners(setting);
    if (corners.some(([row]) => !this.reached[row])) return null;
    const places = new Float64Array(this.bodies * NUMBERS);
    for (let body = 0; body < this.bodies; body++) mixBody(this, corners, body, places);
    return places;
  }

  /** Rows of the table round `setting`, each with its share above 0; the shares add up to 1. */
  corners(setting) {
    let corners = [[0, 1]];
    this.axes.forEach((axis, drive) => {
      const place = ((setting[drive] - axis.low) / (axis.high - axis.low || 1)) * (axis.count - 1);
      const cell = Math.min(Math.max(Math.floor(place), 0), Math.max(0, axis.count - 2));
      const part = Math.min(Math.max(place - cell, 0), 1);
      corners = corners.flatMap(([row, share]) => [
        [row * axis.count + cell, share * (1 - part)],
        [row * axis.count + Math.min(cell + 1, axis.count - 1), share * part],
      ]);
    });
    return corners.filter(([, share]) => share > 0);
  }
}

function mixBody({ places, bodies }, corners, body, into) {
  const start = (row) => (row * bodies + body) * NUMBERS;
  const first = start(corners[0][0]);
  const out = body * NUMBERS;
  for (const [row, share] of corners) {
    const from = start(row);
    let along = 0;
    for (let k = 3; k < NUMBERS; k++) along += places[from + k] * places[first + k];
    const sign = along < 0 ? -share : share;
    for (let k = 0; k < 3; k++) into[out + k] += share * places[from + k];
    for (let k = 3; k < NUMBERS; k++) into[out + k] += sign * places[from + k];
  }
  const length = Math.hypot(...into.subarray(out + 3, out + NUMBERS));
  for (let k = 3; k < NUMBERS; k++) into[out + k] /= length;
}

const UNREACHED = 2 ** 32 - 1;
const STRUCK = 2 ** 32 - 2; // as in view_pairs.py

/** Distances of pairs at the settings of a grid, in hundredths of a millimetre; nothing is known in between. */
export class CheckedDistances {
  constructor({ axes, pairs }, values) {
    Object.assign(this, { axes, pairs, values });
  }

  /** The setting of the grid that is nearest to `setting`, and what is known of the pair there; null if it is not in it. */
  near(pair, setting) {
    const row = this.pairs.indexOf(pair);
    if (row < 0) return null;
    let place = row;
    const at = this.axes.map((values, drive) => {
      const away = values.map((value) => Math.abs(value - setting[drive]));
      const number = away.indexOf(Math.min(...away));
      place = place * values.length + number;
      return values[number];
    });
    const value = this.values[place];
    return { at, reached: value !== UNREACHED, struck: value === STRUCK, hundredths: value };
  }
}

/** Poses that were solved at settings of their own. */
export class SolvedPoses {
  constructor(settings, places, bodies) {
    Object.assign(this, { settings, places, bodies });
  }

  /** Places of all bodies where `setting` is exactly one of those solved, else null. */
  at(setting) {
    const row = this.settings.findIndex((known) => known.every((value, drive) => value === setting[drive]));
    const size = this.bodies * NUMBERS;
    return row < 0 ? null : this.places.subarray(row * size, (row + 1) * size);
  }
}
