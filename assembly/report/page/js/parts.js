// The list of parts: each shown, faint, or hidden; its name where the pointer is.

const WISHES = ["shown", "faint", "hidden"];

/** Bind the list of parts in `box` to the machine; `changed` is called after each wish. */
export function bindParts(box, machine, changed) {
  const rows = [...box.querySelectorAll("[data-part]")];
  rows.forEach((row, index) => {
    for (const choice of row.querySelectorAll("input")) {
      choice.disabled = false;
      choice.addEventListener("change", () => {
        machine.parts[index].wish = choice.value;
        changed();
      });
    }
  });
  for (const button of box.querySelectorAll("[data-all]")) {
    button.addEventListener("click", () => {
      rows.forEach((row, index) => {
        if (row.hidden) return;
        machine.parts[index].wish = button.dataset.all;
        row.querySelector(`input[value=${button.dataset.all}]`).checked = true;
      });
      changed();
    });
  }
}

/** Name what is under the pointer in `tag`, and let a click on a part make it faint. */
export function bindNaming(view, tag, list) {
  const { canvas } = view;
  let asked = null;
  const look = (event) => {
    asked = null;
    const box = canvas.getBoundingClientRect();
    const [x, y] = [event.clientX - box.left, event.clientY - box.top];
    const found = view.under((2 * x) / box.width - 1, 1 - (2 * y) / box.height);
    tag.hidden = found === null;
    if (found === null) return;
    const shape = found.part.shapeAt(found.face);
    tag.textContent = shape && shape !== found.part.name ? `${found.part.name} (${shape})` : found.part.name;
    tag.style.left = `${Math.min(x + 14, box.width - tag.offsetWidth - 4)}px`;
    tag.style.top = `${Math.max(4, y - tag.offsetHeight - 10)}px`;
  };
  canvas.addEventListener("pointermove", (event) => {
    if (event.buttons) tag.hidden = true;
    else asked ??= requestAnimationFrame(() => look(event));
  });
  canvas.addEventListener("pointerleave", () => (tag.hidden = true));
  let pressed = null;
  canvas.addEventListener("pointerdown", (event) => (pressed = [event.clientX, event.clientY]));
  canvas.addEventListener("pointerup", (event) => {
    if (pressed && Math.hypot(event.clientX - pressed[0], event.clientY - pressed[1]) < 5) look(event);
  });
  canvas.addEventListener("dblclick", (event) => {
    const box = canvas.getBoundingClientRect();
    const [x, y] = [event.clientX - box.left, event.clientY - box.top];
    const found = view.under((2 * x) / box.width - 1, 1 - (2 * y) / box.height);
    if (!found) return;
    const row = list.querySelectorAll("[data-part]")[view.machine.parts.indexOf(found.part)];
    const next = row.querySelector(`input[value=${WISHES[1]}]`);
    next.checked = true;
    next.dispatchEvent(new Event("change"));
  });
}
