// One slider per drive. They move the machine; the line below says how true what is shown is.

import { signed } from "./words.js";

const FINE = 200; // steps of a slider by the keyboard

/** Bind the sliders in `box` to the state. */
export function bindSliders(box, drives, state) {
  const rows = [...box.querySelectorAll("[data-drive]")].map((row) => ({
    slider: row.querySelector("input"),
    reading: row.querySelector("output"),
  }));
  rows.forEach(({ slider }, drive) => {
    slider.disabled = false;
    slider.addEventListener("input", () => state.moveDrive(drive, Number(slider.value)));
    let before = null; // what a finger found that then scrolled the page
    slider.addEventListener("pointerdown", () => (before = [...state.setting]));
    slider.addEventListener("pointercancel", () => {
      if (before !== null) state.moveTo(before);
      before = null;
    });
    slider.addEventListener("keydown", (event) => {
      const step = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -10, PageUp: 10 }[event.key];
      if (step === undefined) return;
      event.preventDefault();
      const { low, high } = drives[drive];
      const next = Number(slider.value) + (step * (high - low)) / FINE;
      state.moveDrive(drive, Math.min(high, Math.max(low, next)));
    });
  });
  const show = () =>
    rows.forEach(({ slider, reading }, drive) => {
      slider.value = state.setting[drive];
      const text = `${signed(state.setting[drive])}${drives[drive].sign}`;
      reading.textContent = text;
      slider.setAttribute("aria-valuetext", text);
    });
  state.listen(show);
  show();
}
