// Small helpers for elements. Text from the machine's file only ever becomes text, never markup.

const SVG = "http://www.w3.org/2000/svg";

/** A new element with attributes and children; strings become text. */
export function element(name, attributes = {}, ...children) {
  return filled(document.createElement(name), attributes, children);
}

/** The same for a picture in the page. */
export function svg(name, attributes = {}, ...children) {
  return filled(document.createElementNS(SVG, name), attributes, children);
}

function filled(made, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

/** A colour of the page's sheet of colours, as three shares of 1. */
export function colour(name) {
  const text = getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  return [1, 3, 5].map((start) => parseInt(text.slice(start, start + 2), 16) / 255);
}

export const calm = () => matchMedia("(prefers-reduced-motion: reduce)").matches;
