// Numbers that the thumb sets, written as the report writes them (report/words.py).

/** A drive's value with its sign; 0 has none. */
export function signed(value, digits = 2) {
  const rounded = Number(value.toFixed(digits)) + 0;
  const text = String(Math.abs(rounded));
  return rounded === 0 ? "0" : `${rounded < 0 ? "−" : "+"}${text}`;
}

/** All drives at one setting. */
export function settingText(drives, setting) {
  return drives.map((drive, k) => `${drive.name} ${signed(setting[k])}${drive.sign}`).join(", ");
}

/** The distance of a pair at a setting that was checked, said as such where another one is shown. */
export function checkedText(names, { at, reached, struck, hundredths }, setting, drives) {
  const figure = struck ? "they strike" : reached ? `${(hundredths / 100).toFixed(2)} mm` : "cannot be put together";
  const same = at.every((value, drive) => Math.abs(value - setting[drive]) < 1e-9);
  return same ? `${names} at ${settingText(drives, at)}: ${figure}` : `${names}: ${figure} at the nearest checked setting, ${settingText(drives, at)}`;
}
