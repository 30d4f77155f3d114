// What the page shows just now: the drives' setting and the pair that is looked at. Whoever wants to know is told.

export class State {
  constructor(setting) {
    this.setting = setting;
    this.pair = -1;
    this.marked = null; // two parts that are brought out though they are no pair, as those of a joint
    this.listeners = [];
  }

  /** Call `listener(state, what)` after each change; `what` is "setting" or "pair". */
  listen(listener) {
    this.listeners.push(listener);
  }

  moveTo(setting) {
    this.setting = [...setting];
    this.tell("setting");
  }

  moveDrive(drive, value) {
    this.moveTo(this.setting.map((old, index) => (index === drive ? value : old)));
  }

  choose(pair) {
    this.pair = pair;
    this.marked = null;
    this.tell("pair");
  }

  /** Bring out the parts `a` and `b`, and say `names` of them. */
  mark(marked) {
    this.pair = -1;
    this.marked = marked;
    this.tell("pair");
  }

  tell(what) {
    for (const listener of this.listeners) listener(this, what);
  }
}
