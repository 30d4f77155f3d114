// The map over two drives, or the curve over one: what was measured and proven, read by pointer, thumb or keys.

import { element } from "./dom.js";
import { drawCurve } from "./curve.js";
import { drawField } from "./field.js";
import { settingText } from "./words.js";

export class ClearanceMap {
  constructor(box, data, drives, state) {
    Object.assign(this, { data, drives, state });
    this.sheet = box.querySelector("svg");
    this.told = box.querySelector(".reading");
    this.of = box.querySelector(".slice");
    this.slice = null;
    data.worstSlice = data.worst ? this.nearest(data.worst) : null;
    this.bubble = element("p", { class: "at-finger", hidden: "" });
    this.sheet.parentElement.append(this.bubble);
    state.listen(() => this.follow());
    this.sheet.addEventListener("pointermove", (event) => this.read(event));
    this.sheet.addEventListener("pointerleave", () => this.tell(this.cellOf(state.setting)));
    this.sheet.addEventListener("click", (event) => this.go(event));
    this.sheet.addEventListener("keydown", (event) => this.step(event));
    this.follow();
  }

  /** The slice that is nearest to where the drives stand that it holds. */
  nearest(setting = this.state.setting) {
    const away = ({ held }) =>
      held.reduce((sum, [drive, value]) => {
        const { low, high } = this.drives[drive];
        return sum + Math.abs(setting[drive] - value) / (high - low || 1);
      }, 0);
    return this.data.slices.reduce((best, slice) => (away(slice) < away(best) ? slice : best));
  }

  follow() {
    const slice = this.nearest();
    if (slice !== this.slice) {
      this.slice = slice;
      this.sheet.replaceChildren();
      const draw = this.data.free.length === 1 ? drawCurve : drawField;
      this.plot = draw(this.sheet, this.data, slice, this.drives);
      this.of.textContent = slice.title;
      this.cross = this.plot.marker();
      this.sheet.append(this.cross);
    }
    const at = this.data.free.map((drive) => this.state.setting[drive]);
    this.plot.mark(this.cross, at);
    this.tell(this.cellOf(this.state.setting));
  }

  /** Number of the cell that a whole setting lies in, -1 outside. */
  cellOf(setting) {
    return this.data.free.reduce((number, drive, k) => {
      const { low, high } = this.drives[drive];
      const count = this.data.counts[k];
      const place = ((setting[drive] - low) / (high - low || 1)) * count;
      if (number < 0 || place < -1e-9 || place > count + 1e-9) return -1;
      return number * count + Math.min(count - 1, Math.max(0, Math.floor(place)));
    }, 0);
  }

  /** The setting at the pointer, inside the drives' ranges; null outside of the map. */
  settingAt(event) {
    const box = this.sheet.getBoundingClientRect();
    const view = this.sheet.viewBox.baseVal;
    const x = view.x + ((event.clientX - box.left) / box.width) * view.width;
    const y = view.y + ((event.clientY - box.top) / box.height) * view.height;
    const setting = [...this.state.setting];
    const values = this.plot.values(x, y);
    if (values === null) return null;
    this.data.free.forEach((drive, k) => (setting[drive] = values[k]));
    return setting;
  }

  read(event) {
    const setting = this.settingAt(event);
    this.tell(setting ? this.cellOf(setting) : this.cellOf(this.state.setting));
  }

  go(event) {
    const setting = this.settingAt(event);
    if (setting === null || this.cellOf(setting) < 0) return;
    this.state.choose(-1);
    this.state.moveTo(setting);
    this.sayAt(event);
  }

  /** Say beside the finger what it has set; the mouse has the line below in sight. */
  sayAt({ clientX, clientY, pointerType }) {
    if (pointerType === "mouse") return;
    const box = this.sheet.parentElement.getBoundingClientRect();
    this.bubble.hidden = false;
    this.bubble.textContent = this.told.textContent;
    const left = Math.min(Math.max(0, clientX - box.left - 60), box.width - this.bubble.offsetWidth);
    const above = clientY - box.top - this.bubble.offsetHeight - 26;
    this.bubble.style.left = `${left}px`;
    this.bubble.style.top = `${above > 0 ? above : clientY - box.top + 26}px`;
    clearTimeout(this.fading);
    this.fading = setTimeout(() => (this.bubble.hidden = true), 4000);
  }

  step(event) {
    const ways = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowDown: [1, -1], ArrowUp: [1, 1] };
    const [k, way] = ways[event.key] ?? [];
    const drive = this.data.free[k];
    if (drive === undefined) return;
    event.preventDefault();
    const { low, high } = this.drives[drive];
    const next = this.state.setting[drive] + (way * (high - low)) / this.data.counts[k];
    this.state.choose(-1);
    this.state.moveDrive(drive, Math.min(high, Math.max(low, next)));
  }

  tell(cell) {
    const { slice, data } = this;
    if (cell < 0) {
      this.told.textContent = "outside of the file's range";
      return;
    }
    const at = this.middleOf(cell);
    const names = slice.owner[cell] < 0 ? "" : data.pairs[slice.owner[cell]];
    const sure = slice.step[cell] === 0 ? "" : `; in the whole square proven nowhere below ${slice.proven[cell]} mm`;
    const proven = slice.proven[cell] === null ? "; nothing proven" : sure;
    this.told.replaceChildren(
      element("b", {}, slice.least[cell]),
      ` ${names ? `${names}, ` : ""}at ${at}${proven}`,
    );
  }

  middleOf(cell) {
    const { free, counts } = this.data;
    const values = [];
    for (let k = free.length - 1, rest = cell; k >= 0; k--) {
      const { low, high } = this.drives[free[k]];
      values[k] = low + ((rest % counts[k]) + 0.5) * ((high - low) / counts[k]);
      rest = Math.floor(rest / counts[k]);
    }
    return settingText(free.map((drive) => this.drives[drive]), values);
  }
}
