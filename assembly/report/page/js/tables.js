// Tables: rows that lead to the machine, a filter by part, more rows on demand, and a copy for a spreadsheet.

import { calm, element } from "./dom.js";

/** Make the rows with a pair or a setting lead there; `go` gets the row. */
export function bindRows(root, go) {
  for (const row of root.querySelectorAll("[data-pair], [data-setting]")) {
    const cell = row.querySelector(".leads") ?? row;
    const button = element("button", { type: "button", class: "lead" });
    button.append(...cell.childNodes);
    cell.append(button);
    row.classList.add("leading");
    row.addEventListener("click", () => {
      if (getSelection().isCollapsed) go(row);
    });
  }
}

/** Mark the row of the pair that is looked at. */
export function markPair(root, pair) {
  for (const row of root.querySelectorAll("[data-pair]")) {
    const on = Number(row.dataset.pair) === pair;
    row.classList.toggle("chosen", on);
    row.querySelector("button.lead")?.setAttribute("aria-pressed", on);
  }
}

/** Mark the row that leads to a setting; null marks none. */
export function markSetting(root, chosen) {
  for (const row of root.querySelectorAll("[data-setting]")) {
    row.classList.toggle("chosen", row === chosen);
    row.querySelector("button.lead")?.setAttribute("aria-pressed", row === chosen);
  }
}

/** Back to the row that led to the view. */
export function leadBack(row) {
  row.scrollIntoView({ block: "center", behavior: calm() ? "auto" : "smooth" });
  row.querySelector("button.lead")?.focus({ preventScroll: true });
}

/** A filter by words over the rows of a table, and a button for the rows that are kept back at first. */
export function bindFilter(table, field, more, told) {
  const rows = [...table.tBodies[0].rows];
  const most = Number(table.dataset.most) || rows.length;
  let all = false;
  const texts = rows.map((row) => row.textContent.toLowerCase());
  const show = () => {
    const words = field.value.toLowerCase().split(/\s+/).filter(Boolean);
    const fits = texts.map((text) => words.every((word) => text.includes(word)));
    let count = 0;
    rows.forEach((row, index) => {
      row.hidden = !fits[index] || (!all && !words.length && count >= most);
      if (fits[index]) count += 1;
    });
    const shown = rows.filter((row) => !row.hidden).length;
    told.textContent = `${shown} of ${rows.length} shown`;
    more.hidden = shown === count;
    more.textContent = `Show all ${count}`;
  };
  field.addEventListener("input", show);
  more.addEventListener("click", () => {
    all = true;
    show();
  });
  show();
}

/** The rows of a table that are shown, tabs between cells, as a spreadsheet takes them. */
export function tabbed(table) {
  const rows = [...table.rows].filter((row) => !row.hidden);
  const cell = (one) => one.textContent.replace(/\s+/g, " ").trim();
  return rows.map((row) => [...row.cells].map(cell).join("\t")).join("\n");
}

/** Buttons that copy the table they belong to. */
export function bindCopying(root) {
  for (const button of root.querySelectorAll("button[data-copies]")) {
    const label = button.textContent;
    button.hidden = false;
    button.addEventListener("click", async () => {
      const done = await copied(tabbed(document.getElementById(button.dataset.copies)));
      button.textContent = done ? "Copied" : "Not allowed here: select the table by hand";
      setTimeout(() => (button.textContent = label), 1800);
    });
  }
}

async function copied(text) {
  try {
    await navigator.clipboard.writeText(text);
    return true;
  } catch {
    const field = element("textarea", { class: "off-screen" });
    field.value = text;
    document.body.append(field);
    field.select();
    const done = document.execCommand("copy");
    field.remove();
    return done;
  }
}
