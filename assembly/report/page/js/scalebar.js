// A bar of a round length, so that sizes can be read off the view.

const WIDEST = 150; // pixels

/** Keeps `bar` and its `label` true to the view's scale. */
export function drawScale(view, bar, label) {
  const most = WIDEST * view.pixel;
  const ten = 10 ** Math.floor(Math.log10(most));
  const length = [5, 2, 1].map((digit) => digit * ten).find((fits) => fits <= most);
  bar.style.width = `${(length / view.pixel).toFixed(1)}px`;
  label.textContent = `${length} mm`;
}
